//! What of an ask cannot be, alone or beside the rest of it.

use std::collections::{BTreeMap, BTreeSet};

use super::{Ask, Candidate, times::at_once};
use crate::{id::PupilId, sequence::Fault, text::one_name};

struct Faults(Vec<Fault>);

impl Faults {
    fn push(&mut self, field: String, message: impl Into<String>) {
        self.0.push(Fault { field, message: message.into() });
    }
}

/// Every line at fault.
pub(super) fn of(ask: &Ask<'_>) -> Vec<Fault> {
    let mut faults = Faults(Vec::new());
    groups(ask, &mut faults);
    people(ask, &mut faults);
    if faults.0.is_empty() {
        whole(ask, &mut faults);
    }
    faults.0
}

/// Pupils who stay together: sets that share a pupil are one. Everybody else is alone. By place in the ask.
pub(super) fn units(ask: &Ask<'_>) -> Vec<Vec<usize>> {
    let place: BTreeMap<PupilId, usize> = ask.pupils.iter().enumerate().map(|(n, one)| (one.id, n)).collect();
    let mut head: Vec<usize> = (0..ask.pupils.len()).collect();
    for set in ask.together {
        let those: Vec<usize> = set.iter().filter_map(|id| place.get(id).copied()).collect();
        let Some(first) = those.iter().map(|one| head[*one]).min() else { continue };
        let old: BTreeSet<usize> = those.iter().map(|one| head[*one]).collect();
        head.iter_mut().filter(|of| old.contains(of)).for_each(|of| *of = first);
    }
    let mut units: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (pupil, head) in head.iter().enumerate() {
        units.entry(*head).or_default().push(pupil);
    }
    units.into_values().collect()
}

/// Whether a pupil may be in a group: by year group, and by the adult who placed the pupil.
pub(super) fn may(ask: &Ask<'_>, pupil: &Candidate, group: usize) -> bool {
    let years = &ask.groups[group].year_groups;
    let year = years.is_empty() || pupil.year_group.as_ref().is_some_and(|code| years.contains(code));
    year && ask.pins.iter().find(|(id, _)| *id == pupil.id).is_none_or(|(_, to)| *to == group)
}

fn groups(ask: &Ask<'_>, faults: &mut Faults) {
    if ask.groups.is_empty() {
        faults.push("groups".into(), "name at least one");
    }
    for (n, group) in ask.groups.iter().enumerate() {
        let field = |name: &str| format!("groups[{n}].{name}");
        if group.most == 0 || group.most < group.least {
            faults.push(field("most"), "is less than the least, or nobody");
        }
        for (m, other) in ask.groups[..n].iter().enumerate() {
            if group.group_id.is_some() && group.group_id == other.group_id {
                faults.push(field("group_id"), "stands twice");
            }
            if one_name(group.name.as_str(), other.name.as_str()) {
                faults.push(field("name"), format!("is the name of groups[{m}] too"));
            }
            if !at_once(group.time.as_ref(), other.time.as_ref()) {
                continue;
            }
            if group.staff_id.is_some() && group.staff_id == other.staff_id {
                faults.push(field("staff_id"), format!("takes {} at the same time", other.name));
            }
            let rooms = group.room.as_ref().zip(other.room.as_ref());
            if rooms.is_some_and(|(one, other)| one_name(one.as_str(), other.as_str())) {
                faults.push(field("room"), format!("is the room of {} at the same time", other.name));
            }
        }
    }
}

fn people(ask: &Ask<'_>, faults: &mut Faults) {
    let known: BTreeSet<PupilId> = ask.pupils.iter().map(|pupil| pupil.id).collect();
    if known.is_empty() {
        faults.push("pupil_ids".into(), "name at least one");
    }
    let mut sets = |name: &str, sets: &[BTreeSet<PupilId>]| {
        for (n, set) in sets.iter().enumerate() {
            if set.len() < 2 {
                faults.push(format!("{name}[{n}]"), "names fewer than two pupils");
            }
            if !set.is_subset(&known) {
                faults.push(format!("{name}[{n}]"), "names a pupil who is not to be placed");
            }
        }
    };
    sets("together", ask.together);
    sets("apart", ask.apart);
    for (n, (pupil, group)) in ask.pins.iter().enumerate() {
        if !known.contains(pupil) {
            faults.push(format!("pins[{n}].pupil_id"), "is not to be placed");
        }
        if *group >= ask.groups.len() {
            faults.push(format!("pins[{n}].group"), "is none of the groups asked for");
        }
        if ask.pins[..n].iter().any(|(other, _)| other == pupil) {
            faults.push(format!("pins[{n}].pupil_id"), "stands twice");
        }
    }
}

