//! Checks that are not accessible to a pupil this way: the pupil leaves what is counted, in plain sight, until
//! a day on which somebody looks at it again.

use chrono::Days;

use super::{CheckKind, ResponseMode};
use crate::{rules::NotAccessibleRule, time::Date};

/// That checks are not accessible to a pupil this way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NotAccessible {
    /// Of this kind; none for every kind.
    pub kind: Option<CheckKind>,
    /// Answered this way; none for every way.
    pub mode: Option<ResponseMode>,
    /// The first day.
    pub from: Date,
    /// The last day, by which it is looked at again.
    pub review_on: Date,
    /// The day on which it was ended before.
    pub ended_on: Option<Date>,
}

impl NotAccessible {
    /// Whether it holds on a day. What nobody looked at again holds no longer: a pupil is asked rather than
    /// left out unseen.
    pub fn holds_on(&self, day: Date) -> bool {
        self.from <= day && day <= self.review_on && self.ended_on.is_none_or(|ended| day < ended)
    }

    /// Whether it takes a pupil who usually answers this way out of the count of a check of this kind on a day.
    pub fn takes_out(&self, kind: CheckKind, usual: ResponseMode, day: Date) -> bool {
        self.holds_on(day)
            && self.kind.is_none_or(|of| of == kind)
            && self.mode.is_none_or(|mode| mode == usual)
    }
}

/// Why a day to look again is refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ReviewError {
    /// Not ahead.
    #[error("must lie after today: it is the day by which somebody looks again")]
    NotAhead,
    /// Too far ahead.
    #[error("must be {0} at the latest: look again by then, and say so anew if it still holds")]
    TooLate(Date),
}

/// Checks the day by which it is looked at again.
///
/// # Errors
/// [`ReviewError`] outside the days that the rule pack allows.
pub fn check_review(rule: &NotAccessibleRule, today: Date, review_on: Date) -> Result<(), ReviewError> {
    let last = today.checked_add_days(Days::new(rule.review_days_most.into())).unwrap_or(today);
    if review_on <= today {
        return Err(ReviewError::NotAhead);
    }
    if review_on > last { Err(ReviewError::TooLate(last)) } else { Ok(()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(d: u32) -> Date {
        Date::from_ymd_opt(2026, 11, d).unwrap()
    }

    #[test]
    fn it_holds_to_its_review_and_no_longer() {
        let entry =
            NotAccessible { kind: None, mode: None, from: day(5), review_on: day(20), ended_on: None };
        assert_eq!([4, 5, 20, 21].map(|d| entry.holds_on(day(d))), [false, true, true, false]);
        let ended = NotAccessible { ended_on: Some(day(12)), ..entry };
        assert_eq!([11, 12].map(|d| ended.holds_on(day(d))), [true, false]);
    }

    #[test]
    fn a_way_a_pupil_does_not_use_takes_nobody_out() {
        use {CheckKind::*, ResponseMode::*};
        let of = |kind, mode| NotAccessible { kind, mode, from: day(5), review_on: day(20), ended_on: None };
        for (entry, kind, usual, out) in [
            (of(None, None), WordReading, Spoken, true),
            (of(Some(GpcRecognition), None), WordReading, Spoken, false),
            (of(Some(WordReading), Some(Spoken)), WordReading, Spoken, true),
            // Asked to choose, the pupil answers.
            (of(Some(WordReading), Some(Spoken)), WordReading, Choosing, false),
            (of(None, Some(Choosing)), PseudoWordReading, Choosing, true),
        ] {
            assert_eq!(entry.takes_out(kind, usual, day(10)), out, "{entry:?} {kind:?} {usual:?}");
        }
    }

    #[test]
    fn a_review_lies_ahead_and_within_the_packs_days() {
        let rule = NotAccessibleRule {
            reasons: Vec::new(),
            review_days_most: 10,
            due_within_days: 3,
            caution: String::new(),
        };
        let check = |d| check_review(&rule, day(5), day(d));
        assert_eq!(check(5), Err(ReviewError::NotAhead));
        assert_eq!((check(6), check(15)), (Ok(()), Ok(())));
        assert_eq!(check(16), Err(ReviewError::TooLate(day(15))));
    }
}
