//! Teaching groups proposed from what pupils have still to learn.
//!
//! A group is taught from one place of the sequence on. A pupil who comes there misses what stands
//! before and was not learned, and meets again what stands after and is secure. Both are counted in
//! items and weighed by the rule pack, and so is a change of group; the proposal is the placement with
//! the least sum that was found. How far it may be from the best there is, is said with it.
//!
//! Placing pupils in groups of limited size round places of their own is capacitated clustering: the
//! bound is the Lagrangian relaxation of J. M. Mulvey and M. P. Beck, "Solving capacitated clustering
//! problems", European Journal of Operational Research 18 (1984). No study says what a good weight is:
//! they are the school's, and adults decide.

mod asked;
mod bound;
mod compare;
mod contradiction;
mod course;
mod faults;
mod needs;
mod puzzle;
mod search;
#[cfg(test)]
mod tests;
mod times;

use std::collections::BTreeSet;

pub use asked::{Asked, GroupNow, Pin, PupilNow, SchoolNow};
pub use compare::{Elsewhere, Seen, elsewhere};
pub use course::Course;
pub use needs::Need;
use serde::{Deserialize, Serialize};

use crate::{
    id::{GroupId, PupilId, StaffId},
    rules::GroupingRule,
    sequence::Fault,
};
use needs::Needs;
use puzzle::{Puzzle, Unit};

/// What groups are asked for, and for whom.
#[derive(Clone, Debug)]
pub struct Ask<'a> {
    /// The pupils.
    pub pupils: &'a [Candidate],
    /// The groups, those that are there and those to be made.
    pub groups: &'a [Slot],
    /// Pupils who stay together.
    pub together: &'a [BTreeSet<PupilId>],
    /// Pupils none of whom is with another of them.
    pub apart: &'a [BTreeSet<PupilId>],
    /// Pupils whom an adult has placed, each with the place of the group in `groups`.
    pub pins: &'a [(PupilId, usize)],
    /// The places a group can be taught from: by lesson, in order, its first item; the number of items last.
    pub lessons: &'a [usize],
    /// The weights.
    pub rule: &'a GroupingRule,
}

/// A pupil to be placed.
#[derive(Clone, Debug)]
pub struct Candidate {
    /// The pupil.
    pub id: PupilId,
    /// Code of the year group, if it is known.
    pub year_group: Option<String>,
    /// The group the pupil is in, by its place in [`Ask::groups`].
    pub now: Option<usize>,
    /// By item of the sequence, in its order.
    pub needs: Vec<Need>,
}

/// A group to be filled.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = GroupSlot))]
pub struct Slot {
    /// The group there is; none for one to be made.
    #[serde(default)]
    pub group_id: Option<GroupId>,
    /// Its name, the school's own; that of a group there is, as it is.
    pub name: crate::text::Name,
    /// Who takes it. A group there is keeps its adults.
    #[serde(default)]
    pub staff_id: Option<StaffId>,
    /// Where.
    #[serde(default)]
    pub room: Option<crate::text::Title>,
    /// When, as the school says it, such as 9.15 or 9.15-9.45: groups of one time need adults and rooms of their own.
    #[serde(default)]
    pub time: Option<crate::text::Title>,
    /// The least pupils.
    pub least: usize,
    /// The most pupils.
    pub most: usize,
    /// Codes of the year groups it is for; all where none is named.
    #[serde(default)]
    pub year_groups: BTreeSet<String>,
}

/// Groups as proposed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Proposal {
    /// In the order of [`Ask::groups`].
    pub groups: Vec<Proposed>,
    /// What it costs, in weighed items.
    pub cost: u64,
    /// What no placement costs less than.
    pub bound: u64,
    /// What pupils cut by their place in the sequence into groups of one size would cost; none where that
    /// breaks what was asked.
    pub by_place: Option<u64>,
    /// What it costs if nobody changes group; none where that breaks what was asked, or somebody is in none.
    pub as_now: Option<u64>,
}

impl Proposal {
    /// How much less the best placement may cost, in thousandths of what this one does, rounded up.
    pub fn gap_per_mille(&self) -> u64 {
        (self.cost.saturating_sub(self.bound) * 1000).div_ceil(self.cost.max(1))
    }