/// What cannot be kept together.
fn whole(ask: &Ask<'_>, faults: &mut Faults) {
    let pupils = ask.pupils.len();
    let sum =
        |of: fn(&super::Slot) -> usize| -> usize { ask.groups.iter().map(of).fold(0, usize::saturating_add) };
    let (least, most) = (sum(|group| group.least), sum(|group| group.most));
    if pupils > most {
        faults.push("groups".into(), format!("hold {most} pupils at most, and there are {pupils}"));
    }
    if pupils < least {
        faults.push("groups".into(), format!("need {least} pupils at least, and there are {pupils}"));
    }
    for (n, (pupil, group)) in ask.pins.iter().enumerate() {
        let of = ask.pupils.iter().find(|one| one.id == *pupil);
        if of.is_some_and(|one| !may(ask, one, *group)) {
            faults.push(format!("pins[{n}]"), "the group is for other year groups than the pupil's");
        }
    }
    for (n, group) in ask.groups.iter().enumerate() {
        let pinned = ask.pins.iter().filter(|(_, to)| *to == n).count();
        if pinned > group.most {
            faults.push(format!("groups[{n}].most"), format!("{pinned} pupils are placed in it by an adult"));
        }
    }
    for pupil in ask.pupils {
        if !(0..ask.groups.len()).any(|group| may(ask, pupil, group))
            && !ask.pins.iter().any(|pin| pin.0 == pupil.id)
        {
            // By id: who was named by a class stands in no list of the ask.
            faults.push("groups".into(), format!("none is for the year group of pupil {}", pupil.id));
        }
    }
    if faults.0.is_empty() {
        sets(ask, faults);
    }
}

fn sets(ask: &Ask<'_>, faults: &mut Faults) {
    let units = units(ask);
    let ids = |unit: &[usize]| -> BTreeSet<PupilId> { unit.iter().map(|one| ask.pupils[*one].id).collect() };
    let unit_of =
        |id: PupilId| units.iter().position(|unit| unit.iter().any(|one| ask.pupils[*one].id == id));
    for unit in units.iter().filter(|unit| unit.len() > 1) {
        let those = ids(unit);
        let lines: Vec<String> = (ask.together.iter().enumerate())
            .filter(|(_, set)| !set.is_disjoint(&those))
            .map(|(n, _)| format!("together[{n}]"))
            .collect();
        let field = || lines.join(", ");
        if let Some(n) = ask.apart.iter().position(|set| set.intersection(&those).count() > 1) {
            faults.push(field(), format!("keeps pupils together that apart[{n}] keeps apart"));
        }
        let pins: Vec<usize> = (0..ask.pins.len()).filter(|n| those.contains(&ask.pins[*n].0)).collect();
        if let Some(n) = pins.iter().find(|n| ask.pins[**n].1 != ask.pins[pins[0]].1) {
            faults.push(
                field(),
                format!("keeps pupils together that pins[{}] and pins[{n}] place apart", pins[0]),
            );
            continue;
        }
        let fits = |group: usize| {
            ask.groups[group].most >= unit.len() && unit.iter().all(|one| may(ask, &ask.pupils[*one], group))
        };
        if !(0..ask.groups.len()).any(fits) {
            faults.push(field(), format!("no group is for all {} of them", unit.len()));
        }
    }
    for (n, set) in ask.apart.iter().enumerate() {
        let placed: BTreeSet<Option<usize>> = set.iter().map(|id| unit_of(*id)).collect();
        if placed.len() > ask.groups.len() {
            let message = format!("keeps {} apart, and there are {} groups", placed.len(), ask.groups.len());
            faults.push(format!("apart[{n}]"), message);
        }
        let pins: Vec<usize> = (0..ask.pins.len()).filter(|pin| set.contains(&ask.pins[*pin].0)).collect();
        let same = pins.iter().enumerate().find_map(|(at, pin)| {
            let other = pins[..at].iter().find(|other| ask.pins[**other].1 == ask.pins[*pin].1)?;
            Some((other, pin))
        });
        if let Some((one, other)) = same {
            faults.push(
                format!("apart[{n}]"),
                format!("pins[{one}] and pins[{other}] place two of them in one group"),
            );
        }
    }
}

/// What the best placement found still breaks.
pub(super) fn unmet(ask: &Ask<'_>, members: &[Vec<usize>], group_of: &[usize]) -> Vec<Fault> {
    let mut faults = Faults(Vec::new());
    let of: BTreeMap<PupilId, usize> = members
        .iter()
        .zip(group_of)
        .flat_map(|(unit, group)| unit.iter().map(|one| (ask.pupils[*one].id, *group)))
        .collect();
    for (n, group) in ask.groups.iter().enumerate() {
        let pupils = of.values().filter(|group| **group == n).count();
        if pupils < group.least {
            faults.push(
                format!("groups[{n}].least"),
                format!("no placement was found with more than {pupils}"),
            );
        }
        if pupils > group.most {
            faults.push(
                format!("groups[{n}].most"),
                format!("no placement was found with fewer than {pupils}"),
            );
        }
    }
    for (n, set) in ask.apart.iter().enumerate() {
        let groups: BTreeSet<_> = set.iter().filter_map(|id| of.get(id)).collect();
        if groups.len() < set.len() {
            faults.push(format!("apart[{n}]"), "no placement was found that keeps all of them apart");
        }
    }
    faults.0
}
