//! What somebody who has a release can work out of a figure it leaves out: the least and the most it can be, by
//! linear programming in whole numbers over everything the release tells.

use microlp::{ComparisonOp, LinearExpr, OptimizationDirection, Problem, Variable};

use super::linked::{AtMost, Breakdown};

/// The least and the most a number can be, both possible.
pub type Range = (u32, u32);

/// What is known of each figure before anything is worked out, and the breakdowns that tie them.
pub struct Known<'a> {
    /// By figure.
    pub ranges: &'a [Range],
    /// All there are.
    pub breakdowns: &'a [Breakdown],
    /// All there are.
    pub at_most: &'a [AtMost],
}

/// What says something about a figure.
pub struct Tied<'a> {
    breakdowns: Vec<&'a Breakdown>,
    at_most: Vec<&'a AtMost>,
}

impl Tied<'_> {
    /// The places of figures that are at most another, or at least.
    pub fn across(&self) -> impl Iterator<Item = usize> {
        self.at_most.iter().flat_map(|one| [one.less, one.more])
    }

    /// The places of all figures in it.
    pub fn places(&self) -> impl Iterator<Item = usize> {
        self.breakdowns.iter().flat_map(|one| one.places()).chain(self.across())
    }
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

    /// What says something about a figure: what it is in, and what shares with that a figure that is not known. What is
    /// known passes nothing on.
    #[must_use]
    pub fn tied_to(&self, cell: usize) -> Tied<'_> {
        let mut open = vec![cell];
        let mut seen = vec![false; self.ranges.len()];
        let mut taken = vec![false; self.breakdowns.len()];
        let mut paired = vec![false; self.at_most.len()];
        let is_open = |place: usize| self.ranges[place].0 < self.ranges[place].1;
        seen[cell] = true;
        while let Some(at) = open.pop() {
            for (place, one) in self.breakdowns.iter().enumerate().filter(|(_, one)| one.holds(at)) {
                taken[place] = true;
                for other in one.places().filter(|other| is_open(*other)) {
                    if !std::mem::replace(&mut seen[other], true) {
                        open.push(other);
                    }
                }
            }
            for (place, one) in self.at_most.iter().enumerate().filter(|(_, one)| one.holds(at)) {
                paired[place] = true;
                let other = one.across(at);
                if is_open(other) && !std::mem::replace(&mut seen[other], true) {
                    open.push(other);
                }
            }
        }
        Tied {
            breakdowns: self
                .breakdowns
                .iter()
                .zip(taken)
                .filter_map(|(one, taken)| taken.then_some(one))
                .collect(),
            at_most: self
                .at_most
                .iter()
                .zip(paired)
                .filter_map(|(one, taken)| taken.then_some(one))
                .collect(),
        }
    }

    fn outermost(&self, cell: usize, tied: &Tied<'_>, direction: OptimizationDirection) -> Option<u32> {
        let mut problem = Problem::new(direction);
        let mut variables: Vec<Option<Variable>> = vec![None; self.ranges.len()];
        let within = |(low, high): Range| Some((i32::try_from(low).ok()?, i32::try_from(high).ok()?));
        variables[cell] = Some(problem.add_integer_var(1.0, within(self.ranges[cell])?));
        let sums = tied.breakdowns.iter().map(|one| {
            let signed = one.parts.iter().map(|part| (*part, 1.0)).chain([(one.total, -1.0)]);
            (signed.collect::<Vec<_>>(), ComparisonOp::Eq, 0.0)
        });
        let pairs = tied
            .at_most
            .iter()
            .map(|one| (vec![(one.less, 1.0), (one.more, -1.0)], ComparisonOp::Le, f64::from(one.beside)));
        for (signed, comparison, beside) in sums.chain(pairs) {
            let (mut sum, mut told) = (LinearExpr::empty(), beside);
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
            problem.add_constraint(sum, comparison, told);
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
            let alone = Known { ranges: &primary, breakdowns: std::slice::from_ref(one), at_most: &[] };
            for cell in one.parts.iter().filter(|cell| "ABKLM".contains(names[**cell])) {
                let (low, high) = alone.of(*cell).unwrap();
                assert!(high - low >= 4, "{} alone: {low} to {high}", names[*cell]);
            }
        }
        let known = |ranges| Known { ranges, breakdowns: &linked.breakdowns, at_most: &[] };
        assert_eq!(known(&primary).of(at('K')), Some((3, 3)));
        let more = ranges("ABKLMN");
        assert_eq!(known(&more).of(at('K')), Some((0, 10)));
    }

    /// Of 30 pupils 28 had met it by the year after, and two of another 20 of whom 18 are the same.
    #[test]
    fn what_the_year_after_says_of_the_year_before_is_found() {
        let before = |ranges: &[Range], beside: u32| {
            let at_most = [AtMost { less: 0, more: 1, beside }];
            Known { ranges, breakdowns: &[], at_most: &at_most }.of(0).unwrap()
        };
        assert_eq!(before(&[(0, 30), (3, 3)], 0), (0, 3));
        assert_eq!(before(&[(0, 20), (2, 2)], 2), (0, 4));
        assert_eq!(before(&[(0, 30), (0, 30)], 0), (0, 30));
        // The other way about, and through what is not known itself: the whole is told of both years.
        let at_most = [AtMost { less: 0, more: 3, beside: 0 }, AtMost { less: 1, more: 4, beside: 0 }];
        let whole = |total, parts: [usize; 2]| Breakdown { total, parts: parts.to_vec() };
        let breakdowns = [whole(2, [0, 1]), whole(5, [3, 4])];
        let ranges = [(0, 10), (0, 10), (15, 15), (0, 10), (0, 10), (17, 17)];
        let known = Known { ranges: &ranges, breakdowns: &breakdowns, at_most: &at_most };
        assert_eq!((known.of(0), known.of(3)), (Some((5, 10)), Some((7, 10))));
        let alone = Known { ranges: &ranges, breakdowns: &breakdowns[..1], at_most: &[] };
        assert_eq!(alone.of(0), Some((5, 10)));
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
            ..Linked::default()
        };
        (linked, names.to_vec())
    }
}
