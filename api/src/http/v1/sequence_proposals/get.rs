//! GET /sequence-proposals/{id}

use std::time::Duration;

use actix_web::{get, rt::time, web};
use plumbline_core::{
    access::{act::Read, resource::SequenceProposals},
    id::ProposalId,
};
use serde::Deserialize;
use utoipa::IntoParams;

use super::{ProposalBody, body};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply};

/// The longest wait, in seconds.
const LONGEST: u64 = 60;
/// How often to look for the end of a proposal that another server has in hand.
const LOOK: Duration = Duration::from_secs(1);

/// How long to wait.
#[derive(Clone, Copy, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct WaitQuery {
    /// Answer when it is over, or after so many seconds (0 to 60) as it stands then. At once
    /// unless told.
    #[serde(default)]
    #[param(minimum = 0, maximum = 60)]
    pub wait: u64,
}

/// Get a proposal of a sequence
///
/// With the draft once it is done: look it over, edit it and save it as the draft of a sequence.
/// Waiting holds up nothing else.
#[utoipa::path(
    tag = "sequence proposals", operation_id = "get_sequence_proposal",
    params(("id" = ProposalId, Path, description = "The proposal"), WaitQuery),
    responses((status = 200, description = "How it stands", body = ProposalBody), ReadProblems)
)]
#[get("/sequence-proposals/{id}")]
pub async fn get_sequence_proposal(
    caller: Caller,
    id: web::Path<ProposalId>,
    query: Query<WaitQuery>,
) -> Result<Reply, Problem> {
    if query.wait > LONGEST {
        return Err(Problem::field("wait", format!("must be 0 to {LONGEST}")));
    }
    let id = *id;
    let until = time::Instant::now() + Duration::from_secs(query.wait);
    loop {
        // Followed before it is read, so that no end falls between the two.
        let followed = caller.api().proposer.follow(id);
        let (row, result) = caller
            .read(move |tx| {
                let permit = tx.permit::<Read, _>(SequenceProposals)?;
                Ok(tx.proposal(&permit, id)?)
            })
            .await?;
        let left = until.saturating_duration_since(time::Instant::now());
        if row.status.is_over() || left.is_zero() {
            let live = followed.and_then(|told| told.borrow().progress);
            return Reply::ok(&body(row, result, live)?);
        }
        match followed {
            Some(mut told) if !told.borrow().over => {
                // Over, given up by its server, or time is up: the row says which.
                let _ = time::timeout(left, told.wait_for(|told| told.over)).await;
            }
            _ => time::sleep(left.min(LOOK)).await,
        }
    }
}
