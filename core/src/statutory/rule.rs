//! The rule pack's part. Each pack is checked when it is read, so that nothing else has to doubt it.

use std::collections::BTreeSet;

use serde::Deserialize;

use super::Outcome;
use crate::{
    access::Role,
    rules::{Coded, PracticeSection},
    time::Date,
};

/// The statutory check of a jurisdiction.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct StatutoryRule {
    /// As shown.
    pub name: String,
    /// The most marks; the least is 0.
    pub maximum: u8,
    /// Its sections, in order.
    pub sections: Vec<PracticeSection>,
    /// What has to be reached, by year.
    pub thresholds: Vec<YearThreshold>,
    /// The same in a year that is not listed, where it is known before the check.
    pub threshold_default: Option<u8>,
    /// How it becomes known.
    pub threshold_rule: String,
    /// What may stand in place of a mark.
    pub codes: Vec<ResultCode>,
    /// What is worked out from a mark and entered by nobody.
    pub derived_codes: Vec<DerivedCode>,
    /// What nothing means.
    pub blank_rule: String,
    /// Who is checked.
    pub eligible: Vec<EligibleYear>,
    /// How the year group is told.
    pub eligible_rule: String,
    /// Why the check may be wrong for a pupil.
    pub not_appropriate: Vec<Coded>,
    /// Why else a pupil may not take it.
    pub other_reasons: Vec<Coded>,
    /// Why a result that was submitted may be changed.
    pub amendment_reasons: Vec<Coded>,
    /// The terms in which it can be, in the order of a calendar year.
    pub terms: Vec<Coded>,
    /// Windows that were set.
    pub windows: Vec<OfficialWindow>,
    /// How they are set.
    pub window_rule: String,
    /// What keeps it fair.
    pub integrity: Vec<String>,
    /// Published figures.
    pub national: Vec<NationalSeries>,
    /// Who is counted in them.
    pub denominator_rule: Option<String>,
    /// How marks about the threshold are looked at.
    pub near_threshold: NearThresholdRule,
    /// What parents are told.
    pub letter: LetterRule,
}

/// What had to be reached in a year.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub struct YearThreshold {
    /// The calendar year.
    pub year: i32,
    /// The least mark that meets it; none while it is not known.
    pub threshold: Option<u8>,
    /// Since when it is known, where that is on record.
    pub published_on: Option<Date>,
}

/// What may stand in place of a mark.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct ResultCode {
    /// As stored.
    pub code: String,
    /// As shown.
    pub label: String,
    /// Whether its pupils count in the published percentage.
    pub in_denominator: bool,
    /// Whether it stands in place of a mark: always, so far.
    pub excludes_mark: bool,
    /// Who decides that it holds; nobody in particular where empty.
    #[serde(default)]
    pub decided_by: Vec<Role>,
    /// Whether it needs one of the reasons.
    #[serde(default)]
    pub needs_reason: bool,
    /// What parents are told, behind the child's name.
    pub for_parents: String,
}

/// What is worked out from a mark.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct DerivedCode {
    /// As written in files.
    pub code: String,
    /// As shown.
    pub label: String,
    /// Of which outcome.
    pub outcome: Outcome,
}

crate::vocabulary! {
    /// Who of a year group is checked.
    pub enum EligibleRule {
        /// Every pupil.
        All = "all",
        /// Those who were not checked before, or did not meet it.
        NotMetOrNotChecked = "not_met_or_not_checked",
    }
}

/// A year group that is checked.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct EligibleYear {
    /// Its code.
    pub year_group: String,
    /// Who of it.
    pub rule: EligibleRule,
    /// The published series it compares with.
    pub national: Option<String>,
}

/// A window that was set for a year.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct OfficialWindow {
    /// The calendar year.
    pub year: i32,
    /// The term's code.
    pub term: String,
    /// Codes of the year groups checked in it.
    pub year_groups: Vec<String>,
    /// First day; none where each school chose.
    pub opens_on: Option<Date>,
    /// Last day.
    pub closes_on: Option<Date>,
    /// Last day for those who were away.
    pub absentees_until: Option<Date>,
}

/// Published figures by year.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct NationalSeries {
    /// Its id.
    pub id: String,
    /// As shown.
    pub name: String,
    /// What the values are; per cent.
    pub unit: String,
    /// The values, by year.
    pub points: Vec<NationalPoint>,
    /// Years in which there was no check.
    pub no_check: Vec<i32>,
    /// Years from which on figures do not compare with earlier ones.
    pub method_breaks: Vec<MethodBreak>,
}

/// A published value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub struct NationalPoint {
    /// The year.
    pub year: i32,
    /// The value.
    pub value: u8,
}

/// That figures from a year on do not compare with earlier ones.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct MethodBreak {
    /// The first year.
    pub year: i32,
    /// What is to be said.
    pub text: String,
}

