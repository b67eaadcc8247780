//! The rule pack's part. Each pack is checked when it is read, so that nothing else has to doubt it.

use std::collections::BTreeSet;

use chrono::Datelike as _;
use serde::Deserialize;

use super::Outcome;
use crate::{
    access::Role,
    rules::{Coded, PracticeSection, YearGroup},
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
    /// Why there are none, where there are none.
    pub no_national: Option<String>,
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
    /// Whether its pupil can still be checked while the window is open.
    #[serde(default)]
    pub until_last_day: bool,
    /// Whether it holds of who left by the end of the window alone, so that the pupil's last day has to be on record.
    #[serde(default)]
    pub needs_last_day: bool,
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
    /// Who published them, where.
    pub source: String,
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
    /// Of a mark that meets the threshold, with `{threshold}` and `{maximum}` in it.
    pub met: String,
    /// Of one that does not, with the same in it.
    pub not_met: String,
    /// What the school does then; of no child who has left.
    pub not_met_then: String,
    /// The same of a child of a year group after which the check is taken again; none where it never is.
    #[serde(default)]
    pub again: Option<String>,
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
            (
                "published figures, or why there are none",
                self.national.is_empty() == self.no_national.is_some(),
            ),
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
            (
                "a letter does not say what the threshold was",
                [&self.letter.met, &self.letter.not_met]
                    .into_iter()
                    .all(|text| text.contains("{threshold}") && text.contains("{maximum}")),
            ),
            ("marks near the threshold need some", (1..=10).contains(&self.near_threshold.marks_either_side)),
        ];
        let wrong = checks.iter().find(|(_, holds)| !holds);
        wrong.map_or(Ok(()), |(what, _)| Err(format!("statutory_check: {what}")))
    }

    /// Whether a pupil of a year group who did not meet it takes it again in the one after; the year groups come
    /// youngest first.
    pub fn again_after(&self, year_group: &str, year_groups: &[YearGroup]) -> bool {
        let next = year_groups.iter().skip_while(|one| one.code != year_group).nth(1);
        next.and_then(|next| self.year(&next.code))
            .is_some_and(|next| next.rule == EligibleRule::NotMetOrNotChecked)
    }

    /// Whether a code's pupil can still be checked while the window is open.
    pub fn can_still_come(&self, code: &str) -> bool {
        self.code(code).is_some_and(|code| code.until_last_day)
    }

    /// Whether what has to be reached in a year can have been published on a day: once the check was taken, or where
    /// it is known before every check, in the year before.
    pub fn published_in(&self, year: i32, on: Date) -> bool {
        on.year() >= year - i32::from(self.threshold_default.is_some())
    }

    /// The published figures of a year group.
    pub fn series(&self, year_group: &str) -> Option<&NationalSeries> {
        let id = self.year(year_group)?.national.as_ref()?;
        self.national.iter().find(|one| one.id == *id)
    }

    /// Who of a year group is checked.
    pub fn year(&self, year_group: &str) -> Option<&EligibleYear> {
        self.eligible.iter().find(|one| one.year_group == year_group)
    }
}

#[cfg(test)]
mod tests;
