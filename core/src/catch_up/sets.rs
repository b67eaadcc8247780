//! Sets for catch-up: which adult takes which pupils for which items, each set a few minutes long. Every
//! pupil of a set needs every item of it. The set that serves most needs comes first, of sets that serve
//! as many the one whose items have been open longest. Each pupil has one place before anybody has a
//! second. No set is ever better than the one chosen when it was chosen; that the whole serves most needs
//! is not promised, since finding that out grows without bound.

use std::{cmp::Reverse, collections::BTreeMap};

use crate::{
    id::{ItemId, PupilId, StaffId},
    rules::CatchUpRule,
    time::Date,
};

/// An adult who has some time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Adult {
    /// The adult.
    pub staff: StaffId,
    /// How many minutes.
    pub minutes: u16,
}

/// An item a pupil is to be taught.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Need {
    /// The item.
    pub item: ItemId,
    /// Since when it is open.
    pub missed_on: Date,
}

/// A pupil with what is to be taught.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pupil {
    /// The pupil.
    pub id: PupilId,
    /// Whether the pupil comes that day.
    pub comes: bool,
    /// Which of the adults may take this pupil, by their places in the list.
    pub adults: Vec<usize>,
    /// Each item once.
    pub needs: Vec<Need>,
}

/// What one adult teaches at one go.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Set {
    /// The adult, by place in the list.
    pub adult: usize,
    /// The pupils, in the list's order. Each needs each of the items.
    pub pupils: Vec<PupilId>,
    /// The items, longest open first.
    pub items: Vec<ItemId>,
    /// How long it takes.
    pub minutes: u16,
}

crate::vocabulary! {
    /// Why something found no place in a set.
    pub enum NoPlace as "CatchUpNoPlace" {
        /// The pupil does not come that day.
        NotIn = "not_in",
        /// None of the adults may take this pupil.
        NoAdult = "no_adult",
        /// Those who may have no time left.
        NoTime = "no_time",
    }
}

/// What found no place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Left {
    /// The pupil.
    pub pupil: PupilId,
    /// The items, longest open first.
    pub items: Vec<ItemId>,
    /// Why.
    pub why: NoPlace,
}

/// Sets, in the order they were chosen, and what is left.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Plan {
    /// The sets.
    pub sets: Vec<Set>,
    /// What found no place, in the order of the pupils.
    pub left: Vec<Left>,
}

/// A set that might be chosen: places of items and pupils in their lists.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Candidate {
    items: Vec<usize>,
    pupils: Vec<usize>,
}

impl Candidate {
    fn serves(&self) -> usize {
        self.items.len() * self.pupils.len()
    }
}

/// What is still open while sets are chosen.
struct Planning<'a> {
    rule: &'a CatchUpRule,
    pupils: &'a [Pupil],
    /// Items, longest open first.
    items: Vec<ItemId>,
    /// By pupil and item: since when it is open, while it has no place.
    open: Vec<Vec<Option<Date>>>,
    /// By pupil: whether there is a place to give in this turn.
    waits: Vec<bool>,
}

/// Makes sets of what pupils are to be taught, with the adults there are. The same always makes the same.
pub fn plan(rule: &CatchUpRule, adults: &[Adult], pupils: &[Pupil]) -> Plan {
    let mut planning = Planning::new(rule, pupils);
    let mut minutes: Vec<u16> = adults.iter().map(|adult| adult.minutes).collect();
    let taken_by = |adult: usize| pupils.iter().filter(|pupil| pupil.adults.contains(&adult)).count();
    let fewest: Vec<usize> = (0..adults.len()).map(taken_by).collect();
    let mut sets = Vec::new();
    loop {
        let before = sets.len();
        planning.waits = pupils.iter().map(|pupil| pupil.comes).collect();
        // What was best for an adult stays so until one of its pupils has a place: places only go.
        let mut best: Vec<Option<Option<Candidate>>> = vec![None; adults.len()];
        loop {
            for (adult, known) in best.iter_mut().enumerate() {
                known.get_or_insert_with(|| planning.best(adult, minutes[adult]));
            }
            let found = best.iter().enumerate().filter_map(|(n, one)| Some((n, one.as_ref()?.as_ref()?)));
            let chosen = found.min_by_key(|(n, one)| (Reverse(one.serves()), &one.items, fewest[*n], *n));
            let Some((adult, chosen)) = chosen.map(|(n, one)| (n, one.clone())) else { break };
            let set = planning.take(adult, &chosen);
            minutes[adult] -= set.minutes;
            sets.push(set);
            let touched = |one: &Option<Candidate>| {
                one.as_ref().is_some_and(|one| one.pupils.iter().any(|pupil| chosen.pupils.contains(pupil)))
            };
            for (n, one) in best.iter_mut().enumerate() {
                if n == adult || one.as_ref().is_some_and(touched) {
                    *one = None;
                }
            }
        }
        if sets.len() == before {
            break;
        }
    }
    Plan { left: planning.left(), sets }
}

