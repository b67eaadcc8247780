//! GET /check-rounds

use actix_web::get;
use plumbline_core::access::{act::Read, resource::Checks};

use super::RoundBody;
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// List check rounds, latest first
#[utoipa::path(
    tag = "checks", operation_id = "list_check_rounds",
    responses((status = 200, description = "Rounds", body = Page<RoundBody>), ReadProblems)
)]
#[get("/check-rounds")]
pub async fn list_check_rounds(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(Checks)?;
            let list: Vec<RoundBody> = tx.rounds(&permit)?.into_iter().map(RoundBody::from).collect();
            Reply::ok(&Page::whole(list))
        })
        .await
}
