//! GET /checks

use actix_web::get;
use plumbline_core::access::{act::Read, resource::Checks};

use super::CheckBody;
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// List checks
#[utoipa::path(
    tag = "checks", operation_id = "list_checks",
    responses((status = 200, description = "Checks by name", body = Page<CheckBody>), ReadProblems)
)]
#[get("/checks")]
pub async fn list_checks(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(Checks)?;
            let list: Vec<CheckBody> = tx.checks(&permit)?.into_iter().map(CheckBody::from).collect();
            Reply::ok(&Page::whole(list))
        })
        .await
}
