//! Who is to be checked in a window, and why. The year group a pupil is taught in decides, never the date of
//! birth.

use super::{CheckResult, EligibleRule, Outcome, StatutoryRule, Thresholds, WindowDays};
use crate::time::Date;

crate::vocabulary! {
    /// Why a pupil is to be checked in a window, or is not.
    pub enum Reason as "statutory_reason" {
        /// Everybody of this year group is.
        YearGroup = "year_group",
        /// Was checked before, and below the threshold.
        BelowBefore = "below_before",
        /// A code stands in place of an earlier mark.
        NotCheckedBefore = "not_checked_before",
        /// No earlier result is known here: bring one in if there is one.
        NoEarlierResult = "no_earlier_result",
        /// The year group is not recorded: say it first.
        YearGroupUnknown = "year_group_unknown",
        /// What had to be reached the last time is not known yet.
        ThresholdUnknown = "threshold_unknown",
        /// Reached it before.
        ReachedBefore = "reached_before",
        /// Nobody of this year group is checked in this window.
        OtherYearGroup = "other_year_group",
        /// Left before the window.
        LeftBefore = "left_before",
        /// Came after it.
        JoinedAfter = "joined_after",
    }
}

crate::vocabulary! {
    /// Whether a pupil is to be checked.
    pub enum Standing as "statutory_standing" {
        /// Yes.
        ToCheck = "to_check",
        /// Cannot be said yet: something is missing.
        Open = "open",
        /// No.
        NotToCheck = "not_to_check",
    }
}

impl Reason {
    /// What follows from it.
    pub const fn standing(self) -> Standing {
        match self {
            Self::YearGroup | Self::BelowBefore | Self::NotCheckedBefore | Self::NoEarlierResult => {
                Standing::ToCheck
            }
            Self::YearGroupUnknown | Self::ThresholdUnknown => Standing::Open,
            Self::ReachedBefore | Self::OtherYearGroup | Self::LeftBefore | Self::JoinedAfter => {
                Standing::NotToCheck
            }
        }
    }
}

/// A result of a window before, taken here or brought in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EarlierResult {
    /// The calendar year.
    pub year: i32,
    /// The result.
    pub result: CheckResult,
}

/// What decides about a pupil.
#[derive(Clone, Copy, Debug)]
pub struct OfPupil<'a> {
    /// The year group taught in the window's school year; none where it is not recorded.
    pub year_group: Option<&'a str>,
    /// The first day in a class in that school year, where one is on record.
    pub first_day: Option<Date>,
    /// The last day here.
    pub left_on: Option<Date>,
    /// Results of windows before, in any order.
    pub earlier: &'a [EarlierResult],
}

/// Whether and why a pupil is to be checked in a window of some year groups.
pub fn standing(
    rule: &StatutoryRule,
    thresholds: &Thresholds<'_>,
    days: &WindowDays,
    year_groups: &[String],
    pupil: &OfPupil<'_>,
) -> Reason {
    if pupil.left_on.is_some_and(|last| last < days.opens_on) {
        return Reason::LeftBefore;
    }
    if pupil.first_day.is_some_and(|first| first > days.last()) {
        return Reason::JoinedAfter;
    }
    let Some(year_group) = pupil.year_group else { return Reason::YearGroupUnknown };
    let of_window = year_groups.iter().any(|code| code == year_group);
    match rule.year(year_group).filter(|_| of_window).map(|year| year.rule) {
        None => Reason::OtherYearGroup,
        Some(EligibleRule::All) => Reason::YearGroup,
        Some(EligibleRule::NotMetOrNotChecked) => before(thresholds, pupil.earlier),
    }
}

