//! GET /closures

use actix_web::get;
use plumbline_core::access::{act::Read, resource::Calendar};

use super::ClosureBody;
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// List closures and staff training days
#[utoipa::path(
    tag = "calendar", operation_id = "list_closures",
    responses((status = 200, description = "By day", body = Page<ClosureBody>), ReadProblems)
)]
#[get("/closures")]
pub async fn list_closures(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(Calendar)?;
            let closures: Vec<ClosureBody> =
                tx.closures(&permit)?.into_iter().map(ClosureBody::from).collect();
            Reply::ok(&Page::whole(closures))
        })
        .await
}
