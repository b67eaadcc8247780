//! GET /group-proposals/{id}

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::GroupProposals},
    id::GroupProposalId,
};

use super::{GroupProposalBody, shown};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Get a proposal of groups
///
/// With why each pupil is where, in items, as it was found when it was made. The reading is written to the
/// audit log before the answer is sent.
#[utoipa::path(
    tag = "group proposals", operation_id = "get_group_proposal",
    params(("id" = GroupProposalId, Path, description = "The proposal")),
    responses((status = 200, description = "The proposal", body = GroupProposalBody), ReadProblems)
)]
#[get("/group-proposals/{id}")]
pub async fn get_group_proposal(caller: Caller, id: web::Path<GroupProposalId>) -> Result<Reply, Problem> {
    caller
        .read_logged("group_proposal.read", move |tx| {
            let permit = tx.permit::<Read, _>(GroupProposals)?;
            let row = tx.group_proposal(&permit, *id)?;
            Reply::ok(&shown(tx, &permit, row)?)
        })
        .await
}
