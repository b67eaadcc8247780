//! What somebody who has a release can work out of a figure it leaves out: the least and the most it can be, by
//! linear programming in whole numbers over everything the release tells.

use microlp::{ComparisonOp, LinearExpr, OptimizationDirection, Problem, Variable};

use super::linked::Breakdown;

/// The least and the most a number can be, both possible.
pub type Range = (u32, u32);

/// What is known of each figure before anything is worked out, and the breakdowns that tie them.
pub struct Known<'a> {
    /// By figure.
    pub ranges: &'a [Range],
    /// All there are.
    pub breakdowns: &'a [Breakdown],
}

impl Known<'_> {
    /// The least and the most who can meet the measure in this group. None where the solver gives up, which is to be
    /// taken as "known exactly".
    #[must_use]
    pub fn of(&self, cell: usize) -> Option<Range> {
        let (low, high) = self.ranges[cell];
        if low == high {
            return Some((low, high));
        }
        let tied = self.tied_to(cell);
        let least = self.outermost(cell, &tied, OptimizationDirection::Minimize)?;
        let most = self.outermost(cell, &tied, OptimizationDirection::Maximize)?;
        Some((least, most))
    }

    /// The breakdowns that say something about a figure: those it is in, and those that share with them a figure that
    /// is not known. What is known passes nothing on.
    #[must_use]
    pub fn tied_to(&self, cell: usize) -> Vec<&Breakdown> {
        let mut open = vec![cell];
        let mut seen = vec![false; self.ranges.len()];
        let mut taken = vec![false; self.breakdowns.len()];
        seen[cell] = true;
        while let Some(at) = open.pop() {
            for (place, one) in self.breakdowns.iter().enumerate().filter(|(_, one)| one.holds(at)) {
                taken[place] = true;
                for other in one.places().filter(|other| self.ranges[*other].0 < self.ranges[*other].1) {
                    if !std::mem::replace(&mut seen[other], true) {
                        open.push(other);
                    }
                }
            }
        }
        self.breakdowns.iter().zip(taken).filter_map(|(one, taken)| taken.then_some(one)).collect()
    }

    fn outermost(&self, cell: usize, tied: &[&Breakdown], direction: OptimizationDirection) -> Option<u32> {
        let mut problem = Problem::new(direction);
        let mut variables: Vec<Option<Variable>> = vec![None; self.ranges.len()];
        let within = |(low, high): Range| Some((i32::try_from(low).ok()?, i32::try_from(high).ok()?));
        variables[cell] = Some(problem.add_integer_var(1.0, within(self.ranges[cell])?));
        for breakdown in tied {
            let (mut sum, mut told) = (LinearExpr::empty(), 0.0);
            let signed = breakdown.parts.iter().map(|part| (*part, 1.0)).chain([(breakdown.total, -1.0)]);
            for (place, sign) in signed {
                let (low, high) = self.ranges[place];
                if low == high {
                    told -= sign * f64::from(low);
                    continue;
                }
                let range = within((low, high))?;
                let variable = *variables[place].get_or_insert_with(|| problem.add_integer_var(0.0, range));
                sum.add(variable, sign);
            }
            problem.add_constraint(sum, ComparisonOp::Eq, told);
        }
        let found = problem.solve().ok()?.into_solution().ok()?;
        whole(found.var_value(variables[cell]?))
    }
}

/// A whole number the solver gives as a fraction close to it.
fn whole(value: f64) -> Option<u32> {
    let rounded = value.round();
    let close = (value - rounded).abs() < 1e-4 && (0.0..=f64::from(u32::MAX)).contains(&rounded);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked in the line above")]
    close.then_some(rounded as u32)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::disclosure::{Cell, Linked};

    /// The linked tables of the facts: each alone keeps K, all together give it away; leaving N out too opens it.
    #[test]
    fn what_linked_tables_give_away_is_found() {
        let (linked, names) = county();
        let at = |name: char| names.iter().position(|known| *known == name).unwrap();
        let ranges = |left_out: &str| -> Vec<Range> {
            let one = |(place, name): (usize, &char)| {
                let told = linked.cells[place].met;
                if left_out.contains(*name) { (0, 100) } else { (told, told) }
            };
            names.iter().enumerate().map(one).collect()
        };
        let primary = ranges("ABKLM");
        for one in &linked.breakdowns {
            let alone = Known { ranges: &primary, breakdowns: std::slice::from_ref(one) };
            for cell in one.parts.iter().filter(|cell| "ABKLM".contains(names[**cell])) {
                let (low, high) = alone.of(*cell).unwrap();
                assert!(high - low >= 4, "{} alone: {low} to {high}", names[*cell]);
            }
        }
        assert_eq!(Known { ranges: &primary, breakdowns: &linked.breakdowns }.of(at('K')), Some((3, 3)));
        let more = ranges("ABKLMN");
        assert_eq!(Known { ranges: &more, breakdowns: &linked.breakdowns }.of(at('K')), Some((0, 10)));
    }

    /// A=2 B=2 I=8 J=8 K=3 L=3 M=3 N=7 and the four totals.
    fn county() -> (Linked, Vec<char>) {
        let names = ['A', 'B', 'I', 'J', 'K', 'L', 'M', 'N', '1', '2', 's', 'b'];
        let values = [2, 2, 8, 8, 3, 3, 3, 7, 20, 16, 30, 6];
        let table = |total: usize, parts: &[usize]| Breakdown { total, parts: parts.to_vec() };
        let linked = Linked {
            cells: values.into_iter().map(|met| Cell::new(100, met)).collect(),
            breakdowns: vec![
                table(8, &[0, 1, 2, 3]),
                table(9, &[4, 5, 6, 7]),
                table(10, &[0, 1, 2, 3, 4, 7]),
                table(11, &[5, 6]),
            ],
            nearly_the_same: Vec::new(),
        };
        (linked, names.to_vec())
    }
}
