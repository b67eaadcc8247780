//! POST /check-rounds/{id}/pupils/{pupil_id}/responses

use std::collections::BTreeMap;

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Record, resource::PupilChecks},
    check::{CheckKind, Facts, Heard, Outcome, ResponseMode, check_answers},
    id::{CheckId, CheckItemId, PupilId, ResponseId, RoundId, StaffId},
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{ResponseBody, bodies, heard_fits};
use crate::{
    http::{
        body::Body,
        caller::Caller,
        page::Page,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
    },
    store::{Error, NewResponse, ResponseRow, Tx},
};

/// Answers of one pupil to items of one check.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "check_id": "0199f2c4-0000-7000-8000-00000000000e", "on": "2026-10-14",
    "answers": [{"item_id": "0199f2c4-0000-7000-8000-00000000000f", "outcome": "right"}]
}))]
pub struct NewResponses {
    /// The check.
    pub check_id: CheckId,
    /// The day: one of the round's.
    pub on: Date,
    /// The adult who asked, if somebody else enters it.
    #[serde(default)]
    pub taken_by: Option<StaffId>,
    /// How the pupil answers: aloud unless told.
    #[serde(default)]
    pub mode: Option<ResponseMode>,
    /// The answers; items left out can follow later.
    pub answers: Vec<AnswerBody>,
}

/// An answer to one item.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AnswerBody {
    /// The item.
    pub item_id: CheckItemId,
    /// What came of it.
    pub outcome: Outcome,
    /// What was heard instead, in sounds: `b.ɪ.n`. For a wrong answer.
    #[serde(default)]
    #[schema(value_type = Option<String>, example = "b.ɪ.n")]
    pub heard: Option<Heard>,
}

/// Record a pupil's answers
///
/// Answers are only ever added: a second answer to an item is refused, a correction names
/// the first. Not asking an item is not a wrong answer: it can be asked on a later day. Answers of a record
/// that was made one with another are that one's. Those of a placement check are given to the placement; here
/// they are only corrected.
#[utoipa::path(
    tag = "checks", operation_id = "record_responses", request_body = NewResponses,
    params(("id" = RoundId, Path, description = "The round"), ("pupil_id" = PupilId, Path, description = "The pupil"),
           ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Recorded", body = Page<ResponseBody>), CreateProblems)
)]
#[post("/check-rounds/{id}/pupils/{pupil_id}/responses")]
pub async fn record_responses(
    caller: Caller,
    path: web::Path<(RoundId, PupilId)>,
    body: Body<NewResponses>,
) -> Result<Reply, Problem> {
    let (round, pupil) = path.into_inner();
    let new = body.value;
    caller
        .create("check.record", body.hash, move |tx| {
            let sitting = Sitting {
                check: new.check_id,
                on: new.on,
                taken_by: new.taken_by,
                mode: new.mode.unwrap_or(ResponseMode::Spoken),
                answers: &new.answers,
            };
            let (pupil, rows) = take(tx, (round, pupil), &sitting)?;
            let location = format!("/api/v1/check-rounds/{round}/pupils/{pupil}/responses");
            Reply::created(location, &Page::whole(bodies(rows)))
        })
        .await
}

/// Answers of one pupil of one day.
pub(super) struct Sitting<'a> {
    pub(super) check: CheckId,
    pub(super) on: Date,
    pub(super) taken_by: Option<StaffId>,
    pub(super) mode: ResponseMode,
    pub(super) answers: &'a [AnswerBody],
}

/// Records answers of one pupil: the one way they are, alone or among others. Says whose they are now.
pub(super) fn take(
    tx: &mut Tx<'_>,
    (round, pupil): (RoundId, PupilId),
    sitting: &Sitting<'_>,
) -> Result<(PupilId, Vec<ResponseRow>), Problem> {
    let pupil = tx.merged_records()?.now(pupil);
    let permit = tx.permit::<Record, _>(PupilChecks { round, pupil })?;
    let (round_row, check) = tx.round_check(&permit, sitting.check).map_err(|error| match error {
        Error::Missing => Problem::field("check_id", "is not a check of this round"),
        other => other.into(),
    })?;
    if check.kind == CheckKind::Placement {
        let detail = "a placement check asks in its own order: answer it at \
            /pupils/{id}/placements/{placement_id}/answers";
        return Err(Problem::saying(Code::Conflict, detail));
    }
    let rows = tx.responses(&permit)?;
    let corrected: Vec<ResponseId> = rows.iter().filter_map(|row| row.corrects).collect();
    let existing: BTreeMap<CheckItemId, ResponseId> = rows
        .iter()
        .filter(|row| row.check_id == sitting.check && !corrected.contains(&row.id))
        .filter(|row| row.outcome != Outcome::NotOffered)
        .map(|row| (row.item_id, row.id))
        .collect();
    let facts = Facts {
        items: &check.items,
        existing: &existing,
        opens_on: round_row.opens_on,
        closes_on: round_row.closes_on,
        today: tx.today(),
    };
    let answers: Vec<_> = sitting.answers.iter().map(|answer| (answer.item_id, answer.outcome)).collect();
    check_answers(&facts, sitting.on, &answers)?;
    for (n, answer) in sitting.answers.iter().enumerate() {
        heard_fits(answer.outcome, answer.heard.as_ref(), format!("answers[{n}].heard"))?;
    }
    if let Some(staff) = sitting.taken_by {
        tx.known_staff(&permit, staff).map_err(|error| match error {
            Error::Missing => Problem::field("taken_by", "is not of this school's staff"),
            other => other.into(),
        })?;
    }
    let taken_by = sitting.taken_by.unwrap_or(tx.actor().staff);
    let responses: Vec<NewResponse> = sitting
        .answers
        .iter()
        .map(|answer| NewResponse {
            id: None,
            check: sitting.check,
            item: answer.item_id,
            on: sitting.on,
            outcome: answer.outcome,
            heard: answer.heard.clone(),
            mode: sitting.mode,
            taken_by,
            corrects: None,
        })
        .collect();
    let rows = tx.add_responses(&permit, &responses)?;
    Ok((pupil, rows))
}
