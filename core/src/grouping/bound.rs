//! What no placement costs less than: each unit's place in a group is given a price, each group takes
//! the units that pay most for it within its size, and the prices are moved until no more is gained.
//! Pairs that stay apart are left out, and units may be cut: both only lower the bound.

use super::puzzle::Puzzle;

/// The fewest and the most rounds of moving the prices. Each looks at every unit in every group at every
/// place; the most are for that much of it, and where there is more there are fewer.
const ROUNDS: (usize, usize) = (60, 300);
const LOOKS: usize = 120 * 10 * 88;
/// Rounds without gain after which the step shrinks.
const PATIENCE: usize = 8;

/// The bound, rounded up: costs are whole.
pub(super) fn bound(puzzle: &Puzzle, found: u64) -> u64 {
    #[allow(clippy::cast_precision_loss)] // far below 2^52
    let found_cost = found as f64;
    let least = |unit: &super::puzzle::Unit| unit.fit.iter().min().copied().unwrap_or_default();
    let mut prices: Vec<f64> = puzzle.units.iter().map(|unit| f64::from(least(unit))).collect();
    let (mut best, mut step, mut idle) = (0.0_f64, 1.0, 0);
    let looks = (puzzle.units.len() * puzzle.sizes.len() * puzzle.places).max(1);
    for _ in 0..(ROUNDS.1 * LOOKS / looks).clamp(ROUNDS.0, ROUNDS.1) {
        let (value, taken) = relaxed(puzzle, &prices);
        idle = if value > best { 0 } else { idle + 1 };
        best = best.max(value);
        if idle >= PATIENCE {
            (step, idle) = (step * 0.6, 0);
        }
        let off: f64 = taken.iter().map(|taken| (1.0 - taken).powi(2)).sum();
        // Nothing left to move, or nothing left to gain.
        if off < 1e-9 || found_cost - best < 1.0 - 1e-6 || step < 1e-3 {
            break;
        }
        let length = step * (found_cost - value) / off;
        for (price, taken) in prices.iter_mut().zip(&taken) {
            *price += length * (1.0 - taken);
        }
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // not below nought, and small
    let bound = (best - 1e-6).ceil().max(0.0) as u64;
    bound.min(found)
}

/// The least sum at these prices, and how often each unit is taken.
fn relaxed(puzzle: &Puzzle, prices: &[f64]) -> (f64, Vec<f64>) {
    let mut value: f64 = prices.iter().sum();
    let mut taken = vec![0.0; prices.len()];
    let mut order: Vec<(f64, usize)> = Vec::with_capacity(prices.len());
    for (group, sizes) in puzzle.sizes.iter().enumerate() {
        let mut best: (f64, Vec<(usize, f64)>) = (if sizes.0 == 0 { 0.0 } else { f64::MAX }, Vec::new());
        for place in 0..puzzle.places {
            order.clear();
            order.extend(puzzle.units.iter().enumerate().filter_map(|(unit, of)| {
                let cost = f64::from(of.fit[place]) + f64::from(of.join[group]?);
                Some(((cost - prices[unit]) / width(of.size), unit))
            }));
            // Each is at least one pupil: no more than the most of the group can be taken.
            if sizes.1 < order.len() {
                order.select_nth_unstable_by(sizes.1, |a, b| a.0.total_cmp(&b.0));
                order.truncate(sizes.1);
            }
            order.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
            let found = fill(puzzle, *sizes, &order);
            if found.0 < best.0 {
                best = found;
            }
        }
        // A group that cannot be filled: found before, so it does not come to this.
        value += if best.0 < f64::MAX { best.0 } else { 0.0 };
        for (unit, part) in best.1 {
            taken[unit] += part;
        }
    }
    (value, taken)
}

/// Fills a group, cheapest first: all that pay for themselves, and others up to its least size.
fn fill(puzzle: &Puzzle, (fewest, most): (usize, usize), order: &[(f64, usize)]) -> (f64, Vec<(usize, f64)>) {
    let (mut held, mut sum, mut taken) = (0.0, 0.0, Vec::new());
    for (each, unit) in order {
        let room = if *each < 0.0 { width(most) } else { width(fewest) } - held;
        if room <= 0.0 {
            break;
        }
        let size = width(puzzle.units[*unit].size);
        let part = size.min(room);
        sum += each * part;
        held += part;
        taken.push((*unit, part / size));
    }
    if held + 1e-9 < width(fewest) { (f64::MAX, Vec::new()) } else { (sum, taken) }
}

#[allow(clippy::cast_precision_loss)] // pupils of a school
fn width(pupils: usize) -> f64 {
    pupils as f64
}
