//! POST /pupils/{id}/placements/{placement_id}/answers

use std::collections::BTreeMap;

use actix_web::{post, web};
use plumbline_core::{
    access::{
        act::Record,
        resource::{PupilChecks, PupilPlacements},
    },
    check::{Outcome, Response, check_answers},
    id::{CheckItemId, PlacementId, PupilId, ResponseId, of_device},
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{PlacementBody, answers, body as shown};
use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
        v1::checks::answer_facts,
    },
    store::{NewResponse, PlacementView, Tx},
};

/// Answers to items of a placement check.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"answers": [{"id": "0199f2c4-0000-7000-8000-000000000011",
    "item_id": "0199f2c4-0000-7000-8000-00000000000f", "outcome": "right"}]}))]
pub struct PlacementAnswers {
    /// The day they were given; today unless told.
    #[serde(default)]
    pub on: Option<Date>,
    /// The answers: usually the one to `next`.
    pub answers: Vec<PlacementAnswer>,
}

/// An answer to one item.
#[derive(Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlacementAnswer {
    /// Made by whoever sends it, a UUID of version 7: the same answer sent again is one answer. Those of one
    /// request count in the order of their ids.
    #[serde(deserialize_with = "of_device")]
    pub id: ResponseId,
    /// The item.
    pub item_id: CheckItemId,
    /// What came of it. An item that was not offered is not asked again.
    pub outcome: Outcome,
}

/// Answer a placement check
///
/// Answers what to ask next, or what it found. A wrong tap is taken back by correcting the response to
/// `not_offered` at `/check-rounds/{id}/pupils/{pupil_id}/corrections`, with the placement's id as the round's:
/// the item is asked again.
#[utoipa::path(
    tag = "placements", operation_id = "answer_placement", request_body = PlacementAnswers,
    params(("id" = PupilId, Path, description = "The pupil"), ("placement_id" = PlacementId, Path, description = "The placement check"),
           ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 200, description = "How it goes on", body = PlacementBody), CreateProblems)
)]
#[post("/pupils/{id}/placements/{placement_id}/answers")]
pub async fn answer_placement(
    caller: Caller,
    path: web::Path<(PupilId, PlacementId)>,
    body: Body<PlacementAnswers>,
) -> Result<Reply, Problem> {
    let (pupil, id) = path.into_inner();
    let sent = body.value;
    let on = sent.on;
    caller
        .create_of_pupils(
            "placement.answer",
            body.hash,
            move |tx| {
                let view = answer(tx, (pupil, id), &sent)?;
                Reply::ok(&shown(&view, &tx.rules()?.placement, tx.today()))
            },
            move |tx, _| {
                let pupil = tx.merged_records()?.now(pupil);
                let permit = tx.permit::<Record, _>(PupilPlacements { pupil, on })?;
                let view = tx.placement(&permit, id)?;
                Reply::ok(&shown(&view, &tx.rules()?.placement, tx.today()))
            },
        )
        .await
}

/// Takes answers of a placement check. Those that are there already change nothing.
pub(in crate::http) fn answer(
    tx: &mut Tx<'_>,
    (pupil, id): (PupilId, PlacementId),
    sent: &PlacementAnswers,
) -> Result<PlacementView, Problem> {
    let pupil = tx.merged_records()?.now(pupil);
    let permit = tx.permit::<Record, _>(PupilPlacements { pupil, on: sent.on })?;
    let (rule, today) = (&tx.rules()?.placement, tx.today());
    let view = tx.placement(&permit, id)?;
    let new = not_there_yet(&view.responses, &sent.answers)?;
    if new.is_empty() && !sent.answers.is_empty() {
        return Ok(view);
    }
    let on = sent.on.unwrap_or(today);
    if shown(&view, rule, on).end.is_some() {
        return Err(Problem::saying(Code::Conflict, "this placement check is over"));
    }
    let taken_by = tx.actor().staff;
    let round = tx.permit::<Record, _>(PupilChecks { round: view.row.round(), pupil, on: sent.on })?;
    let left_on = tx.last_day(&round)?;
    check(tx, &view, on, left_on, &new)?;
    let mode = tx.usual_mode(&round, on)?;
    let rows: Vec<NewResponse> = new
        .iter()
        .map(|one| NewResponse {
            id: Some(one.id),
            check: view.row.check_id,
            item: one.item_id,
            on,
            outcome: one.outcome,
            heard: None,
            mode,
            taken_by,
            corrects: None,
            reason: None,
            sitting: None,
            late: false,
        })
        .collect();
    tx.add_responses(&round, &rows)?;
    Ok(tx.placement(&permit, id)?)
}

/// The answers that are not there yet, in the order of their ids.
///
/// # Errors
/// `conflict` for the id of another answer.
fn not_there_yet(there: &[Response], sent: &[PlacementAnswer]) -> Result<Vec<PlacementAnswer>, Problem> {
    let mut new: BTreeMap<ResponseId, PlacementAnswer> = BTreeMap::new();
    for (n, one) in sent.iter().enumerate() {
        let stored = there.iter().find(|known| known.id == one.id);
        let known = stored.map(|known| (known.item, known.outcome));
        match known.or_else(|| new.get(&one.id).map(|known| (known.item_id, known.outcome))) {
            None => _ = new.insert(one.id, *one),
            Some(known) if known == (one.item_id, one.outcome) => {}
            Some(_) => {
                let problem = Problem::field(format!("answers[{n}].id"), "is the id of another answer");
                return Err(problem.with_code(Code::Conflict));
            }
        }
    }
    Ok(new.into_values().collect())
}

fn check(
    tx: &Tx<'_>,
    view: &PlacementView,
    on: Date,
    left_on: Option<Date>,
    new: &[PlacementAnswer],
) -> Result<(), Problem> {
    let existing = answers(view)
        .into_iter()
        .filter(|(one, _)| one.outcome != Outcome::NotOffered)
        .map(|(one, _)| (one.item, one.response))
        .collect();
    let facts = answer_facts(tx, (&view.round, &view.check), &existing, left_on)?;
    let items: Vec<_> = new.iter().map(|one| one.item_id).collect();
    Ok(check_answers(&facts, on, &items)?)
}
