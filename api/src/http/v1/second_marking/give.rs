//! POST /check-rounds/{id}/pupils/{pupil_id}/second-marks

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Record, resource::PupilChecks},
    check::second::Basis,
    id::{CheckId, PupilId, RoundId},
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{SecondMarksBody, get_marks::marks};
use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
        v1::checks::{answer::AnswerBody, heard_fits, not_of_the_round},
    },
    store::NewSecondMark,
};

/// A second adult's marks of a pupil's check.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "check_id": "0199f2c4-0000-7000-8000-00000000000e", "basis": "beside",
    "answers": [{"item_id": "0199f2c4-0000-7000-8000-00000000000f", "outcome": "right"}]
}))]
pub struct NewSecondMarks {
    /// The check.
    pub check_id: CheckId,
    /// What the marks rest on.
    pub basis: Basis,
    /// A mark of every item of the check, in any order: `not_offered` for those that were not asked. All at once, as
    /// the first marks are shown with them.
    pub answers: Vec<AnswerBody>,
}

/// Give the second marks of a pupil's check
///
/// By the adult the sample names, once, and never changed. They stand beside the first marks and change none; only
/// now the first ones are shown. Where the two differ, `correct_response` with the reason `second_marking` settles it.
#[utoipa::path(
    tag = "second marking", operation_id = "give_second_marks", request_body = NewSecondMarks,
    params(("id" = RoundId, Path, description = "The round"), ("pupil_id" = PupilId, Path, description = "The pupil"),
           ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Given, with the first marks beside them", body = SecondMarksBody), CreateProblems)
)]
#[post("/check-rounds/{id}/pupils/{pupil_id}/second-marks")]
pub async fn give_second_marks(
    caller: Caller,
    path: web::Path<(RoundId, PupilId)>,
    body: Body<NewSecondMarks>,
) -> Result<Reply, Problem> {
    let (round, pupil) = path.into_inner();
    let new = body.value;
    let words = caller.words().await?;
    let again = words.clone();
    let check_id = new.check_id;
    caller
        .create_of_pupils(
            "second_marking.give",
            body.hash,
            move |tx| {
                let pupil = tx.merged_records()?.now(pupil);
                let permit = tx.permit::<Record, _>(PupilChecks { round, pupil, on: None })?;
                let (_, check) = tx.round_check(&permit, new.check_id).map_err(not_of_the_round)?;
                let me = tx.actor().staff;
                let named = tx.second_sample(&permit, check.id)?.filter(|place| place.staff_id == me);
                let Some(place) = named else {
                    let detail = "you are not asked to mark this check of this pupil a second time";
                    return Err(Problem::saying(Code::Conflict, detail));
                };
                if place.given_at.is_some() {
                    let detail =
                        "your marks are given: they are never changed. Settle a difference by a correction";
                    return Err(Problem::saying(Code::Conflict, detail));
                }
                let first = tx.responses(&permit)?;
                if first
                    .iter()
                    .any(|row| row.check_id == check.id && [row.taken_by, row.entered_by].contains(&me))
                {
                    let detail =
                        "you marked this check of this pupil first: somebody else marks it a second time";
                    return Err(Problem::saying(Code::Conflict, detail));
                }
                for (n, answer) in new.answers.iter().enumerate() {
                    let known = check.items.iter().any(|item| item.id == answer.item_id);
                    let field = |name: &str| format!("answers[{n}].{name}");
                    if !known {
                        return Err(Problem::field(field("item_id"), "the check has no such item"));
                    }
                    if new.answers[..n].iter().any(|before| before.item_id == answer.item_id) {
                        return Err(Problem::field(field("item_id"), "this item is answered twice"));
                    }
                    heard_fits(answer.outcome, answer.heard.as_ref(), field("heard"))?;
                }
                let missing = check.items.len() - new.answers.len();
                if missing > 0 {
                    let message =
                        format!("{missing} items have no mark: not_offered for those that were not asked");
                    return Err(Problem::field("answers", message));
                }
                let mark = |answer: &AnswerBody| NewSecondMark {
                    item: answer.item_id,
                    outcome: answer.outcome,
                    heard: answer.heard.clone(),
                };
                let given: Vec<NewSecondMark> = new.answers.iter().map(mark).collect();
                tx.give_second_marks(&permit, check.id, &place, new.basis, &given)?;
                let at = format!("/api/v1/check-rounds/{round}/pupils/{pupil}/second-marks");
                Reply::created(at, &marks(tx, &permit, &words, check.id)?)
            },
            move |tx, _| {
                let pupil = tx.merged_records()?.now(pupil);
                let permit = tx.permit::<Record, _>(PupilChecks { round, pupil, on: None })?;
                let at = format!("/api/v1/check-rounds/{round}/pupils/{pupil}/second-marks");
                Reply::created(at, &marks(tx, &permit, &again, check_id)?)
            },
        )
        .await
}
