//! Which lines of an ask no placement keeps together: one after the other is left out for good where still no placement
//! is found without it. What remains is needed, each line of it.

use std::collections::BTreeSet;

use super::{Ask, Slot, frame, search};
use crate::{id::PupilId, sequence::Fault};

/// A line of an ask that can be left out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Line {
    Pin(usize),
    Together(usize),
    Apart(usize),
    Least(usize),
    Most(usize),
}

impl std::fmt::Display for Line {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Pin(n) => write!(f, "pins[{n}]"),
            Self::Together(n) => write!(f, "together[{n}]"),
            Self::Apart(n) => write!(f, "apart[{n}]"),
            Self::Least(n) => write!(f, "groups[{n}].least"),
            Self::Most(n) => write!(f, "groups[{n}].most"),
        }
    }
}

/// Placements looked for at the most, of 120 pupils; of more fewer, as each takes longer.
const TRIES: usize = 64;
/// The fewest and the most.
const TRIES_WITHIN: (usize, usize) = (32, 256);

/// The lines no placement was found to keep together, as one fault; none where they could not be told. `placed` is the
/// group each pupil has in the placement that breaks least.
pub(super) fn named(ask: &Ask<'_>, placed: &[usize]) -> Option<Fault> {
    let (needed, minimal) = needed(ask, placed);
    let field = needed.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
    let message = match (needed.len(), minimal) {
        (0, _) => return None,
        (1, true) => "no placement was found that keeps it, and one that keeps everything else",
        (_, true) => {
            "no placement was found that keeps all of these, and one that keeps all but any one of them"
        }
        (_, false) => {
            "no placement was found that keeps all of these; some of them may not be needed for that"
        }
    };
    Some(Fault { field, message: message.into() })
}

/// The lines that are left, and whether each of them was tried.
fn needed(ask: &Ask<'_>, placed: &[usize]) -> (BTreeSet<Line>, bool) {
    let mut tries = search::for_size(TRIES, ask.pupils.len(), TRIES_WITHIN);
    let mut kept: Vec<Line> = (0..ask.pins.len())
        .map(Line::Pin)
        .chain((0..ask.together.len()).map(Line::Together))
        .chain((0..ask.groups.len()).flat_map(|n| [Line::Least(n), Line::Most(n)]))
        .chain((0..ask.apart.len()).map(Line::Apart))
        .collect();
    let mut size = kept.len().div_ceil(2);
    while size > 0 {
        let mut from = 0;
        while from < kept.len() {
            if tries == 0 {
                return (kept.into_iter().collect(), false);
            }
            tries -= 1;
            let until = (from + size).min(kept.len());
            let without: BTreeSet<Line> = kept[..from].iter().chain(&kept[until..]).copied().collect();
            if is_kept(ask, &without, placed) {
                from = until;
            } else {
                kept.drain(from..until);
            }
        }
        size = if size == 1 { 0 } else { size.div_ceil(2) };
    }
    (kept.into_iter().collect(), true)
}

/// Whether a placement is found that keeps these lines, whatever it costs.
fn is_kept(ask: &Ask<'_>, lines: &BTreeSet<Line>, placed: &[usize]) -> bool {
    fn those<T: Clone>(all: &[T], is_in: impl Fn(usize) -> bool) -> Vec<T> {
        all.iter().enumerate().filter(|(n, _)| is_in(*n)).map(|(_, one)| one.clone()).collect()
    }
    let together: Vec<BTreeSet<PupilId>> = those(ask.together, |n| lines.contains(&Line::Together(n)));
    let apart: Vec<BTreeSet<PupilId>> = those(ask.apart, |n| lines.contains(&Line::Apart(n)));
    let pins: Vec<(PupilId, usize)> = those(ask.pins, |n| lines.contains(&Line::Pin(n)));
    let slot = |(n, slot): (usize, &Slot)| Slot {
        least: if lines.contains(&Line::Least(n)) { slot.least } else { 0 },
        most: if lines.contains(&Line::Most(n)) { slot.most } else { ask.pupils.len() },
        ..slot.clone()
    };
    let groups: Vec<Slot> = ask.groups.iter().enumerate().map(slot).collect();
    let ask = Ask { groups: &groups, together: &together, apart: &apart, pins: &pins, ..ask.clone() };
    let (puzzle, members) = frame(&ask);
    let start = members.iter().map(|of| of.first().and_then(|one| placed.get(*one)).copied().unwrap_or(0));
    search::is_kept(&puzzle, &start.collect::<Vec<_>>())
}
