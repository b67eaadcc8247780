//! The calendar as it would be, beside what it is.

use std::collections::BTreeSet;

use uuid::Uuid;

use super::{Calendar, Closure, ClosurePlan, DayKind, HalfTerm, HalfTermPlan, Year, YearPlan};
use crate::{
    id::{ClosureId, HalfTermId},
    time::{Date, days},
};

impl Calendar {
    /// The calendar with more days closed.
    #[must_use]
    pub fn with_closure(&self, plan: &ClosurePlan) -> Self {
        let mut after = self.clone();
        after.close(plan);
        after
    }

    /// Closes more days.
    pub(super) fn close(&mut self, plan: &ClosurePlan) {
        self.closures.push(Closure { id: ClosureId::from_uuid(Uuid::nil()), plan: plan.clone() });
    }

    /// The calendar with a school year as planned, in place of what it knew of that year.
    #[must_use]
    pub fn with_year(&self, year: i32, plan: &YearPlan) -> Self {
        let mut after = self.clone();
        after.years.retain(|other| other.year != year);
        let half_term = |term: &HalfTermPlan| HalfTerm {
            id: HalfTermId::from_uuid(Uuid::nil()),
            name: term.name.clone(),
            starts_on: term.starts_on,
            ends_on: term.ends_on,
        };
        let half_terms = plan.half_terms.iter().map(half_term).collect();
        after.years.push(Year { year, starts_on: plan.starts_on, ends_on: plan.ends_on, half_terms });
        after.years.sort_by_key(|year| year.starts_on);
        after
    }

    /// The calendar as if nothing had been closed.
    #[must_use]
    pub fn without_closures(&self) -> Self {
        Self { years: self.years.clone(), closures: Vec::new() }
    }

    /// The first and the last day on which it may not be what another is; none where they are alike.
    pub fn differs(&self, other: &Self) -> Option<(Date, Date)> {
        let mut spans = Vec::new();
        for (one, other) in [(self, other), (other, self)] {
            let same = |year: &Year, known: &Year| {
                let days = |year: &Year| -> Vec<(Date, Date)> {
                    year.half_terms.iter().map(|term| (term.starts_on, term.ends_on)).collect()
                };
                (year.starts_on, year.ends_on, days(year)) == (known.starts_on, known.ends_on, days(known))
            };
            let years = one.years.iter().filter(|year| !other.years.iter().any(|known| same(year, known)));
            spans.extend(years.map(|year| (year.starts_on, year.ends_on)));
            let there = |plan: &&ClosurePlan| other.closures.iter().any(|known| known.plan == **plan);
            let plans = one.closures.iter().map(|closure| &closure.plan).filter(|plan| !there(plan));
            spans.extend(plans.map(|plan| (plan.from, plan.until)));
        }
        spans.iter().map(|span| span.0).min().zip(spans.iter().map(|span| span.1).max())
    }

    /// The school years of which nothing is taught, as all their days are closed for the school.
    pub fn all_closed(&self) -> BTreeSet<i32> {
        let none =
            |year: &&Year| !days(year.starts_on, year.ends_on).any(|on| self.day(on) == DayKind::Teaching);
        self.years.iter().filter(none).map(|year| year.year).collect()
    }
}
