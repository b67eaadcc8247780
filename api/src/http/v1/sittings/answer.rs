//! POST /check-rounds/{id}/pupils/{pupil_id}/sittings/{sitting_id}/answers

use std::collections::BTreeSet;

use actix_web::{post, web};
use plumbline_core::{
    check::{AnswerError, Heard, HeardIs, Outcome, Refusal, ResponseMode, Sent, Taken, answered, sort_out},
    id::{CheckItemId, PupilId, ResponseId, RoundId, SittingId, of_device},
    time::Date,
};
use serde::{Deserialize, Deserializer, Serialize};
use utoipa::ToSchema;

use super::{
    Seat, SittingBody, StandingAnswer, Stands, body as shown, in_the_way, responses, sitting_of, taken_up,
};
use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::Problem,
        problems::CreateProblems,
        reply::Reply,
        v1::checks::answer_facts,
        words::told::{Teller, words_for},
    },
    store::{NewResponse, SittingView, Tx},
};

/// Answers to send, one at a time or in runs.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"answers": [{"id": "0199f2c4-0000-7000-8000-000000000011",
    "item_id": "0199f2c4-0000-7000-8000-00000000000f", "outcome": "right"}]}))]
pub struct SittingAnswers {
    /// The day they were given; today unless told.
    #[serde(default)]
    pub on: Option<Date>,
    /// 1 to 100 answers: usually the one to `next`.
    pub answers: Vec<SittingAnswer>,
}

/// An answer to one item.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SittingAnswer {
    /// Made by the device, a UUID of version 7: the same answer sent again is one answer. Those of one request
    /// count in the order of their ids: of two answers to one item the one made first is taken, and the other is
    /// refused as `already_answered`.
    #[serde(deserialize_with = "of_device")]
    pub id: ResponseId,
    /// The item.
    pub item_id: CheckItemId,
    /// What came of it; `not_offered` leaves the item out.
    pub outcome: Outcome,
    /// What was heard instead, in sounds: `b.ɪ.n`. For a wrong answer. Of an answer whose sounds cannot be read, that
    /// answer alone is refused.
    #[serde(default, deserialize_with = "as_heard")]
    #[schema(value_type = Option<String>, example = "b.ɪ.n")]
    pub heard: Option<Result<Heard, String>>,
    /// How the pupil answered: as usual for this pupil unless told.
    #[serde(default)]
    pub mode: Option<ResponseMode>,
}

/// Reads what was heard, or why it is not written in sounds: that refuses one answer, not the run.
fn as_heard<'de, D: Deserializer<'de>>(field: D) -> Result<Option<Result<Heard, String>>, D::Error> {
    Ok(Option::<String>::deserialize(field)?.map(|text| Heard::new(&text)))
}

plumbline_core::vocabulary! {
    /// What became of an answer that was sent.
    pub enum AnswerFate {
        /// It is new, and is written down.
        Taken = "taken",
        /// It is new, was given in the round, and came after it.
        TakenLate = "taken_late",
        /// It was there already.
        AlreadyThere = "already_there",
        /// It cannot be taken, now or later: keep it, and show it to the adult.
        Refused = "refused",
    }
}

/// What became of one answer.
#[derive(Serialize, ToSchema)]
pub struct AnswerTaken {
    /// The answer's id, as sent.
    pub id: ResponseId,
    /// What became of it.
    pub fate: AnswerFate,
    /// Why it was refused.
    pub refusal: Option<RefusalBody>,
    /// Where sounds were heard: how they stand to what is expected. The marker decides.
    pub heard_is: Option<HeardIs>,
}

/// Why an answer was refused.
#[derive(Serialize, ToSchema)]
pub struct RefusalBody {
    /// As a word.
    pub code: Refusal,
    /// For a person.
    pub message: String,
    /// The answer that stands for the item instead.
    pub stands: Option<StandingAnswer>,
}

/// A sitting after answers were sent.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "answers": [{"id": "0199f2c4-0000-7000-8000-000000000011", "fate": "taken", "refusal": null, "heard_is": null}],
    "sitting": {"id": "0199f2c4-0000-7000-8000-000000000012", "round_id": "0199f2c4-0000-7000-8000-000000000010",
        "pupil_id": "0199f2c4-0000-7000-8000-000000000007", "check_id": "0199f2c4-0000-7000-8000-00000000000e",
        "begun_at": "2026-10-14T09:50:00.000000Z", "held_by": {"staff_id": "0199f2c4-0000-7000-8000-000000000002", "name": "Amara Osei"},
        "paused_at": null, "finished_at": null, "next": null, "items": []}
}))]
pub struct AnswersTaken {
    /// What became of each answer, in the order sent.
    pub answers: Vec<AnswerTaken>,
    /// The sitting as it stands.
    pub sitting: SittingBody,
}

