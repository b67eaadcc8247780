//! DELETE /sequence-proposals/{id}

use actix_web::{delete, web};
use plumbline_core::{
    access::{act::Manage, resource::SequenceProposals},
    id::ProposalId,
};

use crate::{
    http::{
        caller::Caller,
        problem::{Code, Problem},
        problems::ActProblems,
        reply::Reply,
    },
    store,
};

/// Cancel a proposal of a sequence
///
/// Once cancelled it stays so, and cancelling it again changes nothing. One that is done or has
/// failed cannot be cancelled: 409.
#[utoipa::path(
    tag = "sequence proposals", operation_id = "cancel_sequence_proposal",
    params(("id" = ProposalId, Path, description = "The proposal")),
    responses((status = 204, description = "It is given up"), ActProblems)
)]
#[delete("/sequence-proposals/{id}")]
pub async fn cancel_sequence_proposal(caller: Caller, id: web::Path<ProposalId>) -> Result<Reply, Problem> {
    let id = *id;
    let reply = caller
        .write("sequence_proposal.cancel", move |tx| {
            let permit = tx.permit::<Manage, _>(SequenceProposals)?;
            tx.cancel_proposal(&permit, id).map_err(|error| match error {
                store::Error::Conflict => Problem::saying(Code::Conflict, "it is over already"),
                other => other.into(),
            })?;
            Ok(Reply::nothing())
        })
        .await?;
    caller.api().proposer.give_up(id);
    Ok(reply)
}
