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
pub mod placement;
mod reach;
mod round;
pub mod second;
mod sitting;
mod speech;
mod words;

use std::collections::{BTreeMap, BTreeSet};

pub use carried::{CarriedAnswers, CarriedChange, CarriedRow, carried_changes, carried_check_id, check_rows};
pub use carried_sheet::{KnownPupil, SheetContext, read_carried};
pub use heard::{Heard, ResponseMode};
pub use item::CheckItem;
pub use reach::{NotAccessible, ReviewError, check_review};
pub use round::{Checker, Dates, Known, Places, RoundError, RoundPlan, Standing, Whom};
use serde::Serialize;
pub use sitting::{Sent, Taken, as_answered, last, next, sort_out};
pub use speech::{HeardIs, NoteError, SpeechNote, Usual, heard_is};
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
    /// Not a day of the round.
    #[error("{0} is not a day of this round")]
    OutsideRound(Date),
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
            Self::OutsideRound(_) | Self::Future(_) | Self::Left(_) | Self::RoundClosed(_) => "on".into(),
            Self::Nothing => "answers".into(),
        }
    }

    /// The same as a word, for an answer that is refused among others that are taken.
    pub const fn refusal(&self) -> Refusal {
        match self {
            Self::UnknownItem(_) | Self::Nothing => Refusal::UnknownItem,
            Self::Twice(_) | Self::AlreadyAnswered(..) => Refusal::AlreadyAnswered,
            Self::OtherAnswer(_) => Refusal::OtherAnswer,
            Self::OutsideRound(_) => Refusal::OutsideRound,
            Self::Future(_) => Refusal::Future,
            Self::Left(_) => Refusal::Left,
            Self::RoundClosed(_) => Refusal::RoundClosed,
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
        return Err(AnswerError::OutsideRound(on));
    }
    if facts.left_on.is_some_and(|last| last < on) {
        return Err(AnswerError::Left(on));
    }
    if facts.today > facts.taken_until {
        return Err(AnswerError::RoundClosed(facts.taken_until));
    }
    Ok(())
}

/// Checks a set of answers of one pupil before any is written.
///
/// # Errors
/// The first answer that cannot stand.
pub fn check_answers(
    facts: &Facts<'_>,
    on: Date,
    answers: &[(CheckItemId, Outcome)],
) -> Result<(), AnswerError> {
    check_day(facts, on)?;
    if answers.is_empty() {
        return Err(AnswerError::Nothing);
    }
    let mut seen = BTreeSet::new();
    for (n, (item, _)) in answers.iter().enumerate() {
        if !facts.items.iter().any(|known| known.id == *item) {
            return Err(AnswerError::UnknownItem(n));
        }
        if !seen.insert(*item) {
            return Err(AnswerError::Twice(n));
        }
        if let Some(existing) = facts.existing.get(item) {
            return Err(AnswerError::AlreadyAnswered(n, *existing));
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::Title;
    use uuid::Uuid;

    fn response(id: u128, corrects: Option<u128>, outcome: Outcome) -> Response {
        Response {
            id: ResponseId::from_uuid(Uuid::from_u128(id)),
            check: CheckId::from_uuid(Uuid::nil()),
            item: CheckItemId::from_uuid(Uuid::nil()),
            pupil: PupilId::from_uuid(Uuid::nil()),
            on: Date::default(),
            outcome,
            heard: None,
            mode: ResponseMode::Spoken,
            taken_by: StaffId::from_uuid(Uuid::nil()),
            entered_by: StaffId::from_uuid(Uuid::nil()),
            corrects: corrects.map(|c| ResponseId::from_uuid(Uuid::from_u128(c))),
        }
    }

    #[test]
    fn the_last_of_a_chain_of_corrections_counts() {
        let chain = vec![
            response(1, None, Outcome::Wrong),
            response(2, Some(1), Outcome::Right),
            response(3, Some(2), Outcome::NoResponse),
            response(9, None, Outcome::Right),
        ];
        let left: Vec<_> = in_force(chain).into_iter().map(|r| r.id.uuid().as_u128()).collect();
        assert_eq!(left, [3, 9]);
    }

    #[test]
    fn what_was_heard_is_sounds_and_nothing_else() {
        for (typed, kept) in
            [("bɪn", "b.ɪ.n"), ("b ɪ n", "b.ɪ.n"), ("tʃ", "tʃ"), ("t.ʃ", "t.ʃ"), ("/aɪ/", "aɪ")]
        {
            assert_eq!(Heard::new(typed).map(|heard| heard.to_string()), Ok(kept.to_owned()), "{typed}");
        }
        for bad in ["", "-", "bin because she is tired", "dyslexia?"] {
            assert!(Heard::new(bad).is_err(), "{bad}");
        }
        assert!(Heard::new(&"b".repeat(24)).is_ok());
        assert!(Heard::new(&"b".repeat(25)).is_err());
    }

    #[test]
    fn answers_are_checked_before_any_is_written() {
        let item = |n| CheckItemId::from_uuid(Uuid::from_u128(n));
        let day = |d| Date::from_ymd_opt(2025, 10, d).unwrap();
        let items: Vec<CheckItem> =
            (1..=3).map(|n| CheckItem::new(item(n), Title::new("m").unwrap())).collect();
        let old = ResponseId::from_uuid(Uuid::max());
        let existing = BTreeMap::from([(item(3), old)]);
        let facts = Facts {
            items: &items,
            existing: &existing,
            opens_on: day(6),
            closes_on: day(17),
            taken_until: day(31),
            left_on: Some(day(8)),
            today: day(10),
        };
        let check = |on, answers: &[u128]| {
            let answers: Vec<_> = answers.iter().map(|n| (item(*n), Outcome::Right)).collect();
            check_answers(&facts, day(on), &answers)
        };
        assert_eq!(check(6, &[1, 2]), Ok(()));
        assert_eq!(check(5, &[1]), Err(AnswerError::OutsideRound(day(5))));
        assert_eq!(check(11, &[1]), Err(AnswerError::Future(day(11))));
        assert_eq!(check(6, &[]), Err(AnswerError::Nothing));
        assert_eq!(check(6, &[1, 4]), Err(AnswerError::UnknownItem(1)));
        assert_eq!(check(6, &[1, 1]), Err(AnswerError::Twice(1)));
        assert_eq!(check(6, &[1, 3]), Err(AnswerError::AlreadyAnswered(1, old)));
        assert_eq!(check(8, &[1]), Ok(()), "the last day here");
        assert_eq!(check(9, &[1]), Err(AnswerError::Left(day(9))));
        let late = |today| check_day(&Facts { today: day(today), ..facts.clone() }, day(8));
        assert_eq!((late(31), late(18)), (Ok(()), Ok(())));
        let over = Facts { taken_until: day(20), today: day(21), ..facts.clone() };
        assert_eq!(check_day(&over, day(8)), Err(AnswerError::RoundClosed(day(20))));
        assert_eq!(
            [10, 17, 18].map(|today| Facts { today: day(today), ..facts.clone() }.late()),
            [false, false, true]
        );
    }
}
