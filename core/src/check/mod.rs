//! Checks: what is asked of a pupil, and what came of it. Responses are events that are
//! never changed; a correction is a new event that names the old one. Answers from before the
//! records here are carried in, and are not responses.

pub mod build;
mod carried;
mod carried_sheet;
pub mod confusion;
pub mod expected;
mod heard;
mod item;
mod odd;
pub mod placement;
mod reach;
mod round;
pub mod second;
mod sitting;
mod speech;
mod transferred;
mod words;

use std::collections::{BTreeMap, BTreeSet};

pub use carried::{CarriedAnswers, CarriedChange, CarriedRow, carried_changes, carried_check_id, check_rows};
pub use carried_sheet::{KnownPupil, SheetContext, read_carried};
pub use heard::{Heard, ResponseMode};
pub use item::CheckItem;
pub use odd::{Odd, odd_grapheme, odd_words, struck_words};
pub use reach::{NotAccessible, ReviewError, check_review};
pub use round::{Checker, Dates, Known, Places, RoundError, RoundPlan, Standing, Whom};
use serde::Serialize;
pub use sitting::{Sent, Taken, as_answered, counting, last, next, sort_out};
pub use speech::{HeardIs, NoteError, SpeechNote, Usual, heard_is};
pub use transferred::{Receiving, Transferred, TransferredOutcome, not_of, read_transferred};
pub use words::Asked;

use crate::{
    id::{CheckId, CheckItemId, PupilId, ResponseId, StaffId},
    time::Date,
};

crate::vocabulary! {
    /// What a check asks for.
    pub enum CheckKind {
        /// Say the sound of a grapheme.
        GpcRecognition = "gpc_recognition",
        /// Hear the sounds of a word and say the word. The pupil reads nothing.
        OralBlending = "oral_blending",
        /// Read a word.
        WordReading = "word_reading",
        /// Read a made-up word from a set the lead approved.
        PseudoWordReading = "pseudo_word_reading",
        /// Hear a word and write it, or say its sounds. The pupil reads nothing.
        Spelling = "spelling",
        /// Read a common exception word.
        ExceptionWordReading = "exception_word_reading",
        /// Read a sentence.
        SentenceReading = "sentence_reading",
        /// Practise with words and made-up words in the shape of the statutory check. Never that check, and
        /// never a result of it.
        PracticeCheck = "practice_check",
        /// Say the sounds of a sequence's graphemes, as a placement asks them. Made by it alone.
        Placement = "placement",
    }
}

impl CheckKind {
    /// Whether the adult says it and the pupil is shown nothing.
    pub const fn is_heard(self) -> bool {
        matches!(self, Self::OralBlending | Self::Spelling)
    }

    /// Whether an item of it is a made-up word: all are, or it was said of the item.
    pub const fn is_made_up(self, said: bool) -> bool {
        said || matches!(self, Self::PseudoWordReading)
    }

    /// Whether its items are made of words, which the engine knows more of.
    pub const fn is_of_words(self) -> bool {
        !matches!(self, Self::GpcRecognition | Self::Placement)
    }
}

crate::vocabulary! {
    /// Why an answer is corrected.
    pub enum CorrectionReason {
        /// It was recorded wrongly.
        RecordedWrongly = "recorded_wrongly",
        /// A second adult marked it otherwise, and it was talked about.
        SecondMarking = "second_marking",
    }
}

impl CorrectionReason {
    /// As shown.
    pub const fn label(self) -> &'static str {
        match self {
            Self::RecordedWrongly => "It was recorded wrongly",
            Self::SecondMarking => "Two adults marked it otherwise and talked about it",
        }
    }
}

crate::vocabulary! {
    /// What came of one item. Four distinct states: an item never reached is not a wrong answer.
    pub enum Outcome as "AnswerOutcome" {
        /// Right, in the pupil's usual accent and speech.
        Right = "right",
        /// Another answer.
        Wrong = "wrong",
        /// Asked, and no answer came.
        NoResponse = "no_response",
        /// Not asked.
        NotOffered = "not_offered",
    }
}

