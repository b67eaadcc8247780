//! POST /sequence-proposals

use std::sync::{Arc, Mutex, PoisonError};

use actix_web::post;
use plumbline_core::{
    access::{act::Manage, resource::SequenceProposals},
    id::{ProposalId, SchoolId},
    phonics::proposal::{Constraints, Search},
};

use super::{ProposalBody, body};
use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
        words::school::SchoolEngine,
    },
    proposer::Job,
    store,
};

/// When to ask again for a search that found no place: most take a few seconds.
const AGAIN_SECONDS: u64 = 5;

/// Ask for a proposal of a sequence
///
/// The server searches for an order under the constraints and answers at once where to follow it.
/// One proposal of a school at a time; beyond that, and when the server has enough to do, 503
/// `busy` with Retry-After. The same constraints give the same proposal. The latest twenty are kept.
#[utoipa::path(
    tag = "sequence proposals", operation_id = "propose_sequence",
    request_body(content = Constraints, example = json!({"steps": 120, "year1_by": 85, "year2_by": 120, "seed": 7})),
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 202, description = "Asked for; Location", body = ProposalBody), CreateProblems)
)]
#[post("/sequence-proposals")]
pub async fn propose_sequence(caller: Caller, asked: Body<Constraints>) -> Result<Reply, Problem> {
    caller.may::<Manage, _>(SequenceProposals).await?;
    let SchoolEngine { engine, policy } = caller.words().await?;
    let (mut constraints, hash) = (asked.value, asked.hash);
    constraints.policy.get_or_insert(policy);
    let (checking, wanted) = (engine.clone(), constraints.clone());
    caller.compute(move || Ok(Search::new(&checking, &wanted).map(|_| ())?)).await?;
    // A task of its own: a client that goes away after the commit leaves nothing unqueued.
    let asked = actix_web::rt::spawn(async move {
        let place = caller.api().proposer.place();
        let stored = serde_json::to_value(&constraints)?;
        // What the commit made; empty where an Idempotency-Key recalled an earlier answer.
        let made: Arc<Mutex<Option<(SchoolId, ProposalId, usize)>>> = Arc::default();
        let (making, there_is_room) = (made.clone(), place.is_some());
        let reply = caller
            .create("sequence_proposal.create", hash, move |tx| {
                let permit = tx.permit::<Manage, _>(SequenceProposals)?;
                if !there_is_room {
                    return Err(busy("the server has enough proposals to work on"));
                }
                let row = tx.add_proposal(&permit, stored.clone()).map_err(|error| match error {
                    store::Error::Busy => busy("your school's last proposal is not done: wait, or cancel it"),
                    other => other.into(),
                })?;
                let new = (tx.school(), row.id, tx.rules()?.lesson.new_items_max);
                *making.lock().unwrap_or_else(PoisonError::into_inner) = Some(new);
                Reply::accepted(format!("/api/v1/sequence-proposals/{}", row.id), &body(row, None, None)?)
            })
            .await?;
        let made = *made.lock().unwrap_or_else(PoisonError::into_inner);
        if let (Some(place), Some((school, id, per_lesson))) = (place, made) {
            place.fill(Job { school, id, constraints, per_lesson, engine });
        }
        Ok(reply)
    });
    asked.await.unwrap_or_else(|_| Err(Problem::new(Code::Internal)))
}

fn busy(why: &str) -> Problem {
    Problem::saying(Code::Busy, why).after(AGAIN_SECONDS)
}
