//! Which measures of a release are judged together, and what becomes of each of their figures.

use super::{
    cohort::Cohort,
    figures::{Earlier, Figures},
    groups::Groups,
    ledger::PastTable,
    release::{Choice, Table, figure},
    whom::Whom,
};
use crate::{
    disclosure::decide,
    rules::{MeasureRule, ReleaseRule, RulePack},
};

/// What has to be judged together: the statutory checks, as who met one has met the next; any other measure by itself.
pub(super) fn together<'m>(cohort: &Cohort, measures: &[&'m MeasureRule]) -> Vec<Vec<&'m MeasureRule>> {
    let is_check = |one: &&MeasureRule| cohort.place_of_check(&one.code).is_some();
    let (mut checks, others): (Vec<_>, Vec<_>) = measures.iter().copied().partition(is_check);
    checks.sort_by_key(|one| cohort.place_of_check(&one.code));
    others.into_iter().map(|one| vec![one]).chain([checks]).filter(|one| !one.is_empty()).collect()
}

/// Measures that are judged together.
pub(super) struct Together<'a> {
    pub cohort: &'a Cohort,
    pub choice: &'a Choice<'a>,
    pub rules: &'a RulePack,
    pub minimum: usize,
    pub measures: Vec<&'a MeasureRule>,
}

impl Together<'_> {
    pub fn judge(&self, past: &[PastTable]) -> Vec<(Table, PastTable)> {
        let Self { cohort, choice, rules, minimum, .. } = *self;
        let rule = choice.rule(rules);
        let whom: Vec<Whom<'_>> = (self.measures.iter())
            .map(|one| Whom::of(cohort, one, choice.pooled_years.unwrap_or(1)))
            .collect();
        let groups: Vec<Groups<'_>> =
            whom.iter().map(|whom| Groups::of(cohort, whom, rule.class_level)).collect();
        let (to_fewer, past): (Vec<&PastTable>, Vec<&PastTable>) =
            past.iter().partition(|table| table.to_fewer);
        let mut figures = self.tied(&whom, &groups, &past, rule);
        let mut fates = decide(figures.linked(), rule, minimum);
        if self.is_of_checks() && !to_fewer.is_empty() {
            // What governors were told of these checks stays: with that they may not work out what was left out there.
            let all: Vec<&PastTable> = past.iter().chain(&to_fewer).copied().collect();
            let closed = &rules.disclosure.closed;
            loop {
                let mut known = self.tied(&whom, &groups, &all, closed);
                known.as_told(&fates);
                let too_much =
                    known.told_by_one(&fates, &decide(known.linked(), closed, closed.minimum_group));
                if too_much.is_empty() {
                    break;
                }
                figures.leave_out(&too_much);
                fates = decide(figures.linked(), rule, minimum);
            }
        }
        let made = |(n, (whom, groups)): (usize, (&Whom<'_>, &Groups<'_>))| {
            let (measure, asked) = (self.measures[n], groups.rows(&choice.by));
            let row = |place: &usize| {
                let (group, fate) = (&groups.groups[*place], figures.fate(n, *place, &fates));
                group.row(figure(group, figures.cell(n, *place), fate, choice, rule, minimum))
            };
            let rows = asked.iter().map(row).collect();
            let table = Table::of(measure, whom.check.clone(), rows, cohort, rules);
            (table, figures.kept(n, &measure.code, cohort.half_term_from, &asked, &fates))
        };
        whom.iter().zip(&groups).enumerate().map(made).collect()
    }

    /// The figures, tied to what these earlier releases say.
    fn tied(
        &self,
        whom: &[Whom<'_>],
        groups: &[Groups<'_>],
        past: &[&PastTable],
        rule: &ReleaseRule,
    ) -> Figures {
        let mut figures = Figures::default();
        for (measure, (whom, groups)) in self.measures.iter().zip(whom.iter().zip(groups)) {
            let place = self.cohort.place_of_check(&measure.code).unwrap_or_default();
            figures.add(groups, &measure.code, &whom.years, place);
        }
        // By the next year group more have met a check and none fewer: a few who were in one of the two alone would be known
        // by the difference, so that these have to be as many as the smallest group.
        let differing_pupils = match self.is_of_checks() {
            true => rule.differing_pupils.max(self.minimum),
            false => rule.differing_pupils,
        };
        figures.tie(&self.said(past), &ReleaseRule { differing_pupils, ..*rule });
        figures
    }

    /// What earlier releases say of these. What stays from half term to half term is the same answers in all of them; of
    /// other measures those of another half term are of other answers.
    fn said<'p>(&self, past: &[&'p PastTable]) -> Vec<Earlier<'p>> {
        let earlier = |table: &&'p PastTable| {
            let of_check = self.cohort.place_of_check(&table.measure);
            let is_it = self.measures.iter().any(|one| one.code == table.measure);
            let same = is_it && table.half_term_from == self.cohort.half_term_from;
            let is_beside = self.is_of_checks() && of_check.is_some();
            (is_it || is_beside).then(|| Earlier { table, place: of_check.or(same.then_some(0)) })
        };
        past.iter().filter_map(earlier).collect()
    }

    fn is_of_checks(&self) -> bool {
        self.measures.iter().any(|one| self.cohort.place_of_check(&one.code).is_some())
    }
}