/// One answer of one pupil to one item.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Response {
    /// Its id.
    pub id: ResponseId,
    /// The check.
    pub check: CheckId,
    /// The item.
    pub item: CheckItemId,
    /// The pupil.
    pub pupil: PupilId,
    /// The day it was asked.
    pub on: Date,
    /// What came of it.
    pub outcome: Outcome,
    /// What was heard instead.
    pub heard: Option<Heard>,
    /// How the pupil answered.
    pub mode: ResponseMode,
    /// The adult who asked.
    pub taken_by: StaffId,
    /// The adult who entered it.
    pub entered_by: StaffId,
    /// The response this one corrects.
    pub corrects: Option<ResponseId>,
}

/// The responses that count: those no other response corrects.
pub fn in_force(responses: Vec<Response>) -> Vec<Response> {
    let corrected = corrected(&responses);
    responses.into_iter().filter(|r| !corrected.contains(&r.id)).collect()
}

fn corrected(responses: &[Response]) -> BTreeSet<ResponseId> {
    responses.iter().filter_map(|r| r.corrects).collect()
}

/// The answer each item of a check has among a pupil's responses in a round. What was not offered has none.
pub fn answered(responses: &[Response], check: CheckId) -> BTreeMap<CheckItemId, ResponseId> {
    let corrected = corrected(responses);
    let counts = |r: &&Response| r.check == check && r.outcome != Outcome::NotOffered;
    let standing = responses.iter().filter(counts).filter(|r| !corrected.contains(&r.id));
    standing.map(|r| (r.item, r.id)).collect()
}

crate::vocabulary! {
    /// Why an answer is not taken, now or later.
    pub enum Refusal as "AnswerRefusal" {
        /// The check has no such item.
        UnknownItem = "unknown_item",
        /// The item has an answer in this round: correct that one.
        AlreadyAnswered = "already_answered",
        /// The id belongs to another answer.
        OtherAnswer = "other_answer",
        /// The day is none of the round's.
        OutsideRound = "outside_round",
        /// The day is ahead.
        Future = "future",
        /// The pupil had left by that day.
        Left = "left",
        /// The round has been closed for too long.
        RoundClosed = "round_closed",
        /// What was heard is not written in sounds, or goes with an answer that is not wrong.
        Heard = "heard",
    }
}

crate::vocabulary! {
    /// Something odd about a pupil's answers that are taken all the same.
    pub enum Warning as "AnswerWarning" {
        /// Of that day lessons are recorded, and the pupil was absent from all of them.
        AbsentThatDay = "absent_that_day",
    }
}

/// Why a set of answers is refused.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum AnswerError {
    /// The check has no such item.
    #[error("the check has no such item")]
    UnknownItem(usize),
    /// Two answers to one item.
    #[error("this item is answered twice")]
    Twice(usize),
    /// There is an answer; a correction names it.
    #[error("this pupil has an answer to this item in this round; correct that one")]
    AlreadyAnswered(usize, ResponseId),
    /// Not a day of the round, with its first and last day.
    #[error("{0} is not a day of this round, which is from {1} to {2}")]
    OutsideRound(Date, Date, Date),
    /// Nothing can have happened yet.
    #[error("{0} is in the future")]
    Future(Date),
    /// The pupil was no longer here.
    #[error("this pupil had left by {0}")]
    Left(Date),
    /// Too long after the round.
    #[error("this round is closed, and answers given in it were taken until {0}")]
    RoundClosed(Date),
    /// The id of another answer.
    #[error("is the id of another answer")]
    OtherAnswer(usize),
    /// What was heard is not written in sounds.
    #[error("{1}")]
    HeardUnread(usize, String),
    /// What was heard instead goes with a wrong answer only.
    #[error("says what was heard instead: it goes with a wrong answer")]
    HeardNotWrong(usize),
    /// No answers at all.
    #[error("give at least one answer")]
    Nothing,
}

