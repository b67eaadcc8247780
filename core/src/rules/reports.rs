//! What a termly report says of pupils, and by what it tells them apart.

use serde::{Deserialize, Serialize};

use super::Coded;

/// Reports.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct ReportRule {
    /// What is said of each pupil, yes or no.
    pub measures: Vec<MeasureRule>,
    /// Terms of birth, in the order of the school year.
    pub terms_of_birth: Vec<TermOfBirth>,
    /// Days for which the pupils of a report are kept, under pseudonyms; what was released of them stays.
    pub kept_days: u32,
    /// To be shown beside two releases.
    pub compared_caution: String,
    /// To be shown beside two snapshots.
    pub progress_caution: String,
    /// To be shown beside published figures.
    pub national_caution: String,
    /// Of which day groups of pupils are, in a check.
    pub as_at_check: String,
    /// How the checks of several years are taken together.
    pub pooling: PoolingRule,
}

/// How the checks of several years are taken together, where one has too few pupils to tell of.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct PoolingRule {
    /// The fewest years.
    pub least: usize,
    /// The most: so many years' checks are frozen with a snapshot.
    pub most: usize,
    /// How many are offered.
    pub offered: usize,
    /// Who is counted.
    pub means: String,
    /// What is said where nothing is told, with `{of}` for what.
    pub nothing_told: String,
    /// What is said then of one check, with `{years}` for how many can be taken together.
    pub offer: String,
}

/// Something a report says of each pupil, yes or no.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MeasureRule {
    /// As in data.
    pub code: String,
    /// As told.
    pub name: String,
    /// What it means, for who reads only that.
    pub means: String,
    /// What it is counted from.
    pub of: MeasureOf,
    /// The part, in per cent, from which on a pupil meets it; none where it is yes or no by itself.
    #[serde(default)]
    pub percent: Option<u8>,
    /// Of the statutory check, the code of the year group it is of; none of all others.
    #[serde(default)]
    pub year_group: Option<String>,
    /// Whether it is told only to those who answer for the pupils: who was checked says who has no other figure.
    #[serde(default)]
    pub internal: bool,
}

crate::vocabulary! {
    /// What a measure is counted from.
    pub enum MeasureOf {
        /// The GPCs taught to the pupil's groups that a check tells something of: how many are secure.
        Gpcs = "gpcs",
        /// The GPCs the sequence expects to be taught by the day: how many are secure.
        Expected = "expected",
        /// The lessons given when the pupil was to come: how many were taught to this pupil.
        Coverage = "coverage",
        /// The lessons held in the half term when the pupil was to come: at how many the pupil was.
        Attendance = "attendance",
        /// The words of the half term's checks: how many were read right.
        Words = "words",
        /// Whether the pupil was checked within the half term.
        Checked = "checked",
        /// The statutory check of one year group: whether it was met.
        Statutory = "statutory",
    }
}

impl MeasureOf {
    /// Whether what counts as secure is a part of it.
    #[must_use]
    pub const fn is_of_secure(self) -> bool {
        matches!(self, Self::Gpcs | Self::Expected)
    }
}

/// A term of birth.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct TermOfBirth {
    /// As in data, and as told.
    #[serde(flatten)]
    pub coded: Coded,
    /// Its months, 1 to 12.
    pub months: Vec<u32>,
}

impl ReportRule {
    /// The term a pupil was born in, by the month.
    #[must_use]
    pub fn term_of(&self, month: u32) -> Option<&TermOfBirth> {
        self.terms_of_birth.iter().find(|term| term.months.contains(&month))
    }

    /// A measure by its code.
    #[must_use]
    pub fn measure(&self, code: &str) -> Option<&MeasureRule> {
        self.measures.iter().find(|measure| measure.code == code)
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;
    use crate::rules::{ids, pack};

    #[test]
    fn every_pack_says_what_its_measures_mean_and_gives_each_month_one_term() {
        for id in ids() {
            let rule = &pack(id).unwrap().reports;
            assert!((90..=1100).contains(&rule.kept_days), "{id}");
            let codes: BTreeSet<_> = rule.measures.iter().map(|one| &one.code).collect();
            assert_eq!(codes.len(), rule.measures.len(), "{id}");
            for measure in &rule.measures {
                let counted = !matches!(measure.of, MeasureOf::Checked | MeasureOf::Statutory);
                assert_eq!(measure.percent.is_some(), counted, "{id} {}", measure.code);
                assert!(measure.percent.is_none_or(|part| (1..=100).contains(&part)), "{id}");
            }
            let checked: Vec<&str> =
                rule.measures.iter().filter_map(|one| one.year_group.as_deref()).collect();
            let eligible = &pack(id).unwrap().statutory_check.eligible;
            assert_eq!(
                checked,
                eligible.iter().map(|one| one.year_group.as_str()).collect::<Vec<_>>(),
                "{id}"
            );
            let statutory = |one: &MeasureRule| one.of == MeasureOf::Statutory;
            assert!(rule.measures.iter().all(|one| statutory(one) == one.year_group.is_some()), "{id}");
            let pooling = &rule.pooling;
            let offered = pooling.least..=pooling.most;
            assert!(pooling.least >= 2 && offered.contains(&pooling.offered), "{id}");
            assert!(pooling.nothing_told.contains("{of}") && pooling.offer.contains("{years}"), "{id}");
            for month in 1..=12 {
                let terms = rule.terms_of_birth.iter().filter(|term| term.months.contains(&month));
                assert_eq!(terms.count(), 1, "{id}: month {month}");
            }
        }
    }

    #[test]
    fn england_counts_september_as_autumn_and_august_as_summer() {
        let rule = &pack("england").unwrap().reports;
        let term = |month| rule.term_of(month).unwrap().coded.code.as_str();
        assert_eq!(
            [term(9), term(12), term(1), term(4), term(5), term(8)],
            ["autumn", "autumn", "spring", "spring", "summer", "summer"]
        );
    }
}
