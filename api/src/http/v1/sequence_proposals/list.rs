//! GET /sequence-proposals

use actix_web::get;
use plumbline_core::access::{act::Read, resource::SequenceProposals};

use super::{ProposalLine, line};
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// List the proposals of sequences, latest first, without their results
#[utoipa::path(
    tag = "sequence proposals", operation_id = "list_sequence_proposals",
    responses((status = 200, description = "The proposals", body = Page<ProposalLine>), ReadProblems)
)]
#[get("/sequence-proposals")]
pub async fn list_sequence_proposals(caller: Caller) -> Result<Reply, Problem> {
    let rows = caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(SequenceProposals)?;
            Ok(tx.proposals(&permit)?)
        })
        .await?;
    let proposer = &caller.api().proposer;
    let live = |id| proposer.follow(id).and_then(|told| told.borrow().progress);
    let lines = rows.into_iter().map(|row| {
        let live = live(row.id);
        line(row, live)
    });
    Reply::ok(&Page::whole(lines.collect::<Result<_, _>>()?))
}
