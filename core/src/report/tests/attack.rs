//! What somebody can work out who knows each pupil's groups and has every release: another way than the one releases are
//! judged by. Pupils who are in the same groups are one unknown number; every figure told is a sum of such numbers.

use std::collections::{BTreeMap, BTreeSet};

use microlp::{ComparisonOp, LinearExpr, OptimizationDirection, Problem};

use super::*;
use crate::{disclosure::could_be, report::whom::Whom};

type Pupils = BTreeSet<u64>;

/// A row of a release: its pupils of whom something is known, how many met it, and what is told of that.
pub struct Seen {
    pub name: String,
    pub pupils: Pupils,
    pub met: u32,
    pub told: Option<(u32, u32)>,
}

/// The rows of a release of one measure, as a reader sees them who knows who is in each group.
pub fn seen(cohort: &Cohort, choice: &Choice<'_>, measure: &str, made: &Made) -> Vec<Seen> {
    let rule = choice.rule(england());
    let table = made.release.figures().tables.iter().find(|table| table.measure == measure).unwrap();
    let of = england().reports.measure(measure).unwrap();
    let lines = Whom::of(cohort, of, choice.pooled_years.unwrap_or(1)).lines;
    let row = |row: &Row| {
        let is_in = |line: &Line| {
            let of = match &row.by {
                None => return true,
                Some(By::YearGroup) => &line.year_group,
                Some(By::Class) => &line.class,
                Some(By::TermOfBirth) => &line.term_of_birth,
                Some(By::Field(code)) => return line.fields.get(code) == row.name.as_ref(),
            };
            *of == row.name
        };
        let known = lines.iter().filter(|line| is_in(line));
        let known = known.filter_map(|line| Some((line.pupil, *line.met.get(measure)?)));
        let pupils: Pupils = known.clone().map(|(pupil, _)| pupil).collect();
        let (size, met) = (pupils.len() as u32, known.filter(|(_, met)| *met).count() as u32);
        let told = row.figure.percent.map(|percent| match row.figure.met {
            Some(met) => (met, met),
            None => {
                // Any percentage that is told like this one.
                let shown = (0..=100).filter(|one| crate::disclosure::told(*one, rule) == percent);
                let ranges =
                    shown.map(|one| could_be(Some(one), size, rule)).filter(|range| *range != (0, size));
                ranges.reduce(|one, other| (one.0.min(other.0), one.1.max(other.1))).unwrap()
            }
        });
        Seen { name: format!("{:?} {:?} {:?}", row.by, row.name, table.check), pupils, met, told }
    };
    table.rows.iter().map(row).collect()
}

/// Everything that was told, in unknown numbers of pupils alike.
pub struct Attack {
    alike: Vec<Pupils>,
    told: Vec<(Pupils, (u32, u32))>,
}

impl Attack {
    pub fn on<'s>(rows: impl Iterator<Item = &'s Seen> + Clone, targets: &[Pupils]) -> Self {
        let told: Vec<(Pupils, (u32, u32))> =
            rows.filter_map(|row| Some((row.pupils.clone(), row.told?))).collect();
        let mut alike: BTreeMap<Vec<bool>, Pupils> = BTreeMap::new();
        let everybody: Pupils =
            told.iter().map(|(pupils, _)| pupils).chain(targets).flatten().copied().collect();
        for pupil in everybody {
            let groups = told.iter().map(|(pupils, _)| pupils).chain(targets);
            alike.entry(groups.map(|group| group.contains(&pupil)).collect()).or_default().insert(pupil);
        }
        Self { alike: alike.into_values().collect(), told }
    }

    /// The least and the most of these pupils who can have met it.
    pub fn range(&self, of: &Pupils) -> (u32, u32) {
        let outermost = |direction: OptimizationDirection| -> f64 {
            let mut problem = Problem::new(direction);
            let counts =
                |group: &Pupils, alike: &Pupils| alike.iter().next().is_some_and(|one| group.contains(one));
            let variables: Vec<_> = (self.alike.iter())
                .map(|alike| {
                    let weight = if counts(of, alike) { 1.0 } else { 0.0 };
                    problem.add_var(weight, (0.0, alike.len() as f64))
                })
                .collect();
            for (group, (low, high)) in &self.told {
                for (bound, sign) in [(*low, ComparisonOp::Ge), (*high, ComparisonOp::Le)] {
                    let mut sum = LinearExpr::empty();
                    for (alike, variable) in self.alike.iter().zip(&variables) {
                        if counts(group, alike) {
                            sum.add(*variable, 1.0);
                        }
                    }
                    problem.add_constraint(sum, sign, f64::from(bound));
                }
            }
            problem.solve().unwrap().into_solution().unwrap().objective()
        };
        let low = (outermost(OptimizationDirection::Minimize) - 1e-6).ceil();
        let high = (outermost(OptimizationDirection::Maximize) + 1e-6).floor();
        (low.max(0.0) as u32, high.max(0.0) as u32)
    }
}