/// Send answers of a sitting
///
/// Each answer stands for itself: one that cannot be taken is refused by its id, for good and with why, and holds back
/// no other; what is no answer at all refuses the request. By whoever has or had the sitting, so that what an adult
/// took down before it was taken over or finished still comes in, but not by who marks a second time. Answers given on
/// a day of the round are taken for some days after it closed, and marked late.
#[utoipa::path(
    tag = "sittings", operation_id = "answer_sitting", request_body = SittingAnswers,
    params(("id" = RoundId, Path, description = "The round"), ("pupil_id" = PupilId, Path, description = "The pupil"),
           ("sitting_id" = SittingId, Path, description = "The sitting")),
    responses((status = 200, description = "What became of each", body = AnswersTaken), CreateProblems)
)]
#[post("/check-rounds/{id}/pupils/{pupil_id}/sittings/{sitting_id}/answers")]
pub async fn answer_sitting(
    caller: Caller,
    path: web::Path<(RoundId, PupilId, SittingId)>,
    body: Body<SittingAnswers>,
) -> Result<Reply, Problem> {
    let (round, pupil, id) = path.into_inner();
    let new = body.value;
    let words = words_for(&caller, new.answers.iter().map(|answer| &answer.heard)).await?;
    let seat = Seat { round, pupil, id, on: new.on };
    caller
        .write("sitting.answer", move |tx| {
            let ((permit, view), mut answers) = answer(tx, seat, &new.answers)?;
            let pupil = permit.resource().pupil;
            if let Some(teller) = words.as_ref().map(|words| Teller::of(tx, words, pupil)).transpose()? {
                for (told, sent) in answers.iter_mut().zip(&new.answers) {
                    let heard = sent.heard.as_ref().and_then(|heard| heard.as_ref().ok());
                    told.heard_is =
                        heard.and_then(|heard| teller.tell(&view.check.items, sent.item_id, heard));
                }
            }
            Reply::ok(&AnswersTaken { answers, sitting: shown(tx, &permit, &view)? })
        })
        .await
}

/// Takes answers of a sitting, and says what became of each, in the order sent.
pub(in crate::http) fn answer<'tx>(
    tx: &mut Tx<'tx>,
    seat: Seat,
    answers: &[SittingAnswer],
) -> Result<(Stands<'tx>, Vec<AnswerTaken>), Problem> {
    let (permit, mut view) = taken_up(tx, seat)?;
    let (sitting, me, on) = (sitting_of(&view)?.clone(), tx.actor().staff, permit.resource().on);
    if !sitting.adults.contains(&me) {
        let say = |name: &str| format!("{name} has this sitting: take it over first, if that is right");
        return Err(in_the_way(tx, &permit, &sitting, say)?);
    }
    let sent = sent(&view, answers)?;
    let (there, _) = responses(&view, Some(seat.id));
    let ids: Vec<ResponseId> = sent.iter().map(|one| one.id).collect();
    let mut elsewhere: BTreeSet<ResponseId> = tx.response_ids(&permit, &ids)?;
    elsewhere.retain(|id| there.iter().all(|known| known.id != *id));
    let existing = answered(&there, view.check.id);
    let facts = answer_facts(tx, (&view.round, &view.check), &existing, view.left_on)?;
    let (fates, late) = (sort_out(&facts, on, &there, &elsewhere, &sent), facts.late());
    let taken = sent.iter().zip(&fates).filter(|(_, fate)| **fate == Taken::New);
    let rows: Vec<NewResponse> = taken
        .map(|(one, _)| NewResponse {
            id: Some(one.id),
            check: view.check.id,
            item: one.item,
            on,
            outcome: one.outcome,
            heard: one.sounds().cloned(),
            mode: one.mode,
            taken_by: me,
            corrects: None,
            reason: None,
            sitting: Some(seat.id),
            late,
        })
        .collect();
    if !rows.is_empty() {
        let mut rows = tx.answer_sitting(&permit, &rows)?;
        rows.sort_by_key(|row| row.id);
        view.responses.extend(rows);
        let paused = view.sitting.as_mut().filter(|one| one.holder == me && one.paused_at.is_some());
        if let Some(sitting) = paused {
            sitting.paused_at = None;
            tx.save_sitting(&permit, sitting)?;
        }
    }
    let told = sent.iter().zip(&fates).map(|(one, fate)| told(&view, one, fate, late)).collect();
    Ok(((permit, view), told))
}

/// The answers as core has them.
fn sent(view: &SittingView, answers: &[SittingAnswer]) -> Result<Vec<Sent>, Problem> {
    if !(1..=100).contains(&answers.len()) {
        return Err(Problem::field("answers", "give 1 to 100 answers"));
    }
    let one = |answer: &SittingAnswer| {
        // What is sent again says what it said, whatever has become usual since.
        let before = view.responses.iter().find(|row| row.id == answer.id).map(|row| row.mode);
        Sent {
            id: answer.id,
            item: answer.item_id,
            outcome: answer.outcome,
            heard: answer.heard.clone(),
            mode: answer.mode.or(before).unwrap_or(view.usual),
        }
    };
    Ok(answers.iter().map(one).collect())
}

fn told(view: &SittingView, one: &Sent, fate: &Taken, late: bool) -> AnswerTaken {
    let (fate, refusal) = match fate {
        Taken::New if late => (AnswerFate::TakenLate, None),
        Taken::New => (AnswerFate::Taken, None),
        Taken::Known => (AnswerFate::AlreadyThere, None),
        Taken::Refused(error) => {
            let stands = match error {
                AnswerError::AlreadyAnswered(_, id) => view.responses.iter().find(|row| row.id == *id),
                _ => None,
            };
            let stands = stands.map(StandingAnswer::from);
            let refusal = RefusalBody { code: error.refusal(), message: error.to_string(), stands };
            (AnswerFate::Refused, Some(refusal))
        }
    };
    AnswerTaken { id: one.id, fate, refusal, heard_is: None }
}
