//! GET /checks/{id}

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Checks},
    id::CheckId,
};

use super::CheckBody;
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Get a check
///
/// Whichever version: answers of a round name the version they were given to.
#[utoipa::path(
    tag = "checks", operation_id = "get_check", params(("id" = CheckId, Path, description = "The check")),
    responses((status = 200, description = "The check", body = CheckBody), ReadProblems)
)]
#[get("/checks/{id}")]
pub async fn get_check(caller: Caller, id: web::Path<CheckId>) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Checks)?;
            let row = tx.check(&permit, *id)?;
            let (all, rules) = (tx.checks(&permit)?, tx.rules()?);
            Reply::ok(&CheckBody::of(row, &all, rules))
        })
        .await
}
