//! Of whom a measure tells: those on roll, or those of a statutory check.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::cohort::{Cohort, Line, OfCheck};
use crate::rules::{MeasureOf, MeasureRule};

/// Of which statutory check figures are.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = CheckToldOf))]
pub struct CheckTold {
    /// The year group that took it.
    pub year_group: String,
    /// The calendar year; several where the checks of several years are taken together, the latest last.
    pub years: Vec<i32>,
}

impl CheckTold {
    /// As a heading: `Year 1, check of 2026`.
    #[must_use]
    pub fn called(&self) -> String {
        let years: Vec<String> = self.years.iter().map(i32::to_string).collect();
        match years.as_slice() {
            [] => format!("{}, no check yet", self.year_group),
            [one] => format!("{}, check of {one}", self.year_group),
            [most @ .., last] => {
                format!("{}, checks of {} and {last} together", self.year_group, most.join(", "))
            }
        }
    }
}

/// Of whom a measure tells.
pub(super) struct Whom<'a> {
    /// Each pupil once.
    pub lines: Vec<&'a Line>,
    /// Of which check they are.
    pub check: Option<CheckTold>,
    /// By pupil, the year of the check, where there are several.
    pub years: BTreeMap<u64, i32>,
}

impl<'a> Whom<'a> {
    /// Of a measure; of a statutory check, of so many of the latest together. Who is in several counts
    /// with the latest result that is known.
    pub fn of(cohort: &'a Cohort, measure: &MeasureRule, checks: usize) -> Self {
        if measure.of != MeasureOf::Statutory {
            return Self { lines: cohort.lines.iter().collect(), check: None, years: BTreeMap::new() };
        }
        let known = |line: &Line| line.met.contains_key(&measure.code);
        // Of several together a check of which nothing is known is none.
        let counts = |check: &&OfCheck| checks < 2 || check.lines.iter().any(known);
        let of_it: Vec<&OfCheck> = cohort.checks_of(&measure.code).filter(counts).take(checks).collect();
        let (mut years, mut lines) = (BTreeMap::new(), Vec::new());
        for of_known in [true, false] {
            for check in &of_it {
                for line in check.lines.iter().filter(|line| known(line) == of_known) {
                    years.entry(line.pupil).or_insert_with(|| {
                        lines.push(line);
                        check.year
                    });
                }
            }
        }
        lines.sort_by_key(|line| line.pupil);
        let check = of_it.first().map(|latest| CheckTold {
            year_group: latest.year_group.clone(),
            years: of_it.iter().rev().map(|check| check.year).collect(),
        });
        Self { lines, check, years }
    }

    /// What all of them together are called; the school has no name here.
    pub fn called(&self) -> Option<String> {
        self.check.as_ref().map(CheckTold::called)
    }
}