/// How marks about the threshold are looked at.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct NearThresholdRule {
    /// Marks below and above it that are shown.
    pub marks_either_side: u8,
    /// To be shown with them.
    pub caution: String,
}

/// What parents are told.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct LetterRule {
    /// What the check is.
    pub what: String,
    /// Of a mark that meets the threshold.
    pub met: String,
    /// Of one that does not.
    pub not_met: String,
    /// Of one while the threshold is not known.
    pub not_yet_known: String,
    /// What a result is not.
    pub is_not: String,
}

fn once<'a, T: Ord + 'a>(of: impl Iterator<Item = T>) -> bool {
    let mut seen = BTreeSet::new();
    of.into_iter().all(|one| seen.insert(one))
}

fn codes(list: &[Coded]) -> impl Iterator<Item = &str> {
    list.iter().map(|one| one.code.as_str())
}

impl StatutoryRule {
    /// The code as the pack spells it.
    pub fn code(&self, code: &str) -> Option<&ResultCode> {
        self.codes.iter().find(|one| one.code.eq_ignore_ascii_case(code))
    }

    /// A term's place in the calendar year.
    pub fn term(&self, code: &str) -> Option<usize> {
        self.terms.iter().position(|term| term.code == code)
    }

    /// The label of a term; the code where it is no longer one.
    pub fn term_label<'a>(&'a self, code: &'a str) -> &'a str {
        self.terms.iter().find(|term| term.code == code).map_or(code, |term| &term.label)
    }

    /// What is worked out from an outcome.
    pub fn derived(&self, outcome: Outcome) -> Option<&DerivedCode> {
        self.derived_codes.iter().find(|one| one.outcome == outcome)
    }

    /// Every reason a pupil may not take the check.
    pub fn reasons(&self) -> impl Iterator<Item = &Coded> {
        self.not_appropriate.iter().chain(&self.other_reasons)
    }

    /// Checks a pack against itself.
    ///
    /// # Errors
    /// What is wrong, for whoever writes packs.
    pub fn check(&self, year_groups: &[&str]) -> Result<(), String> {
        let known = |code: &String| year_groups.contains(&code.as_str());
        let series = |id: &String| self.national.iter().any(|one| one.id == *id);
        let thresholds = self.thresholds.iter().filter_map(|one| one.threshold).chain(self.threshold_default);
        let word = |code: &str| !code.is_empty() && code.chars().all(|c| c.is_ascii_alphabetic());
        let days = |one: &OfficialWindow| match (one.opens_on, one.closes_on) {
            (Some(opens), Some(closes)) => {
                opens <= closes && one.absentees_until.is_none_or(|until| closes < until)
            }
            (None, None) => one.absentees_until.is_none(),
            _ => false,
        };
        let all =
            self.codes.iter().map(|one| &one.code).chain(self.derived_codes.iter().map(|one| &one.code));
        let spelled: Vec<String> = all.map(|code| code.to_ascii_lowercase()).collect();
        let checks = [
            ("maximum must be 1 to 100", (1..=100).contains(&self.maximum)),
            ("a threshold is above the maximum", thresholds.into_iter().all(|one| one <= self.maximum)),
            ("a year has two thresholds", once(self.thresholds.iter().map(|one| one.year))),
            ("a code must be letters", spelled.iter().all(|code| word(code))),
            ("a code stands twice", once(spelled.iter())),
            ("a code goes beside a mark", self.codes.iter().all(|one| one.excludes_mark)),
            (
                "a code needs a reason and there is none",
                self.codes.iter().all(|one| !one.needs_reason) || self.reasons().next().is_some(),
            ),
            ("a reason stands twice", once(self.reasons().map(|one| &one.code))),
            ("amendments need reasons, each once", {
                !self.amendment_reasons.is_empty() && once(codes(&self.amendment_reasons))
            }),
            ("terms are needed, each once", !self.terms.is_empty() && once(codes(&self.terms))),
            ("nobody is checked", !self.eligible.is_empty()),
            ("an eligible year group is unknown", self.eligible.iter().all(|one| known(&one.year_group))),
            ("a year group is eligible twice", once(self.eligible.iter().map(|one| &one.year_group))),
            ("a series is unknown", self.eligible.iter().filter_map(|one| one.national.as_ref()).all(series)),
            ("a window's days are not in order", self.windows.iter().all(days)),
            ("a window's term is unknown", self.windows.iter().all(|one| self.term(&one.term).is_some())),
            ("a window stands twice", once(self.windows.iter().map(|one| (one.year, &one.term)))),
            (
                "a window is of a year group nobody is checked in",
                self.windows.iter().all(|one| {
                    !one.year_groups.is_empty()
                        && one.year_groups.iter().all(|code| self.year(code).is_some())
                }),
            ),
            (
                "a published value is no percentage, or a year stands twice",
                self.national.iter().all(|one| {
                    one.points.iter().all(|point| point.value <= 100)
                        && once(one.points.iter().map(|point| point.year))
                        && one.points.iter().all(|point| !one.no_check.contains(&point.year))
                }),
            ),
            ("marks near the threshold need some", (1..=10).contains(&self.near_threshold.marks_either_side)),
        ];
        let wrong = checks.iter().find(|(_, holds)| !holds);
        wrong.map_or(Ok(()), |(what, _)| Err(format!("statutory_check: {what}")))
    }

