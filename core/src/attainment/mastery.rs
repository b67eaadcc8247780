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
    /// Whether it was carried in from before the records here.
    pub carried_in: bool,
}

/// The state that follows from teaching and answers. Answers may come in any order; those
/// of one day count together, and a day counts as right only if all its answers were. Of the days
/// that answers carried in alone make right, the rule says how many count: the latest.
pub fn state(taught_on: Option<Date>, answers: &[Answer], rule: &SecureRule) -> State {
    let mut days: BTreeSet<Date> = BTreeSet::new();
    let mut not_right: BTreeSet<Date> = BTreeSet::new();
    let mut asked_here: BTreeSet<Date> = BTreeSet::new();
    for answer in answers.iter().filter(|answer| answer.outcome != Outcome::NotOffered) {
        days.insert(answer.on);
        if !answer.carried_in {
            asked_here.insert(answer.on);
        }
        if answer.outcome != Outcome::Right {
            not_right.insert(answer.on);
        }
    }
    let Some(latest) = days.last().copied() else {
        return if taught_on.is_some() { State::Taught } else { State::Unknown };
    };
    let right = days.difference(&not_right).copied();
    let (mut right, carried): (Vec<Date>, Vec<Date>) = right.partition(|day| asked_here.contains(day));
    right.extend(carried.iter().rev().take(rule.carried_in_days.into()));
    right.sort_unstable();
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

    const RULE: SecureRule = SecureRule { right_on_days: 3, days_after_teaching: 7, carried_in_days: 1 };

    /// `r` right, `w` wrong, `-` no response, `n` not offered, each with its day of October; behind
    /// a `c` carried in.
    fn check(taught: Option<u32>, answers: &str, expected: State) {
        let day = |d| Date::from_ymd_opt(2025, 10, d).unwrap();
        let answers: Vec<Answer> = answers
            .split_whitespace()
            .map(|a| {
                let (carried_in, a) = (a.starts_with('c'), a.trim_start_matches('c'));
                let outcome = match &a[..1] {
                    "r" => Outcome::Right,
                    "w" => Outcome::Wrong,
                    "-" => Outcome::NoResponse,
                    _ => Outcome::NotOffered,
                };
                Answer { on: day(a[1..].parse().unwrap()), outcome, carried_in }
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

    #[test]
    fn of_answers_carried_in_one_day_counts() {
        check(Some(1), "cr2", State::Practising);
        check(Some(1), "cr2 cr3 cr8", State::Practising);
        // Two days here and one carried in, whichever comes first.
        check(Some(1), "cr2 r3 r8", State::Secure);
        check(Some(1), "r2 r3 cr8", State::Secure);
        check(Some(1), "cr2 cr3 r8", State::Practising);
        // Of two carried in the latest counts: without a teaching day the 3rd to the 9th is six days.
        check(None, "cr1 cr3 r8 r9", State::Practising);
        check(None, "cr1 r2 r8", State::Secure);
        // A day that was asked here too is a day here.
        check(Some(1), "cr2 r2 cr3 r8", State::Secure);
        check(Some(1), "cr2 cw2 r3 r8", State::Practising);
        check(Some(1), "r2 r3 r8 cw10", State::Revisit);
    }

    #[test]
    fn a_rule_may_count_none_of_what_was_carried_in() {
        let day = |d| Date::from_ymd_opt(2025, 10, d).unwrap();
        let answer = |d, carried_in| Answer { on: day(d), outcome: Outcome::Right, carried_in };
        let answers = [answer(2, true), answer(3, false), answer(8, false)];
        let rule = |carried_in_days| SecureRule { carried_in_days, ..RULE };
        assert_eq!(state(Some(day(1)), &answers, &rule(0)), State::Practising);
        assert_eq!(state(Some(day(1)), &answers, &rule(1)), State::Secure);
        assert_eq!(state(None, &[answer(2, true)], &rule(0)), State::Practising);
    }
}
