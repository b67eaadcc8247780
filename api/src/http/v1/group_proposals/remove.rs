//! DELETE /group-proposals/{id}

use actix_web::{delete, web};
use plumbline_core::{
    access::{act::Manage, resource::GroupProposals},
    id::GroupProposalId,
};

use crate::http::{caller::Caller, problem::Problem, problems::ActProblems, reply::Reply};

/// Remove a proposal of groups
///
/// Groups that were made of it stay as they are.
#[utoipa::path(
    tag = "group proposals", operation_id = "remove_group_proposal",
    params(("id" = GroupProposalId, Path, description = "The proposal")),
    responses((status = 204, description = "Removed"), ActProblems)
)]
#[delete("/group-proposals/{id}")]
pub async fn remove_group_proposal(caller: Caller, id: web::Path<GroupProposalId>) -> Result<Reply, Problem> {
    caller
        .write("group_proposal.remove", move |tx| {
            let permit = tx.permit::<Manage, _>(GroupProposals)?;
            tx.remove_group_proposal(&permit, *id)?;
            Ok(Reply::nothing())
        })
        .await
}
