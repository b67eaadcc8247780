//! Two proposals side by side: who is elsewhere.

use std::collections::BTreeMap;

use super::{Proposal, Slot};
use crate::id::PupilId;

/// Where a proposal places a pupil.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Seen {
    /// The group, by its place in what was asked.
    pub group: usize,
    /// Items not learned before the group's next lesson.
    pub not_learned: usize,
    /// Items of its next lessons that were taught before and are not known to be missing: secure, or not asked yet.
    pub met_again: usize,
}

/// A pupil whom two proposals place in different groups, or one of them not at all.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Elsewhere {
    /// The pupil.
    pub pupil: PupilId,
    /// In the one.
    pub here: Option<Seen>,
    /// In the other.
    pub there: Option<Seen>,
}

/// Who is elsewhere, in the order of ids. One group that is to be made is another's where the names are alike.
pub fn elsewhere(one: (&[Slot], &Proposal), other: (&[Slot], &Proposal)) -> Vec<Elsewhere> {
    let (mut here, mut there) = (seen(one.1), seen(other.1));
    let mut pupils: Vec<PupilId> = here.keys().chain(there.keys()).copied().collect();
    pupils.sort_unstable();
    pupils.dedup();
    let both = pupils.into_iter().map(|pupil| Elsewhere {
        pupil,
        here: here.remove(&pupil),
        there: there.remove(&pupil),
    });
    let slot = |slots: &[Slot], seen: Option<Seen>| {
        let slot = slots.get(seen?.group)?;
        // The name of a group there is may be another by now: its id says which it is.
        Some((slot.group_id, slot.group_id.is_none().then(|| slot.name.clone())))
    };
    both.filter(|pupil| slot(one.0, pupil.here) != slot(other.0, pupil.there)).collect()
}

fn seen(proposal: &Proposal) -> BTreeMap<PupilId, Seen> {
    let groups = proposal.groups.iter().enumerate();
    let placed = groups.flat_map(|(group, of)| of.pupils.iter().map(move |one| (group, one)));
    let seen = placed.map(|(group, one)| {
        (one.id, Seen { group, not_learned: one.before.len(), met_again: one.again.len() })
    });
    seen.collect()
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;
    use crate::{
        grouping::{Placement, Proposed},
        id::Id,
        text::Name,
    };

    fn id<K>(n: u128) -> Id<K> {
        Id::from_uuid(uuid::Uuid::from_u128(n))
    }

    fn slot(group: Option<u128>, name: &str) -> Slot {
        Slot {
            group_id: group.map(id),
            name: Name::new(name).unwrap(),
            staff_id: None,
            room: None,
            time: None,
            least: 0,
            most: 9,
            year_groups: BTreeSet::new(),
        }
    }

    /// By group, pupils with how many items each has not learned.
    fn proposal(groups: &[&[(u128, usize)]]) -> Proposal {
        let pupil = |(n, before): &(u128, usize)| Placement {
            id: id(*n),
            moves: false,
            pinned: false,
            before: (0..*before).collect(),
            ahead: vec![],
            again: vec![],
            instead: None,
        };
        let groups = groups.iter().map(|of| Proposed { next: 0, pupils: of.iter().map(pupil).collect() });
        Proposal { groups: groups.collect(), cost: 0, bound: 0, by_place: None, as_now: None }
    }

    #[test]
    fn a_group_is_the_same_by_its_id_and_a_new_one_by_its_name() {
        let one = [slot(Some(1), "Ants"), slot(None, "Bees")];
        // The first has another name by now, and the order is another.
        let other = [slot(None, "Bees"), slot(Some(1), "Wasps")];
        let here = proposal(&[&[(11, 0), (12, 0), (13, 2)], &[(14, 0)]]);
        let there = proposal(&[&[(14, 1), (13, 3)], &[(12, 1), (11, 0), (15, 0)]]);
        let found = elsewhere((&one, &here), (&other, &there));
        let seen = |group, not_learned| Some(Seen { group, not_learned, met_again: 0 });
        assert_eq!(
            found,
            [
                Elsewhere { pupil: id(13), here: seen(0, 2), there: seen(0, 3) },
                Elsewhere { pupil: id(15), here: None, there: seen(1, 0) },
            ]
        );
        assert!(elsewhere((&one, &here), (&one, &here)).is_empty());
    }
}
