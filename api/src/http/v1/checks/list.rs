//! GET /checks

use actix_web::get;
use plumbline_core::access::{act::Read, resource::Checks};

use super::CheckBody;
use crate::{
    http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply},
    store::CheckRow,
};

/// List checks
///
/// The latest version of each, with those before it.
#[utoipa::path(
    tag = "checks", operation_id = "list_checks",
    responses((status = 200, description = "Checks by name", body = Page<CheckBody>), ReadProblems)
)]
#[get("/checks")]
pub async fn list_checks(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(Checks)?;
            let (all, rules) = (tx.checks(&permit)?, tx.rules()?);
            let is_latest = |row: &&CheckRow| {
                !all.iter().any(|other| other.series == row.series && other.version > row.version)
            };
            let latest = all.iter().filter(is_latest).cloned();
            let list: Vec<CheckBody> = latest.map(|row| CheckBody::of(row, &all, rules)).collect();
            Reply::ok(&Page::whole(list))
        })
        .await
}
