//! POST /check-rounds/{id}/pupils/{pupil_id}/corrections

use actix_web::{post, web};
use plumbline_core::{
    access::{
        act::{Read, Record},
        resource::{PupilChecks, RoundAgreement},
    },
    check::{CorrectionReason, Heard, Outcome, ResponseMode},
    id::{PupilId, ResponseId, RoundId},
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
        words::told::{told, words_for},
    },
    store::{NewResponse, Permit, ResponseRow, SecondSampleRow, Tx},
};

/// A correction.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"response_id": "0199f2c4-0000-7000-8000-000000000011", "outcome": "wrong"}))]
pub struct NewCorrection {
    /// The response that was recorded wrongly.
    pub response_id: ResponseId,
    /// What it should have said.
    pub outcome: Outcome,
    /// What was heard instead, in sounds: `b.ɪ.n`. For a wrong answer.
    #[serde(default)]
    #[schema(value_type = Option<String>, example = "b.ɪ.n")]
    pub heard: Option<Heard>,
    /// How the pupil answered, if not as was recorded.
    #[serde(default)]
    pub mode: Option<ResponseMode>,
    /// Why: it was recorded wrongly, unless told.
    #[serde(default)]
    pub reason: Option<CorrectionReason>,
    /// The day it was put right; today unless told. Who was the pupil's adult on it may, as long as late records are
    /// taken.
    #[serde(default)]
    pub on: Option<Date>,
}

/// Correct a recorded answer
///
/// Adds a response that counts instead of the first, which stays on record with its author. With the reason
/// `second_marking` it settles a difference between two markers: by the lead or one of the two, once both marks are
/// given.
#[utoipa::path(
    tag = "checks", operation_id = "correct_response", request_body = NewCorrection,
    params(("id" = RoundId, Path, description = "The round"), ("pupil_id" = PupilId, Path, description = "The pupil"),
           ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Corrected", body = Page<ResponseBody>), CreateProblems)
)]
#[post("/check-rounds/{id}/pupils/{pupil_id}/corrections")]
pub async fn correct_response(
    caller: Caller,
    path: web::Path<(RoundId, PupilId)>,
    body: Body<NewCorrection>,
) -> Result<Reply, Problem> {
    let (round, pupil) = path.into_inner();
    let new = body.value;
    let words = words_for(&caller, [&new.heard]).await?;
    caller
        .create("check.correct", body.hash, move |tx| {
            let (permit, rows) = correct(tx, (round, pupil), &new, None)?;
            let pupil = permit.resource().pupil;
            let location = format!("/api/v1/check-rounds/{round}/pupils/{pupil}/responses");
            let told = told(tx, &permit, words.as_ref(), &rows)?;
            Reply::created(location, &Page::whole(bodies(rows, &told)))
        })
        .await
}

/// Corrects a response, under the id a device gave the correction or one of the server's.
pub(in crate::http) fn correct<'tx>(
    tx: &mut Tx<'tx>,
    (round, pupil): (RoundId, PupilId),
    new: &NewCorrection,
    id: Option<ResponseId>,
) -> Result<(Permit<'tx, Record, PupilChecks>, Vec<ResponseRow>), Problem> {
    let pupil = tx.merged_records()?.now(pupil);
    let permit = tx.permit::<Record, _>(PupilChecks { round, pupil, on: new.on })?;
    heard_fits(new.outcome, new.heard.as_ref(), "heard")?;
    let blind = tx.blind_to(&permit)?;
    let mut rows = tx.responses(&permit)?;
    rows.retain(|row| !blind.contains(&row.check_id));
    if let Some(there) = rows.iter().find(|row| Some(row.id) == id) {
        let said = (there.corrects, there.outcome, there.heard.clone());
        let same = said == (Some(new.response_id), new.outcome, new.heard.as_ref().map(ToString::to_string));
        let there = vec![there.clone()];
        let other = || Problem::field("id", "is the id of another answer").with_code(Code::Conflict);
        return same.then_some((permit, there)).ok_or_else(other);
    }
    let old = rows
        .iter()
        .find(|row| row.id == new.response_id)
        .ok_or_else(|| Problem::field("response_id", "is not a response of this pupil in this round"))?;
    if rows.iter().any(|row| row.corrects == Some(old.id)) {
        let message = "was corrected already; correct the latest one";
        return Err(Problem::field("response_id", message).with_code(Code::Conflict));
    }
    // What was taken back may have been asked anew since: then that answer is the one to correct.
    let stands = |row: &&ResponseRow| {
        row.item_id == old.item_id
            && row.id != old.id
            && row.outcome != Outcome::NotOffered
            && rows.iter().all(|other| other.corrects != Some(row.id))
    };
    let revives = old.outcome == Outcome::NotOffered && new.outcome != Outcome::NotOffered;
    if revives && rows.iter().any(|row| stands(&row)) {
        let message = "was taken back, and its item answered since: correct the answer that stands";
        return Err(Problem::field("response_id", message).with_code(Code::Conflict));
    }
    let reason = new.reason.unwrap_or(CorrectionReason::RecordedWrongly);
    if reason == CorrectionReason::SecondMarking {
        let leads = tx.permit_if_allowed::<Read, _>(RoundAgreement(round))?.is_some();
        let place = tx.second_sample(&permit, old.check_id)?;
        may_settle(tx, leads, place.as_ref(), old)?;
    }
    let correction = NewResponse {
        id,
        check: old.check_id,
        item: old.item_id,
        on: old.on_date,
        outcome: new.outcome,
        heard: new.heard.clone(),
        mode: new.mode.unwrap_or(old.mode),
        taken_by: old.taken_by,
        corrects: Some(old.id),
        reason: Some(reason),
        sitting: old.sitting_id,
        late: old.late,
    };
    let rows = tx.add_responses(&permit, &[correction])?;
    Ok((permit, rows))
}

/// Refuses to settle what was not marked twice, and those who marked neither time.
fn may_settle(
    tx: &Tx<'_>,
    leads: bool,
    place: Option<&SecondSampleRow>,
    old: &ResponseRow,
) -> Result<(), Problem> {
    let Some(place) = place.filter(|place| place.given_at.is_some()) else {
        return Err(Problem::field("reason", "is for an answer that was marked a second time"));
    };
    let me = tx.actor().staff;
    if leads || [place.staff_id, old.taken_by, old.entered_by].contains(&me) {
        return Ok(());
    }
    Err(Problem::field("reason", "is for the lead and the two who marked it").with_code(Code::Forbidden))
}