/// What earlier results make of a pupil who is checked again unless it was reached.
fn before(thresholds: &Thresholds<'_>, earlier: &[EarlierResult]) -> Reason {
    let outcomes: Vec<Option<Outcome>> =
        earlier.iter().map(|one| one.result.outcome(thresholds.of(one.year))).collect();
    let any = |outcome: Option<Outcome>| outcomes.contains(&outcome);
    if any(Some(Outcome::Met)) {
        Reason::ReachedBefore
    } else if any(Some(Outcome::NotYetKnown)) {
        Reason::ThresholdUnknown
    } else if any(Some(Outcome::NotMet)) {
        Reason::BelowBefore
    } else if outcomes.is_empty() {
        Reason::NoEarlierResult
    } else {
        Reason::NotCheckedBefore
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;
    use crate::rules::pack;

    fn day(text: &str) -> Date {
        text.parse().unwrap()
    }

    fn mark(year: i32, mark: u8) -> EarlierResult {
        EarlierResult { year, result: CheckResult::Mark(mark) }
    }

    fn code(year: i32, code: &str) -> EarlierResult {
        EarlierResult { year, result: CheckResult::Code(code.into()) }
    }

    fn ask(pack_id: &str, pupil: &OfPupil<'_>, year_groups: &[&str]) -> Reason {
        let rule = &pack(pack_id).unwrap().statutory_check;
        let days = WindowDays {
            opens_on: day("2027-06-14"),
            closes_on: day("2027-06-18"),
            absentees_until: Some(day("2027-06-25")),
        };
        let groups: Vec<String> = year_groups.iter().map(|code| (*code).to_owned()).collect();
        standing(rule, &Thresholds::new(rule, BTreeMap::new()), &days, &groups, pupil)
    }

    #[test]
    fn the_year_group_taught_decides_with_what_was_before() {
        let both = ["year_1", "year_2"];
        let of = |year_group, earlier: &[EarlierResult]| {
            ask("england", &OfPupil { year_group, first_day: None, left_on: None, earlier }, &both)
        };
        assert_eq!(of(Some("year_1"), &[]), Reason::YearGroup);
        // A pupil taught in Year 1 once more is checked whatever was before.
        assert_eq!(of(Some("year_1"), &[mark(2026, 40)]), Reason::YearGroup);
        assert_eq!(of(Some("reception"), &[]), Reason::OtherYearGroup);
        assert_eq!(of(None, &[]), Reason::YearGroupUnknown);
        assert_eq!(of(Some("year_2"), &[]), Reason::NoEarlierResult);
        assert_eq!(of(Some("year_2"), &[mark(2026, 31)]), Reason::ReachedBefore);
        assert_eq!(of(Some("year_2"), &[mark(2026, 30)]), Reason::BelowBefore);
        // 31 was not enough a year earlier.
        assert_eq!(of(Some("year_2"), &[mark(2025, 31)]), Reason::BelowBefore);
        assert_eq!(of(Some("year_2"), &[code(2026, "A")]), Reason::NotCheckedBefore);
        assert_eq!(of(Some("year_2"), &[code(2026, "A"), mark(2025, 3)]), Reason::BelowBefore);
        // Reached in one of several windows is reached.
        assert_eq!(of(Some("year_2"), &[mark(2026, 12), mark(2026, 33)]), Reason::ReachedBefore);
        assert_eq!(of(Some("year_2"), &[mark(2027, 12)]), Reason::ThresholdUnknown);
        assert_eq!(of(Some("year_2"), &[mark(2027, 12), mark(2026, 33)]), Reason::ReachedBefore);
    }

    #[test]
    fn who_left_before_or_came_after_is_not_checked_here() {
        let of = |first: Option<&str>, left: Option<&str>| {
            let (first_day, left_on) = (first.map(day), left.map(day));
            let pupil = OfPupil { year_group: Some("year_1"), first_day, left_on, earlier: &[] };
            ask("england", &pupil, &["year_1"])
        };
        assert_eq!(of(None, Some("2027-06-13")), Reason::LeftBefore);
        // Who left in the window is entered, by a code if not checked.
        assert_eq!(of(None, Some("2027-06-14")), Reason::YearGroup);
        assert_eq!(of(Some("2027-06-25"), None), Reason::YearGroup);
        assert_eq!(of(Some("2027-06-26"), None), Reason::JoinedAfter);
    }

    #[test]
    fn a_window_of_year_2_alone_and_a_pack_without_year_2() {
        let of = |pack_id: &str, year_group, year_groups: &[&str]| {
            let pupil =
                OfPupil { year_group: Some(year_group), first_day: None, left_on: None, earlier: &[] };
            ask(pack_id, &pupil, year_groups)
        };
        assert_eq!(of("england", "year_1", &["year_2"]), Reason::OtherYearGroup);
        assert_eq!(of("england", "year_2", &["year_2"]), Reason::NoEarlierResult);
        assert_eq!(of("south-australia", "year_1", &["year_1"]), Reason::YearGroup);
        assert_eq!(of("south-australia", "year_2", &["year_1"]), Reason::OtherYearGroup);
    }
}
