//! What somebody can work out who knows each pupil's groups and has every release: another way than the one releases are
//! judged by. Answers of pupils who are in the same groups are one unknown number; every figure told is a sum of such numbers,
//! and who met an earlier check has met a later one.

use std::collections::{BTreeMap, BTreeSet};

use microlp::{ComparisonOp, LinearExpr, OptimizationDirection, Problem};

use super::*;
use crate::{
    disclosure::could_be,
    report::{
        figures::{answer, pupil_of},
        whom::Whom,
    },
};

type Pupils = BTreeSet<u64>;

/// A row of a release: its pupils of whom something is known, in which check that is where it is of one, how many met it, and
/// what is told of that.
pub struct Seen {
    pub name: String,
    pub pupils: Pupils,
    pub met: u32,
    pub told: Option<(u32, u32)>,
    /// Of checks that follow one another, which it is of.
    pub place: usize,
}

/// The rows of a release of one measure, as a reader sees them who knows who is in each group.
pub fn seen(cohort: &Cohort, choice: &Choice<'_>, measure: &str, made: &Made) -> Vec<Seen> {
    let rule = choice.rule(england());
    let table = made.release.figures().tables.iter().find(|table| table.measure == measure).unwrap();
    let of = england().reports.measure(measure).unwrap();
    let Whom { lines, years, .. } = Whom::of(cohort, of, choice.pooled_years.unwrap_or(1));
    let place = cohort.place_of_check(measure).unwrap_or_default();
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
        let counts = |pupil: u64| answer(pupil, years.get(&pupil).copied().unwrap_or_default());
        let pupils: Pupils = known.clone().map(|(pupil, _)| counts(pupil)).collect();
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
        Seen { name: format!("{:?} {:?} {:?}", row.by, row.name, table.check), pupils, met, told, place }
    };
    table.rows.iter().map(row).collect()
}

/// Everything that was told, in unknown numbers of answers alike.
pub struct Attack {
    alike: Vec<Pupils>,
    /// Of which of them the number is at most which: the same pupils', in a check and in a later one.
    at_most: Vec<(usize, usize)>,
    told: Vec<(Pupils, (u32, u32))>,
}

impl Attack {
    pub fn on<'s>(rows: impl Iterator<Item = &'s Seen> + Clone, targets: &[Pupils]) -> Self {
        let told: Vec<(Pupils, (u32, u32))> =
            rows.clone().filter_map(|row| Some((row.pupils.clone(), row.told?))).collect();
        let all: Vec<(&Pupils, Option<usize>)> = rows
            .clone()
            .map(|row| (&row.pupils, Some(row.place)))
            .chain(targets.iter().map(|one| (one, None)))
            .collect();
        // Each answer with the check it is of, by its pupil.
        let mut of_pupil: BTreeMap<u64, BTreeMap<u64, usize>> = BTreeMap::new();
        for (answers, place) in &all {
            for (one, place) in answers.iter().filter_map(|one| Some((*one, (*place)?))) {
                of_pupil.entry(pupil_of(one)).or_default().insert(one, place);
            }
        }
        let groups: Vec<&Pupils> = told.iter().map(|(pupils, _)| pupils).chain(targets).collect();
        let is_in = |one: &u64| groups.iter().map(|group| group.contains(one)).collect::<Vec<bool>>();
        // Alike are answers in the same groups, whose pupils' other answers are too.
        let mut alike: BTreeMap<_, Pupils> = BTreeMap::new();
        for answers in of_pupil.values() {
            let of_all: Vec<_> = answers.iter().map(|(one, place)| (*place, is_in(one))).collect();
            for (n, one) in answers.keys().enumerate() {
                alike.entry((of_all.clone(), n)).or_default().insert(*one);
            }
        }
        let keys: Vec<_> = alike.keys().cloned().collect();
        let mut at_most = Vec::new();
        for (less, (of_all, n)) in keys.iter().enumerate() {
            for later in (n + 1..of_all.len()).filter(|later| of_all[*n].0 < of_all[*later].0) {
                let more = keys.iter().position(|key| *key == (of_all.clone(), later)).unwrap();
                at_most.push((less, more));
            }
        }
        Self { alike: alike.into_values().collect(), at_most, told }
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
            for (less, more) in &self.at_most {
                let mut sum = LinearExpr::empty();
                sum.add(variables[*less], 1.0);
                sum.add(variables[*more], -1.0);
                problem.add_constraint(sum, ComparisonOp::Le, 0.0);
            }
            problem.solve().unwrap().into_solution().unwrap().objective()
        };
        let low = (outermost(OptimizationDirection::Minimize) - 1e-6).ceil();
        let high = (outermost(OptimizationDirection::Maximize) + 1e-6).floor();
        (low.max(0.0) as u32, high.max(0.0) as u32)
    }
}