impl<'a> Planning<'a> {
    fn new(rule: &'a CatchUpRule, pupils: &'a [Pupil]) -> Self {
        let mut since: BTreeMap<ItemId, (Date, usize)> = BTreeMap::new();
        for (n, need) in pupils.iter().flat_map(|pupil| &pupil.needs).enumerate() {
            let first = since.entry(need.item).or_insert((need.missed_on, n));
            first.0 = first.0.min(need.missed_on);
        }
        let mut items: Vec<ItemId> = since.keys().copied().collect();
        items.sort_by_key(|item| since[item]);
        let need = |pupil: &Pupil, item: &ItemId| {
            pupil.needs.iter().find(|need| need.item == *item).map(|need| need.missed_on)
        };
        let open = pupils.iter().map(|pupil| items.iter().map(|item| need(pupil, item)).collect()).collect();
        Self { rule, pupils, open, items, waits: vec![true; pupils.len()] }
    }

    /// The best set for an adult with so many minutes; none where nothing is to be taught.
    fn best(&self, adult: usize, minutes: u16) -> Option<Candidate> {
        let most = minutes.min(self.rule.minutes).checked_div(self.rule.minutes_per_item)?;
        let of_adult = |n: &usize| {
            self.waits[*n] && self.pupils[*n].adults.contains(&adult) && self.rule.pupils_most > 0
        };
        let pupils: Vec<usize> = (0..self.pupils.len()).filter(of_adult).collect();
        let mut best = None;
        if most > 0 {
            self.search(&mut Vec::new(), 0, &pupils, usize::from(most), &mut best);
        }
        best
    }

    /// Goes through the lists of at most `most` items in order, those longest open first, and leaves out
    /// whatever cannot become better than the best so far.
    fn search(
        &self,
        items: &mut Vec<usize>,
        from: usize,
        pupils: &[usize],
        most: usize,
        best: &mut Option<Candidate>,
    ) {
        for item in from..self.items.len() {
            let need: Vec<usize> =
                pupils.iter().copied().filter(|pupil| self.open[*pupil][item].is_some()).collect();
            let places = need.len().min(self.rule.pupils_most);
            let served = best.as_ref().map_or(0, Candidate::serves);
            let room = most.min(items.len() + self.items.len() - item);
            if places * room <= served {
                continue;
            }
            items.push(item);
            if places * items.len() > served {
                *best = Some(self.candidate(items, need.clone()));
            }
            if items.len() < most {
                self.search(items, item + 1, &need, most, best);
            }
            items.pop();
        }
    }

    /// Of the pupils who need all of these items, those for whom one of them has been open longest; then
    /// those who need most.
    fn candidate(&self, items: &[usize], mut pupils: Vec<usize>) -> Candidate {
        let since = |pupil: usize| items.iter().filter_map(|item| self.open[pupil][*item]).min();
        pupils.sort_by_key(|pupil| (since(*pupil), Reverse(self.pupils[*pupil].needs.len()), *pupil));
        pupils.truncate(self.rule.pupils_most);
        pupils.sort_unstable();
        Candidate { items: items.to_vec(), pupils }
    }

    fn take(&mut self, adult: usize, chosen: &Candidate) -> Set {
        for pupil in &chosen.pupils {
            self.waits[*pupil] = false;
            for item in &chosen.items {
                self.open[*pupil][*item] = None;
            }
        }
        let count = u16::try_from(chosen.items.len()).unwrap_or(u16::MAX);
        Set {
            adult,
            pupils: chosen.pupils.iter().map(|pupil| self.pupils[*pupil].id).collect(),
            items: chosen.items.iter().map(|item| self.items[*item]).collect(),
            minutes: self.rule.minutes_per_item.saturating_mul(count),
        }
    }

    fn left(&self) -> Vec<Left> {
        let left = self.pupils.iter().zip(&self.open).map(|(pupil, open)| Left {
            pupil: pupil.id,
            items: self
                .items
                .iter()
                .zip(open)
                .filter(|(_, open)| open.is_some())
                .map(|(id, _)| *id)
                .collect(),
            why: match pupil {
                Pupil { comes: false, .. } => NoPlace::NotIn,
                Pupil { adults, .. } if adults.is_empty() => NoPlace::NoAdult,
                _ => NoPlace::NoTime,
            },
        });
        left.filter(|left| !left.items.is_empty()).collect()
    }
}

#[cfg(test)]
mod tests;
