//! Operations on sittings and on answers. Answers are only ever added, each under the id its device made.

use plumbline_core::{
    access::{act::Record, resource::Replica},
    id::{PupilId, ResponseId, RoundId},
};

use super::{Effect, Op, Said};
use crate::{
    http::{
        problem::{Code, Problem},
        v1::{
            checks::correct::{self, NewCorrection},
            sittings::{
                Seat,
                answer::{self, AnswerFate, SittingAnswers},
                begin::{self, NewSitting},
                finish, pause,
                resume::{self, Resume},
                undo::{self, Undo},
            },
        },
    },
    store::{Permit, Tx},
};

type Own<'p, 'tx> = &'p Permit<'tx, Record, Replica>;

/// Begins a sitting.
pub fn begin<'tx>(tx: &mut Tx<'tx>, _permit: Own<'_, 'tx>, op: &Op) -> Result<Effect, Problem> {
    let mut said = op.said();
    let place: (RoundId, PupilId) = (said.take("round_id")?, said.take("pupil_id")?);
    let new: NewSitting = said.body()?;
    if new.id.is_none() {
        return Err(Problem::field("id", "missing field `id`"));
    }
    begin::begin(tx, place, &new, true)?;
    done(tx)
}

/// Takes one answer.
pub fn answer<'tx>(tx: &mut Tx<'tx>, _permit: Own<'_, 'tx>, op: &Op) -> Result<Effect, Problem> {
    let mut said = op.said();
    let seat = seat(&mut said)?;
    let SittingAnswers { answers, .. } = said.body()?;
    if answers.len() != 1 {
        return Err(Problem::field("answers", "give one answer"));
    }
    let ((sittings, _), told) = answer::answer(tx, seat, &answers)?;
    let refusal =
        told.into_iter().find(|told| told.fate == AnswerFate::Refused).and_then(|told| told.refusal);
    let Some(refusal) = refusal else { return done(tx) };
    let me = tx.actor().staff;
    match refusal.stands.filter(|stands| stands.taken_by != me) {
        // Another adult's answer came in first and stands; this one is kept.
        Some(stands) => {
            tx.keep_superseded_answer(&sittings, op.op_id, &serde_json::to_value(&op.set)?)?;
            Ok(Effect::Superseded(tx.version(), serde_json::to_value(stands)?))
        }
        None => Err(Problem::field("answers[0]", refusal.message).with_code(Code::Conflict)),
    }
}

/// Takes the last answer back.
pub fn undo<'tx>(tx: &mut Tx<'tx>, _permit: Own<'_, 'tx>, op: &Op) -> Result<Effect, Problem> {
    let mut said = op.said();
    let seat = seat(&mut said)?;
    let meant: Undo = said.body()?;
    undo::undo_last(tx, seat, meant)?;
    done(tx)
}

/// Pauses a sitting.
pub fn pause<'tx>(tx: &mut Tx<'tx>, _permit: Own<'_, 'tx>, op: &Op) -> Result<Effect, Problem> {
    let mut said = op.said();
    let seat = seat(&mut said)?;
    said.nothing_else()?;
    pause::pause(tx, seat)?;
    done(tx)
}

/// Goes on with a sitting.
pub fn resume<'tx>(tx: &mut Tx<'tx>, _permit: Own<'_, 'tx>, op: &Op) -> Result<Effect, Problem> {
    let mut said = op.said();
    let seat = seat(&mut said)?;
    let Resume { take_over } = said.body()?;
    resume::resume(tx, seat, take_over)?;
    done(tx)
}

/// Finishes a sitting.
pub fn finish<'tx>(tx: &mut Tx<'tx>, _permit: Own<'_, 'tx>, op: &Op) -> Result<Effect, Problem> {
    let mut said = op.said();
    let seat = seat(&mut said)?;
    said.nothing_else()?;
    finish::finish(tx, seat)?;
    done(tx)
}

/// Corrects a recorded answer.
pub fn correct<'tx>(tx: &mut Tx<'tx>, _permit: Own<'_, 'tx>, op: &Op) -> Result<Effect, Problem> {
    let mut said = op.said();
    let place: (RoundId, PupilId) = (said.take("round_id")?, said.take("pupil_id")?);
    let id: ResponseId = said.take_made("id")?;
    let new: NewCorrection = said.body()?;
    correct::correct(tx, place, &new, Some(id))?;
    done(tx)
}

fn seat(said: &mut Said) -> Result<Seat, Problem> {
    Ok(Seat {
        round: said.take("round_id")?,
        pupil: said.take("pupil_id")?,
        id: said.take("sitting_id")?,
        on: said.take_if_there("on")?,
    })
}

fn done(tx: &Tx<'_>) -> Result<Effect, Problem> {
    Ok(Effect::Applied(tx.version()))
}
