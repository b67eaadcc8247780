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
use crate::{
    http::{
        body::Body,
        caller::{Caller, same_version},
        problem::{Code, Problem},
        problems::EditProblems,
        reply::Reply,
    },
    store::{StatutoryPupil, StatutoryView},
};

/// That the results are as they are to be.
#[derive(Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"go_on_without": 0, "away_stay": false}))]
pub struct Submission {
    /// How many pupils have nothing entered and stay so: the number shown, or 0.
    #[serde(default)]
    pub go_on_without: usize,
    /// That pupils who were away stay so, where they could still be checked until the window's last day.
    #[serde(default)]
    pub away_stay: bool,
}

/// Submit the results of a window
///
/// By the lead or the head, once it has opened. Locks them: a change is an amendment from then on. Pupils with nothing entered stay missing, and are in no denominator; it is refused while there are
/// any, unless their number is given; and before the window's last day while pupils are entered as away who could still
/// be checked, unless it is said that they stay so. Nothing is sent anywhere: the return is the school's own.
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
    let (base, asked) = (caller.base_version(), body.value);
    caller
        .write("statutory_window.submit", move |tx| {
            tx.permit::<Read, _>(StatutoryWindow(*id))?;
            let permit = tx.permit::<Publish, _>(StatutoryWindow(*id))?;
            let StatutoryView { window: row, pupils } = tx.statutory_whole(&permit)?;
            unlocked(&row)?;
            same_version(row.v, base)?;
            if tx.today() < row.opens_on {
                let message = format!("the window opens on {}: there is nothing to submit", row.opens_on);
                return Err(Problem::saying(Code::Conflict, message));
            }
            let left = pupils.iter().filter(|pupil| pupil.left()).count();
            if left != asked.go_on_without {
                let pupils = if left == 1 { "1 pupil has".into() } else { format!("{left} pupils have") };
                let message = format!(
                    "{pupils} nothing entered: enter a mark or a code, or go on without them by this number"
                );
                return Err(Problem::field("go_on_without", message).with_code(Code::Conflict));
            }
            let (rule, last) = (&tx.rules()?.statutory_check, row.days().last());
            let away = |pupil: &&StatutoryPupil| {
                let code = pupil.result.as_ref().and_then(|row| row.code.as_deref());
                code.is_some_and(|code| rule.can_still_come(code))
            };
            let away = pupils.iter().filter(away).count();
            if away > 0 && tx.today() < last && !asked.away_stay {
                let who = if away == 1 { "1 pupil is".into() } else { format!("{away} pupils are") };
                let message = format!(
                    "{who} entered as away and can be checked until {last}: wait, or say that they stay so"
                );
                return Err(Problem::field("away_stay", message).with_code(Code::Conflict));
            }
            let row = tx.submit_statutory_window(&permit)?;
            Ok(Reply::ok(&StatutoryWindowBody::new(&row, tx.rules()?)?)?.version(row.v))
        })
        .await
}
