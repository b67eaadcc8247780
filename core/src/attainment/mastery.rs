//! The state of one GPC for one pupil, by a plain rule. The thresholds come from the rule
//! pack; no validated threshold exists for single correspondences, and every screen that
//! shows a state says so.

use std::collections::BTreeSet;

use crate::{check::Outcome, rules::SecureRule, time::Date};

crate::vocabulary! {
    /// How far a pupil is with one GPC.
    pub enum State {
        /// Never taught to this pupil, never checked.
        Unknown = "unknown",
        /// Taught, not yet checked. Taught is never known.
        Taught = "taught",
        /// Checked; the rule for secure is not met yet.
        Practising = "practising",
        /// The rule is met.
        Secure = "secure",
        /// The rule was met, and the latest answer was not right.
        Revisit = "revisit",
    }
}

/// One answer to an item that asks for the GPC.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Answer {
    /// The day.
    pub on: Date,
    /// What came of it. `NotOffered` tells nothing and is passed over.
    pub outcome: Outcome,
}

/// The state that follows from teaching and answers. Answers may come in any order; those
/// of one day count together, and a day counts as right only if all its answers were.
pub fn state(taught_on: Option<Date>, answers: &[Answer], rule: &SecureRule) -> State {
    let mut days: BTreeSet<Date> = BTreeSet::new();
    let mut not_right: BTreeSet<Date> = BTreeSet::new();
    for answer in answers.iter().filter(|answer| answer.outcome != Outcome::NotOffered) {
        days.insert(answer.on);
        if answer.outcome != Outcome::Right {
            not_right.insert(answer.on);
        }
    }
    let Some(latest) = days.last().copied() else {
        return if taught_on.is_some() { State::Taught } else { State::Unknown };
    };
    let right: Vec<Date> = days.difference(&not_right).copied().collect();
    match (meets(taught_on, &right, rule), not_right.contains(&latest)) {
        (true, false) => State::Secure,
        (true, true) => State::Revisit,
        (false, _) => State::Practising,
    }
}

/// Right on enough separate days, one of them late enough after teaching. Without a
/// teaching day the first right day stands in for it.
fn meets(taught_on: Option<Date>, right: &[Date], rule: &SecureRule) -> bool {
    let (Some(first), Some(last)) = (right.first(), right.last()) else { return false };
    let since = taught_on.unwrap_or(*first);
    right.len() >= usize::from(rule.right_on_days)
        && last.signed_duration_since(since).num_days() >= i64::from(rule.days_after_teaching)
}

#[cfg(test)]
mod tests {
    use super::*;

    const RULE: SecureRule = SecureRule { right_on_days: 3, days_after_teaching: 7 };

    /// `r` right, `w` wrong, `-` no response, `n` not offered, each with its day of October.
    fn check(taught: Option<u32>, answers: &str, expected: State) {
        let day = |d| Date::from_ymd_opt(2025, 10, d).unwrap();
        let answers: Vec<Answer> = answers
            .split_whitespace()
            .map(|a| {
                let outcome = match &a[..1] {
                    "r" => Outcome::Right,
                    "w" => Outcome::Wrong,
                    "-" => Outcome::NoResponse,
                    _ => Outcome::NotOffered,
                };
                Answer { on: day(a[1..].parse().unwrap()), outcome }
            })
            .collect();
        assert_eq!(state(taught.map(day), &answers, &RULE), expected, "{taught:?} {answers:?}");
    }

    #[test]
    fn nothing_asked_is_never_not_secure() {
        check(None, "", State::Unknown);
        check(None, "n3", State::Unknown);
        check(Some(1), "", State::Taught);
        check(Some(1), "n3 n4", State::Taught);
    }

    #[test]
    fn secure_needs_three_days_and_one_a_week_after_teaching() {
        check(Some(1), "r2 r3", State::Practising);
        check(Some(1), "r2 r3 r7", State::Practising);
        check(Some(1), "r2 r3 r8", State::Secure);
        check(Some(1), "r8 r8 r8", State::Practising);
        check(None, "r1 r2 r8", State::Secure);
        check(None, "r2 r3 r8", State::Practising);
    }

    #[test]
    fn a_day_with_a_wrong_answer_is_not_a_right_day() {
        check(Some(1), "r2 w2 r3 r8", State::Practising);
        check(Some(1), "r2 w2 r3 r8 r9", State::Secure);
    }

    #[test]
    fn a_later_miss_is_to_revisit_not_unknown() {
        check(Some(1), "r2 r3 r8 w10", State::Revisit);
        check(Some(1), "r2 r3 r8 -10", State::Revisit);
        check(Some(1), "r2 r3 r8 n10", State::Secure);
        check(Some(1), "r2 r3 r8 w10 r12", State::Secure);
        check(Some(1), "w10 r8 r3 r2", State::Revisit);
    }
}