    /// Its figures.
    pub fn figures(&self) -> Figures {
        Figures {
            pupils: self.groups.iter().map(|group| group.pupils.len()).sum(),
            groups: self.groups.len(),
            moves: self.moves().count(),
            cost: self.cost,
            bound: self.bound,
            gap_per_mille: self.gap_per_mille(),
            by_place: self.by_place,
            as_now: self.as_now,
        }
    }

    /// Who would change group, or comes into one.
    pub fn moves(&self) -> impl Iterator<Item = PupilId> {
        self.groups.iter().flat_map(|group| &group.pupils).filter(|one| one.moves).map(|one| one.id)
    }
}

/// A proposal in figures.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = GroupProposalFigures))]
pub struct Figures {
    /// Pupils placed, each once.
    pub pupils: usize,
    /// Groups.
    pub groups: usize,
    /// Pupils who would change group, or come into one.
    pub moves: usize,
    /// What it costs, in weighed items.
    pub cost: u64,
    /// What no placement costs less than.
    pub bound: u64,
    /// How much less the best placement may cost, in thousandths of what this one does, rounded up.
    pub gap_per_mille: u64,
    /// What pupils cut by their place in the sequence into groups of one size would cost; null where that
    /// breaks what was asked.
    pub by_place: Option<u64>,
    /// What it costs if nobody changes group; null where that breaks what was asked, or somebody is in none.
    pub as_now: Option<u64>,
}

/// A group as proposed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Proposed {
    /// The lesson it would be taught next, by its place in [`Ask::lessons`]; their number if none is left.
    pub next: usize,
    /// Its pupils, in the order asked.
    pub pupils: Vec<Placement>,
}

/// One pupil's place and why, in items by their place in the sequence.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Placement {
    /// The pupil.
    pub id: PupilId,
    /// In another group now, or in none.
    pub moves: bool,
    /// Placed by an adult.
    pub pinned: bool,
    /// Stand before the group's next lesson and are not learned: to be caught up.
    pub before: Vec<usize>,
    /// Stand in the next lessons and are not learned: what the group brings.
    pub ahead: Vec<usize>,
    /// Stand in the next lessons and were taught, secure or not asked since: met again.
    pub again: Vec<usize>,
    /// The group with room that would come next, and how much more it would cost the pupil, and those who
    /// stay together with the pupil, to be there, in weighed items.
    pub instead: Option<(usize, u64)>,
}

/// Proposes groups.
///
/// # Errors
/// Every line of what was asked that cannot be, alone or beside others; or those that no placement was
/// found to keep.
pub fn propose(ask: &Ask<'_>) -> Result<Proposal, Vec<Fault>> {
    let faults = faults::of(ask);
    if !faults.is_empty() {
        return Err(faults);
    }
    let (puzzle, members) = puzzle(ask);
    let by_place = search::by_place(&puzzle);
    let now: Option<Vec<usize>> = members.iter().map(|of| all_now(ask, of)).collect();
    let starts: Vec<Vec<usize>> = [Some(by_place.clone()), now.clone()].into_iter().flatten().collect();
    let of_use = puzzle.of_use();
    let group_of = search::search(&of_use, &starts);
    let found = search::place(&puzzle, &group_of);
    if found.broken {
        let mut placed = vec![0; ask.pupils.len()];
        for (of, group) in members.iter().zip(&found.group_of) {
            of.iter().for_each(|pupil| placed[*pupil] = *group);
        }
        return Err(match contradiction::named(ask, &placed) {
            Some(fault) => vec![fault],
            None => faults::unmet(ask, &members, &found.group_of),
        });
    }
    Ok(Proposal {
        groups: explained(ask, &puzzle, &members, &found),
        cost: found.cost,
        bound: bound::bound(&of_use, found.cost),
        by_place: cost_of(&puzzle, &by_place),
        as_now: now.and_then(|now| cost_of(&puzzle, &now)),
    })
}

/// What pupils cut by their place in the sequence into groups of one size would cost: the plain way, to
/// compare with. None where it breaks what was asked.
pub fn by_place(ask: &Ask<'_>) -> Option<u64> {
    let (puzzle, _) = puzzle(ask);
    cost_of(&puzzle, &search::by_place(&puzzle))
}

fn cost_of(puzzle: &Puzzle, group_of: &[usize]) -> Option<u64> {
    let placed = search::place(puzzle, group_of);
    (!placed.broken).then_some(placed.cost)
}

