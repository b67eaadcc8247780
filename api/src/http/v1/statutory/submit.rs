//! POST /statutory-windows/{id}/submission

use actix_web::{post, web};
use plumbline_core::{
    access::{
        act::{Publish, Read},
        resource::StatutoryWindow,
    },
    id::StatutoryWindowId,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{StatutoryWindowBody, unlocked};
use crate::http::{
    body::Body,
    caller::{Caller, same_version},
    problem::{Code, Problem},
    problems::EditProblems,
    reply::Reply,
};

/// That the results are as they are to be.
#[derive(Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"go_on_without": 0}))]
pub struct Submission {
    /// How many pupils have nothing entered and stay so: the number shown, or 0.
    #[serde(default)]
    pub go_on_without: usize,
}

/// Submit the results of a window
///
/// By the lead or the head, once it has opened. Locks them: a change is an amendment from then on. Pupils with nothing entered stay missing, and are in no denominator; it is refused while there are
/// any, unless their number is given. Nothing is sent anywhere: the return is the school's own.
#[utoipa::path(
    tag = "statutory check", operation_id = "submit_statutory_window", request_body = Submission,
    params(("id" = StatutoryWindowId, Path, description = "The window"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "Submitted; ETag", body = StatutoryWindowBody), EditProblems)
)]
#[post("/statutory-windows/{id}/submission")]
pub async fn submit_statutory_window(
    caller: Caller,
    id: web::Path<StatutoryWindowId>,
    body: Body<Submission>,
) -> Result<Reply, Problem> {
    let (base, asked) = (caller.base_version()?, body.value);
    caller
        .write("statutory_window.submit", move |tx| {
            tx.permit::<Read, _>(StatutoryWindow(*id))?;
            let permit = tx.permit::<Publish, _>(StatutoryWindow(*id))?;
            let row = tx.statutory_window(&permit)?;
            unlocked(&row)?;
            same_version(row.v, base)?;
            if tx.today() < row.opens_on {
                let message = format!("the window opens on {}: there is nothing to submit", row.opens_on);
                return Err(Problem::saying(Code::Conflict, message));
            }
            let left = tx.statutory_left(&permit)?;
            if left != asked.go_on_without {
                let pupils = if left == 1 { "1 pupil has".into() } else { format!("{left} pupils have") };
                let message = format!(
                    "{pupils} nothing entered: enter a mark or a code, or go on without them by this number"
                );
                return Err(Problem::field("go_on_without", message).with_code(Code::Conflict));
            }
            let row = tx.submit_statutory_window(&permit)?;
            Ok(Reply::ok(&StatutoryWindowBody::new(&row, tx.rules()?)?)?.version(row.v))
        })
        .await
}
