//! GET /group-proposals

use actix_web::get;
use plumbline_core::access::{act::Read, resource::GroupProposals};

use super::GroupProposalLine;
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// List the proposals of groups, latest first, without any pupil
#[utoipa::path(
    tag = "group proposals", operation_id = "list_group_proposals",
    responses((status = 200, description = "The proposals", body = Page<GroupProposalLine>), ReadProblems)
)]
#[get("/group-proposals")]
pub async fn list_group_proposals(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(GroupProposals)?;
            let lines = tx.group_proposals(&permit)?.into_iter().map(GroupProposalLine::from);
            Reply::ok(&Page::whole(lines.collect()))
        })
        .await
}