/// The ask in bare numbers, and by unit the pupils of it.
fn puzzle(ask: &Ask<'_>) -> (Puzzle, Vec<Vec<usize>>) {
    let (mut puzzle, members) = frame(ask);
    let needs = Needs { lessons: ask.lessons, rule: ask.rule };
    for (unit, of) in puzzle.units.iter_mut().zip(&members) {
        unit.fit = vec![0; ask.lessons.len()];
        for pupil in of {
            for (sum, cost) in unit.fit.iter_mut().zip(needs.costs(&ask.pupils[*pupil].needs)) {
                *sum += cost;
            }
        }
    }
    puzzle.places = ask.lessons.len();
    (puzzle, members)
}

/// The same without what there is to learn: as if there were one place, and all suited by it.
fn frame(ask: &Ask<'_>) -> (Puzzle, Vec<Vec<usize>>) {
    let members = faults::units(ask);
    let unit_of =
        |id: &PupilId| members.iter().position(|of| of.iter().any(|one| ask.pupils[*one].id == *id));
    let units = members.iter().map(|of| {
        let those = || of.iter().map(|one| &ask.pupils[*one]);
        let join = |group: usize| {
            let moving = those().filter(|pupil| pupil.now.is_some_and(|now| now != group)).count();
            let may = those().all(|pupil| faults::may(ask, pupil, group));
            may.then(|| u32::try_from(moving).unwrap_or(u32::MAX).saturating_mul(ask.rule.change_of_group))
        };
        Unit { size: of.len(), fit: vec![0], join: (0..ask.groups.len()).map(join).collect() }
    });
    let apart = ask.apart.iter().flat_map(|set| {
        let units: Vec<usize> = set.iter().filter_map(unit_of).collect();
        let pairs =
            units.iter().enumerate().flat_map(|(n, one)| units[n + 1..].iter().map(|other| (*one, *other)));
        pairs.collect::<Vec<_>>()
    });
    let sizes = ask.groups.iter().map(|group| (group.least, group.most)).collect();
    (Puzzle { units: units.collect(), sizes, apart: apart.collect(), places: 1 }, members)
}

fn explained(
    ask: &Ask<'_>,
    puzzle: &Puzzle,
    members: &[Vec<usize>],
    found: &search::Placed,
) -> Vec<Proposed> {
    let needs = Needs { lessons: ask.lessons, rule: ask.rule };
    let mut groups: Vec<Proposed> =
        found.place_of.iter().map(|next| Proposed { next: *next, pupils: Vec::new() }).collect();
    let mut placed: Vec<(usize, usize, usize)> = Vec::new();
    for (unit, of) in members.iter().enumerate() {
        placed.extend(of.iter().map(|pupil| (*pupil, unit, found.group_of[unit])));
    }
    placed.sort_unstable();
    for (pupil, unit, group) in placed {
        let candidate = &ask.pupils[pupil];
        let next = found.place_of[group];
        let (before, ahead, again) = needs.told(&candidate.needs, next);
        let cost = |group: usize| {
            let unit = &puzzle.units[unit];
            Some(u64::from(unit.fit[found.place_of[group]]) + u64::from(unit.join[group]?))
        };
        let here = cost(group).unwrap_or_default();
        let free = |other: &usize| {
            let there = members.iter().zip(&found.group_of).filter(|(_, of)| *of == other);
            let pupils: usize = there.map(|(of, _)| of.len()).sum();
            let clash = |(one, two): &(usize, usize)| {
                (*one == unit && found.group_of[*two] == *other)
                    || (*two == unit && found.group_of[*one] == *other)
            };
            pupils > 0
                && pupils + members[unit].len() <= ask.groups[*other].most
                && !puzzle.apart.iter().any(clash)
        };
        let others = (0..ask.groups.len()).filter(|other| *other != group).filter(free);
        let instead = others.filter_map(|other| Some((other, cost(other)?))).min_by_key(|(_, cost)| *cost);
        groups[group].pupils.push(Placement {
            id: candidate.id,
            moves: candidate.now != Some(group),
            pinned: ask.pins.iter().any(|(id, _)| *id == candidate.id),
            before,
            ahead,
            again,
            instead: instead.map(|(other, cost)| (other, cost.saturating_sub(here))),
        });
    }
    groups
}

/// The group all of a unit are in.
fn all_now(ask: &Ask<'_>, of: &[usize]) -> Option<usize> {
    let now = ask.pupils[*of.first()?].now;
    now.filter(|_| of.iter().all(|one| ask.pupils[*one].now == now))
}
