//! Looking for a placement that costs little: single moves and swaps as long as one helps, then a few
//! at random and down again. The same question always finds the same answer.

use super::puzzle::{Puzzle, Unit};

/// A placement.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Placed {
    /// By unit, its group.
    pub(super) group_of: Vec<usize>,
    /// By group, its place: that of the least cost, and of several the last, so that nothing is taught again
    /// that nobody is known to lack.
    pub(super) place_of: Vec<usize>,
    /// Whether a size, a pair or a unit's own bounds are broken.
    pub(super) broken: bool,
    /// What it costs, where nothing is broken.
    pub(super) cost: u64,
}

/// More than any placement costs: one broken bound is worse than any cost.
const BROKEN: i64 = 1 << 40;
/// Rounds from each start for 120 units. Each takes a time that grows with the square of the units, so
/// fewer units get more rounds, and more fewer.
const ROUNDS: usize = 30;
/// The fewest and the most rounds.
const ROUNDS_WITHIN: (usize, usize) = (3, 2000);

/// The best placement found from the starts: by unit, its group.
pub(super) fn search(puzzle: &Puzzle, starts: &[Vec<usize>]) -> Vec<usize> {
    let rounds = rounds(puzzle);
    let mut chance = Chance(0x9E37_79B9_7F4A_7C15);
    let found = starts.iter().map(|start| descend_from(puzzle, start, rounds, &mut chance, i64::MIN));
    found.min_by_key(|(_, total)| *total).map(|(group_of, _)| group_of).unwrap_or_default()
}

/// Whether a placement is found that breaks nothing, from a start.
pub(super) fn is_kept(puzzle: &Puzzle, start: &[usize]) -> bool {
    let mut chance = Chance(0x9E37_79B9_7F4A_7C15);
    descend_from(puzzle, start, rounds(puzzle), &mut chance, BROKEN).1 < BROKEN
}

fn rounds(puzzle: &Puzzle) -> usize {
    for_size(ROUNDS, puzzle.units.len(), ROUNDS_WITHIN)
}

/// How many there is time for where each takes a time that grows with the square of the size: so many for 120, no fewer
/// than the least and no more than the most.
pub(super) fn for_size(of_120: usize, size: usize, (least, most): (usize, usize)) -> usize {
    let size = size.max(1);
    (of_120 * 120 * 120 / (size * size)).clamp(least, most)
}

/// A placement with its places and its cost.
pub(super) fn place(puzzle: &Puzzle, group_of: &[usize]) -> Placed {
    let state = State::new(puzzle, group_of.to_vec());
    let total = state.total();
    let least = |sums: &Vec<u32>| {
        let place = sums.iter().enumerate().rev().min_by_key(|(_, sum)| **sum);
        place.map_or(0, |(place, _)| place)
    };
    Placed {
        place_of: state.sums.iter().map(least).collect(),
        broken: total >= BROKEN,
        cost: u64::try_from(total).unwrap_or_default(),
        group_of: state.group_of,
    }
}

/// Units in the order of the place that suits each best, cut into groups of one size.
pub(super) fn by_place(puzzle: &Puzzle) -> Vec<usize> {
    let groups = puzzle.sizes.len();
    let best = |unit: &usize| puzzle.units[*unit].fit.iter().enumerate().min_by_key(|(_, fit)| **fit);
    let mut order: Vec<usize> = (0..puzzle.units.len()).collect();
    order.sort_by_key(|unit| best(unit).map(|(place, _)| place));
    let all: usize = puzzle.units.iter().map(|unit| unit.size).sum();
    let mut group_of = vec![0; puzzle.units.len()];
    let mut before = 0;
    for unit in order {
        let group = (before * groups / all.max(1)).min(groups.saturating_sub(1));
        before += puzzle.units[unit].size;
        let may = |group: &usize| puzzle.units[unit].join[*group].is_some();
        let nearest = (0..groups).filter(may).min_by_key(|other| other.abs_diff(group));
        group_of[unit] = nearest.unwrap_or(group);
    }
    group_of
}

/// The best placement of some rounds from a start; the first that costs less than is `enough`.
fn descend_from(
    puzzle: &Puzzle,
    start: &[usize],
    rounds: usize,
    chance: &mut Chance,
    enough: i64,
) -> (Vec<usize>, i64) {
    let mut state = State::new(puzzle, start.to_vec());
    state.descend();
    let mut best = (state.group_of.clone(), state.total());
    for _ in 0..rounds {
        if best.1 < enough {
            break;
        }
        let mut state = State::new(puzzle, best.0.clone());
        for _ in 0..3 + chance.below(6) {
            let (unit, to) = (chance.below(puzzle.units.len()), chance.below(puzzle.sizes.len()));
            if puzzle.units[unit].join[to].is_some() {
                state.put(unit, to);
            }
        }
        state.descend();
        let total = state.total();
        if total < best.1 {
            best = (state.group_of, total);
        }
    }
    best
}

/// Xorshift numbers: all that is asked of them is to be the same each time.
struct Chance(u64);

impl Chance {
    fn below(&mut self, n: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 % u64::try_from(n.max(1)).unwrap_or(1)).unwrap_or_default()
    }
}

struct State<'a> {
    puzzle: &'a Puzzle,
    /// By unit, those it may not be with.
    apart: Vec<Vec<usize>>,
    group_of: Vec<usize>,
    /// By group, how many pupils.
    pupils: Vec<usize>,
    /// By group and place, what it costs its units.
    sums: Vec<Vec<u32>>,
    /// By group, the least of these.
    least: Vec<u32>,
}

fn least(sums: impl Iterator<Item = u32>) -> i64 {
    i64::from(sums.min().unwrap_or_default())
}

