//! The state of one GPC for one pupil, by a plain rule. The thresholds come from the rule
//! pack; no validated threshold exists for single correspondences, and every screen that
//! shows a state says so.

use std::collections::BTreeMap;

use chrono::Days;

use crate::{check::Outcome, rules::SecureRule, time::Date};

crate::vocabulary! {
    /// How far a pupil is with one GPC.
    pub enum State as "AttainmentState" {
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
    /// Whether it was one of several shown, so that luck has a part in it.
    pub by_choice: bool,
}

/// How far the rule for secure is met, and what is still needed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Progress {
    /// The state.
    pub state: State,
    /// Days that count as right.
    pub days_right: usize,
    /// Days on which it must still be answered right, if all goes well from now on; 0 when secure.
    pub days_needed: usize,
    /// The first day on which one of those still needed can be late enough after teaching; none where the rule asks
    /// for no such day any more, or nothing says when it was taught.
    pub late_from: Option<Date>,
    /// The latest day on which it was asked, carried in or not.
    pub last_asked: Option<Date>,
    /// Whether every answer was right, and there is one.
    pub always_right: bool,
}

/// The state that follows from teaching and answers, as [`progress`] finds it.
pub fn state(taught_on: Option<Date>, answers: &[Answer], rule: &SecureRule) -> State {
    progress(taught_on, answers, rule).state
}

/// How far the rule is met by teaching and answers. Answers may come in any order; those of one day count
/// together, and a day counts as right only if all its answers were. Of the days that answers carried in
/// alone make right, the rule says how many count: the latest.
pub fn progress(taught_on: Option<Date>, answers: &[Answer], rule: &SecureRule) -> Progress {
    let days = days_asked(answers);
    let Some((latest, last)) = days.last_key_value().map(|(on, day)| (*on, *day)) else {
        let state = if taught_on.is_some() { State::Taught } else { State::Unknown };
        return Progress {
            state,
            days_right: 0,
            days_needed: usize::from(rule.right_on_days).max(1),
            late_from: taught_on.and_then(|on| late(on, rule)),
            last_asked: None,
            always_right: false,
        };
    };
    let right = days_counted(&days, rule);
    // Without a teaching day the first right day stands in for it.
    let since = taught_on.or(right.first().copied());
    let late_from = since.and_then(|since| late(since, rule));
    let is_late = late_from.is_some_and(|from| right.last().is_some_and(|last| *last >= from));
    let enough = usize::from(rule.right_on_days).saturating_sub(right.len());
    let needed = enough.max(usize::from(!is_late));
    let state = match (needed, last.right) {
        (0, true) => State::Secure,
        (0, false) => State::Revisit,
        (_, _) => State::Practising,
    };
    Progress {
        state,
        days_right: right.len(),
        days_needed: needed.max(usize::from(!last.right)),
        late_from: late_from.filter(|_| !is_late),
        last_asked: Some(latest),
        always_right: days.values().all(|day| day.right),
    }
}

/// The first day that is late enough after teaching.
fn late(taught_on: Date, rule: &SecureRule) -> Option<Date> {
    taught_on.checked_add_days(Days::new(rule.days_after_teaching.into()))
}

/// What one day's answers come to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct DayAsked {
    /// Whether all were right.
    pub(super) right: bool,
    /// Whether one of them was asked here.
    pub(super) here: bool,
}

/// The days on which something was asked.
pub(super) fn days_asked(answers: &[Answer]) -> BTreeMap<Date, DayAsked> {
    let mut days: BTreeMap<Date, DayAsked> = BTreeMap::new();
    for answer in answers.iter().filter(|answer| answer.outcome != Outcome::NotOffered) {
        let day = days.entry(answer.on).or_insert(DayAsked { right: true, here: false });
        day.right &= answer.outcome == Outcome::Right;
        day.here |= !answer.carried_in;
    }
    days
}

/// The right days that count, in order: all that were asked here, and of the others the latest.
pub(super) fn days_counted(days: &BTreeMap<Date, DayAsked>, rule: &SecureRule) -> Vec<Date> {
    let right = days.iter().filter(|(_, day)| day.right);
    let (here, carried): (Vec<_>, Vec<_>) = right.partition(|(_, day)| day.here);
    let carried = carried.into_iter().rev().take(rule.carried_in_days.into());
    let mut counted: Vec<Date> = here.into_iter().chain(carried).map(|(on, _)| *on).collect();
    counted.sort_unstable();
    counted
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
                Answer { on: day(a[1..].parse().unwrap()), outcome, carried_in, by_choice: false }
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
        let answer =
            |d, carried_in| Answer { on: day(d), outcome: Outcome::Right, carried_in, by_choice: false };
        let answers = [answer(2, true), answer(3, false), answer(8, false)];
        let rule = |carried_in_days| SecureRule { carried_in_days, ..RULE };
        assert_eq!(state(Some(day(1)), &answers, &rule(0)), State::Practising);
        assert_eq!(state(Some(day(1)), &answers, &rule(1)), State::Secure);
        assert_eq!(state(None, &[answer(2, true)], &rule(0)), State::Practising);
    }

    /// Days right, days still needed, and from when one is late enough.
    #[test]
    fn what_is_still_needed_is_said_in_days() {
        let day = |d| Date::from_ymd_opt(2025, 10, d).unwrap();
        let check =
            |taught: Option<u32>, answers: &[(u32, Outcome)], expected: (usize, usize, Option<u32>)| {
                let answers: Vec<Answer> = answers
                    .iter()
                    .map(|(d, outcome)| Answer {
                        on: day(*d),
                        outcome: *outcome,
                        carried_in: false,
                        by_choice: false,
                    })
                    .collect();
                let found = progress(taught.map(day), &answers, &RULE);
                assert_eq!(
                    (found.days_right, found.days_needed, found.late_from),
                    (expected.0, expected.1, expected.2.map(day)),
                    "{taught:?} {answers:?}"
                );
            };
        use Outcome::{Right, Wrong};
        check(Some(1), &[], (0, 3, Some(8)));
        check(None, &[], (0, 3, None));
        check(Some(1), &[(2, Right), (3, Right)], (2, 1, Some(8)));
        // Three days, none late enough: one more, from the 8th on.
        check(Some(1), &[(2, Right), (3, Right), (4, Right)], (3, 1, Some(8)));
        check(Some(1), &[(2, Right), (3, Right), (8, Right)], (3, 0, None));
        check(Some(1), &[(2, Right), (9, Right)], (2, 1, None));
        // To revisit: the rule was met, one right day brings it back.
        check(Some(1), &[(2, Right), (3, Right), (8, Right), (10, Wrong)], (3, 1, None));
        check(Some(1), &[(2, Wrong)], (0, 3, Some(8)));
        // Nothing says when it was taught: the first right day stands in for it.
        check(None, &[(2, Right)], (1, 2, Some(9)));
    }
}