    /// Who of a year group is checked.
    pub fn year(&self, year_group: &str) -> Option<&EligibleYear> {
        self.eligible.iter().find(|one| one.year_group == year_group)
    }
}

#[cfg(test)]
mod tests {
    use crate::rules::{ids, pack};

    fn year_groups() -> [&'static str; 4] {
        ["nursery", "reception", "year_1", "year_2"]
    }

    #[test]
    fn every_pack_was_checked_and_a_wrong_one_is_refused() {
        assert!(ids().all(|id| pack(id).is_ok()));
        let rule = &pack("england").unwrap().statutory_check;
        assert_eq!(rule.check(&year_groups()), Ok(()));
        let refused = |change: fn(&mut super::StatutoryRule)| {
            let mut wrong = rule.clone();
            change(&mut wrong);
            wrong.check(&year_groups()).unwrap_err()
        };
        assert!(refused(|r| r.thresholds[0].threshold = Some(41)).contains("above the maximum"));
        assert!(refused(|r| r.thresholds[1].year = 2012).contains("two thresholds"));
        assert!(refused(|r| r.codes[0].code = "d".into()).contains("stands twice"));
        assert!(refused(|r| r.derived_codes[0].code = "A".into()).contains("stands twice"));
        assert!(refused(|r| r.codes[0].code = "1".into()).contains("must be letters"));
        assert!(refused(|r| r.codes[0].excludes_mark = false).contains("beside a mark"));
        assert!(refused(|r| r.eligible[0].year_group = "year_9".into()).contains("unknown"));
        assert!(refused(|r| r.windows[2].closes_on = r.windows[2].absentees_until).contains("in order"));
        assert!(refused(|r| r.windows[0].closes_on = r.windows[2].closes_on).contains("in order"));
        assert!(refused(|r| r.windows[0].term = "spring".into()).contains("term is unknown"));
        assert!(
            refused(|r| r.windows[0].year_groups = vec!["reception".into()]).contains("nobody is checked in")
        );
        assert!(refused(|r| r.national[0].points[0].year = 2020).contains("stands twice"));
        assert!(refused(|r| r.not_appropriate[0].code = "other".into()).contains("reason stands twice"));
    }

    #[test]
    fn the_published_series_are_those_on_record() {
        let rule = &pack("england").unwrap().statutory_check;
        let series = |id: &str| {
            let found = rule.national.iter().find(|one| one.id == id).unwrap();
            found.points.iter().map(|point| (point.year, point.value)).collect::<Vec<_>>()
        };
        let year_1 = "2012 58, 2013 69, 2015 77, 2016 81, 2017 81, 2018 82, 2019 82, 2022 75, 2023 79, 2024 80, 2025 80";
        let year_2 = "2013 85, 2017 92, 2018 92, 2019 91, 2022 87, 2023 89, 2024 89, 2025 89";
        let of = |text: &str| {
            let pairs = text.split(", ").map(|pair| pair.split_once(' ').unwrap());
            pairs.map(|(year, value)| (year.parse().unwrap(), value.parse().unwrap())).collect::<Vec<_>>()
        };
        assert_eq!(series("year_1_met"), of(year_1));
        assert_eq!(series("end_of_year_2_met"), of(year_2));
        for one in &rule.national {
            assert_eq!(one.no_check, [2020, 2021]);
        }
        assert_eq!(rule.national[1].method_breaks[0].year, 2024);
        assert!(rule.national[0].method_breaks.is_empty());
    }

    #[test]
    fn codes_and_reasons_are_those_on_record() {
        let rule = &pack("england").unwrap().statutory_check;
        let codes: Vec<(&str, bool)> =
            rule.codes.iter().map(|one| (one.code.as_str(), one.in_denominator)).collect();
        assert_eq!(codes, [("A", true), ("D", true), ("L", false), ("Q", true)]);
        assert_eq!(rule.not_appropriate.len(), 4);
        assert_eq!(rule.maximum, 40);
        let other = &pack("south-australia").unwrap().statutory_check;
        assert!(other.codes.is_empty() && other.derived_codes.is_empty() && other.national.is_empty());
        assert_eq!((other.maximum, other.eligible.len()), (40, 1));
    }
}