fn times_broken(n: usize) -> i64 {
    i64::try_from(n).unwrap_or(i64::from(u16::MAX)) * BROKEN
}

impl<'a> State<'a> {
    fn new(puzzle: &'a Puzzle, group_of: Vec<usize>) -> Self {
        let mut apart = vec![Vec::new(); puzzle.units.len()];
        for (one, other) in &puzzle.apart {
            apart[*one].push(*other);
            apart[*other].push(*one);
        }
        let groups = puzzle.sizes.len();
        let mut state = Self {
            puzzle,
            apart,
            group_of,
            pupils: vec![0; groups],
            sums: vec![vec![0; puzzle.places]; groups],
            least: vec![0; groups],
        };
        for unit in 0..state.group_of.len() {
            state.add(unit, state.group_of[unit]);
        }
        for group in 0..groups {
            state.settle(group);
        }
        state
    }

    fn add(&mut self, unit: usize, group: usize) {
        let Unit { size, fit, .. } = &self.puzzle.units[unit];
        self.pupils[group] += size;
        self.sums[group].iter_mut().zip(fit).for_each(|(sum, fit)| *sum += fit);
    }

    fn settle(&mut self, group: usize) {
        self.least[group] = self.sums[group].iter().copied().min().unwrap_or_default();
    }

    fn put(&mut self, unit: usize, to: usize) {
        let from = std::mem::replace(&mut self.group_of[unit], to);
        let Unit { size, fit, .. } = &self.puzzle.units[unit];
        self.pupils[from] -= size;
        self.sums[from].iter_mut().zip(fit).for_each(|(sum, fit)| *sum -= fit);
        self.add(unit, to);
        self.settle(from);
        self.settle(to);
    }

    fn size(&self, group: usize, pupils: usize) -> i64 {
        let (fewest, most) = self.puzzle.sizes[group];
        times_broken(fewest.saturating_sub(pupils) + pupils.saturating_sub(most))
    }

    fn join(&self, unit: usize, group: usize) -> i64 {
        self.puzzle.units[unit].join[group].map_or(times_broken(1 << 10), i64::from)
    }

    /// Those a unit may not be with, in a group, but for one.
    fn clashes(&self, unit: usize, group: usize, but: usize) -> i64 {
        let there = |other: &&usize| **other != but && self.group_of[**other] == group;
        times_broken(self.apart[unit].iter().filter(there).count())
    }

    /// What of two groups does not depend on their places: bounds, and one unit each coming there.
    fn gain_of_move(&self, unit: usize, to: usize) -> i64 {
        let (from, size) = (self.group_of[unit], self.puzzle.units[unit].size);
        let before = i64::from(self.least[from] + self.least[to])
            + self.join(unit, from)
            + self.size(from, self.pupils[from])
            + self.size(to, self.pupils[to])
            + self.clashes(unit, from, unit);
        let after = self.join(unit, to)
            + self.size(from, self.pupils[from] - size)
            + self.size(to, self.pupils[to] + size)
            + self.clashes(unit, to, unit);
        if before <= after {
            return before - after;
        }
        let fit = &self.puzzle.units[unit].fit;
        let without = least(self.sums[from].iter().zip(fit).map(|(sum, fit)| sum - fit));
        let with = least(self.sums[to].iter().zip(fit).map(|(sum, fit)| sum + fit));
        before - after - without - with
    }

    fn gain_of_swap(&self, one: usize, other: usize) -> i64 {
        let (a, b) = (self.group_of[one], self.group_of[other]);
        let (units, pupils) = (&self.puzzle.units, &self.pupils);
        let before = i64::from(self.least[a] + self.least[b])
            + self.join(one, a)
            + self.join(other, b)
            + self.size(a, pupils[a])
            + self.size(b, pupils[b])
            + self.clashes(one, a, one)
            + self.clashes(other, b, other);
        let after = self.join(one, b)
            + self.join(other, a)
            + self.size(a, pupils[a] - units[one].size + units[other].size)
            + self.size(b, pupils[b] - units[other].size + units[one].size)
            + self.clashes(one, b, other)
            + self.clashes(other, a, one);
        if before <= after {
            return before - after;
        }
        let change = |group: usize, out: usize, into: usize| {
            let fits = units[into].fit.iter().zip(&units[out].fit);
            least(self.sums[group].iter().zip(fits).map(|(sum, (into, out))| sum + into - out))
        };
        before - after - change(a, one, other) - change(b, other, one)
    }

    /// Moves and swaps until none helps.
    fn descend(&mut self) {
        let (units, groups) = (self.group_of.len(), self.pupils.len());
        let mut better = true;
        while better {
            better = false;
            for unit in 0..units {
                for to in 0..groups {
                    if to != self.group_of[unit] && self.gain_of_move(unit, to) > 0 {
                        self.put(unit, to);
                        better = true;
                    }
                }
                for other in unit + 1..units {
                    let (a, b) = (self.group_of[unit], self.group_of[other]);
                    if a != b && self.gain_of_swap(unit, other) > 0 {
                        self.put(unit, b);
                        self.put(other, a);
                        better = true;
                    }
                }
            }
        }
    }

    fn total(&self) -> i64 {
        let sizes: i64 = (0..self.pupils.len()).map(|group| self.size(group, self.pupils[group])).sum();
        let clash = |(one, other): &&(usize, usize)| self.group_of[*one] == self.group_of[*other];
        let clashes = times_broken(self.puzzle.apart.iter().filter(clash).count());
        let fits: i64 = self.least.iter().map(|sum| i64::from(*sum)).sum();
        let joins: i64 = self.group_of.iter().enumerate().map(|(unit, group)| self.join(unit, *group)).sum();
        sizes + clashes + fits + joins
    }
}