impl AnswerError {
    /// The field at fault.
    pub fn field(&self) -> String {
        match self {
            Self::UnknownItem(n) | Self::Twice(n) | Self::AlreadyAnswered(n, _) => {
                format!("answers[{n}].item_id")
            }
            Self::OtherAnswer(n) => format!("answers[{n}].id"),
            Self::HeardUnread(n, _) | Self::HeardNotWrong(n) => format!("answers[{n}].heard"),
            Self::OutsideRound(..) | Self::Future(_) | Self::Left(_) | Self::RoundClosed(_) => "on".into(),
            Self::Nothing => "answers".into(),
        }
    }

    /// The same as a word, for an answer that is refused among others that are taken.
    pub const fn refusal(&self) -> Refusal {
        match self {
            Self::UnknownItem(_) | Self::Nothing => Refusal::UnknownItem,
            Self::Twice(_) | Self::AlreadyAnswered(..) => Refusal::AlreadyAnswered,
            Self::OtherAnswer(_) => Refusal::OtherAnswer,
            Self::OutsideRound(..) => Refusal::OutsideRound,
            Self::Future(_) => Refusal::Future,
            Self::Left(_) => Refusal::Left,
            Self::RoundClosed(_) => Refusal::RoundClosed,
            Self::HeardUnread(..) | Self::HeardNotWrong(_) => Refusal::Heard,
        }
    }
}

/// What the store knows before answers are written.
#[derive(Clone, Debug)]
pub struct Facts<'a> {
    /// Items of the check.
    pub items: &'a [CheckItem],
    /// The pupil's responses in force for this check in this round.
    pub existing: &'a BTreeMap<CheckItemId, ResponseId>,
    /// First day of the round.
    pub opens_on: Date,
    /// Last day of the round.
    pub closes_on: Date,
    /// Last day on which answers given in the round are still taken.
    pub taken_until: Date,
    /// The pupil's last day here, if it is known.
    pub left_on: Option<Date>,
    /// Today at the school.
    pub today: Date,
}

impl Facts<'_> {
    /// What is wrong with an answer to an item by itself; `n` is its place.
    pub(super) fn fault(&self, n: usize, item: CheckItemId) -> Option<AnswerError> {
        if !self.items.iter().any(|known| known.id == item) {
            return Some(AnswerError::UnknownItem(n));
        }
        self.existing.get(&item).map(|there| AnswerError::AlreadyAnswered(n, *there))
    }

    /// Whether an answer that comes today comes after the round.
    pub fn late(&self) -> bool {
        self.today > self.closes_on
    }
}

/// Checks that a day lies within the round and not ahead, that the pupil was here, and that answers of the
/// round are still taken.
///
/// # Errors
/// [`AnswerError::OutsideRound`], [`AnswerError::Future`], [`AnswerError::Left`] or
/// [`AnswerError::RoundClosed`].
pub fn check_day(facts: &Facts<'_>, on: Date) -> Result<(), AnswerError> {
    if on > facts.today {
        return Err(AnswerError::Future(on));
    }
    if on < facts.opens_on || on > facts.closes_on {
        return Err(AnswerError::OutsideRound(on, facts.opens_on, facts.closes_on));
    }
    if facts.left_on.is_some_and(|last| last < on) {
        return Err(AnswerError::Left(on));
    }
    if facts.today > facts.taken_until {
        return Err(AnswerError::RoundClosed(facts.taken_until));
    }
    Ok(())
}

/// Checks a set of answers of one pupil, by their items, before any is written.
///
/// # Errors
/// Every answer that cannot stand; or the day, or that there are none.
pub fn check_answers(facts: &Facts<'_>, on: Date, answers: &[CheckItemId]) -> Result<(), Vec<AnswerError>> {
    check_day(facts, on).map_err(|error| vec![error])?;
    if answers.is_empty() {
        return Err(vec![AnswerError::Nothing]);
    }
    let (mut wrong, mut seen) = (Vec::new(), BTreeSet::new());
    for (n, item) in answers.iter().enumerate() {
        wrong.extend(match facts.fault(n, *item) {
            unknown @ Some(AnswerError::UnknownItem(_)) => unknown,
            _ if !seen.insert(*item) => Some(AnswerError::Twice(n)),
            fault => fault,
        });
    }
    if wrong.is_empty() { Ok(()) } else { Err(wrong) }
}

#[cfg(test)]
mod tests;
