//! What a person asks of groups, and what of it does not go with the school as it is.

use std::{
    collections::{BTreeMap, BTreeSet},
    ops::Range,
};

use serde::{Deserialize, Serialize};

use super::{
    Ask, Candidate, Course, Proposal, Slot, propose,
    times::{at_once, meet, minutes},
};
use crate::{
    access::NO_ROLE_FOR_IT,
    attainment::PupilRecords,
    id::{ClassId, GroupId, PupilId, SequenceId, StaffId},
    rules::RulePack,
    sequence::Fault,
    text::one_name,
    time::Date,
};

/// Most pupils, groups, and sets of pupils together or apart that one ask may hold: the search grows with
/// the square of the pupils.
const MOST: (usize, usize, usize) = (300, 30, 100);

/// What groups are asked for, for whom, and what is to be kept.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = GroupsAsked, example = json!({
    "sequence_id": "0199f2c4-0000-7000-8000-00000000000a",
    "class_ids": ["0199f2c4-0000-7000-8000-000000000006"],
    "groups": [{"group_id": "0199f2c4-0000-7000-8000-000000000008", "name": "Alder", "least": 4, "most": 12},
               {"name": "Birch", "staff_id": "0199f2c4-0000-7000-8000-000000000002", "room": "Library",
                "time": "9.15", "least": 4, "most": 12, "year_groups": ["year_1"]}],
    "pins": [{"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "group": 0}]
})))]
pub struct Asked {
    /// The day as of which what was taught and checked counts, and whose version of the sequence; today
    /// unless told. Who is in which class, group and year group is as of today.
    #[serde(default)]
    pub as_of: Option<Date>,
    /// The sequence the groups are taught.
    pub sequence_id: SequenceId,
    /// Pupils to place, each once however often these lines name one. Members of the groups named below, those
    /// who are to come too, are placed with them.
    #[serde(default)]
    pub pupil_ids: Vec<PupilId>,
    /// Classes whose pupils of today are placed.
    #[serde(default)]
    #[cfg_attr(feature = "schema", schema(value_type = Vec<ClassId>))]
    pub class_ids: BTreeSet<ClassId>,
    /// Year groups whose pupils of today are placed; codes of the rule pack.
    #[serde(default)]
    pub year_groups: BTreeSet<String>,
    /// The groups, those that are there and those to be made.
    pub groups: Vec<Slot>,
    /// Other groups that whoever is placed leaves for the new place. Of groups that are named nowhere pupils
    /// stay members.
    #[serde(default)]
    #[cfg_attr(feature = "schema", schema(value_type = Vec<GroupId>))]
    pub leave: BTreeSet<GroupId>,
    /// Sets of pupils who stay together.
    #[serde(default)]
    #[cfg_attr(feature = "schema", schema(value_type = Vec<Vec<PupilId>>))]
    pub together: Vec<BTreeSet<PupilId>>,
    /// Sets of pupils none of whom is with another of the set.
    #[serde(default)]
    #[cfg_attr(feature = "schema", schema(value_type = Vec<Vec<PupilId>>))]
    pub apart: Vec<BTreeSet<PupilId>>,
    /// Pupils whom an adult has placed.
    #[serde(default)]
    pub pins: Vec<Pin>,
}

/// A pupil whom an adult has placed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = GroupPin))]
pub struct Pin {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The group, by its place in `groups`, counted from 0.
    pub group: usize,
}

/// What the school is like today, as far as groups go.
#[derive(Clone, Debug)]
pub struct SchoolNow {
    /// Today.
    pub today: Date,
    /// Who is here today, by name.
    pub pupils: Vec<PupilNow>,
    /// Its classes.
    pub classes: BTreeSet<ClassId>,
    /// Its groups.
    pub groups: BTreeMap<GroupId, GroupNow>,
    /// Staff who can sign in.
    pub staff: BTreeSet<StaffId>,
    /// Those of them whose roles, from the day asked of on, let them teach.
    pub may_teach: BTreeSet<StaffId>,
}

/// A pupil today.
#[derive(Clone, Debug)]
pub struct PupilNow {
    /// The pupil.
    pub id: PupilId,
    /// Code of the year group, if it is known.
    pub year_group: Option<String>,
    /// Classes.
    pub classes: BTreeSet<ClassId>,
    /// Groups, those that are to come too.
    pub groups: BTreeSet<GroupId>,
}

/// A group today.
#[derive(Clone, Debug)]
pub struct GroupNow {
    /// Its name.
    pub name: String,
    /// The sequence it is taught.
    pub sequence: SequenceId,
    /// Its last day, if it is known.
    pub closed_on: Option<Date>,
    /// Its adults from the day asked of on, those that are to come too.
    pub adults: BTreeSet<StaffId>,
    /// The minutes of the day of its lessons by its timetable from that day on, on whatever weekday; only the first where
    /// nothing says how long they take.
    pub lessons: Vec<Range<u16>>,
}

impl Asked {
    /// The groups there are that it asks for.
    pub fn known_groups(&self) -> BTreeSet<GroupId> {
        self.groups.iter().filter_map(|slot| slot.group_id).collect()
    }

    /// Those and the ones that pupils leave.
    pub fn groups_touched(&self) -> BTreeSet<GroupId> {
        self.known_groups().union(&self.leave).copied().collect()
    }

    /// Whom to place, by name: of placements as good as each other one is found, and in which order pupils were named
    /// does not decide which.
    ///
    /// # Errors
    /// Every line that does not go with the school as it is.
    pub fn whom(&self, school: &SchoolNow, rules: &RulePack) -> Result<Vec<PupilId>, Vec<Fault>> {
        let mut faults = Vec::new();
        let mut fault =
            |field: String, message: &str| faults.push(Fault { field, message: message.to_owned() });
        let here: BTreeSet<PupilId> = school.pupils.iter().map(|pupil| pupil.id).collect();
        for (n, id) in self.pupil_ids.iter().enumerate() {
            if !here.contains(id) {
                fault(format!("pupil_ids[{n}]"), "is not a pupil of this school today");
            }
        }
        if !self.class_ids.is_subset(&school.classes) {
            fault("class_ids".into(), "one of them is no class of this school");
        }
        let known = |codes: &BTreeSet<String>| codes.iter().all(|code| rules.year_group(code).is_some());
        let no_year = "one of them is no year group of the rule pack";
        if !known(&self.year_groups) {
            fault("year_groups".into(), no_year);
        }
        for (n, slot) in self.groups.iter().enumerate() {
            if !known(&slot.year_groups) {
                fault(format!("groups[{n}].year_groups"), no_year);
            }
            match slot.staff_id {
                Some(staff) if !school.staff.contains(&staff) => {
                    fault(format!("groups[{n}].staff_id"), "is not of this school's staff");
                }
                Some(staff) if !school.may_teach.contains(&staff) => {
                    fault(format!("groups[{n}].staff_id"), NO_ROLE_FOR_IT);
                }
                _ => {}
            }
            if let Some((field, message)) = self.amiss(slot, school) {
                fault(format!("groups[{n}].{field}"), &message);
            }
        }
        faults.extend(self.contradictions(school, None));
        let mut fault =
            |field: String, message: &str| faults.push(Fault { field, message: message.to_owned() });
        let named = self.known_groups();
        if !self.leave.iter().all(|id| school.groups.contains_key(id)) {
            fault("leave".into(), "one of them is no group of this school");
        } else if !self.leave.is_disjoint(&named) {
            fault("leave".into(), "one of them is to be filled");
        }
        let asked: BTreeSet<PupilId> = self.pupil_ids.iter().copied().collect();
        let placed = school.pupils.iter().filter(|pupil| {
            let year = pupil.year_group.as_ref().is_some_and(|code| self.year_groups.contains(code));
            let is_in = !pupil.classes.is_disjoint(&self.class_ids) || !pupil.groups.is_disjoint(&named);
            year || is_in || asked.contains(&pupil.id)
        });
        let whom: Vec<PupilId> = placed.map(|pupil| pupil.id).collect();
        for (field, many, most) in [
            ("pupil_ids", whom.len(), MOST.0),
            ("groups", self.groups.len(), MOST.1),
            ("together", self.together.len(), MOST.2),
            ("apart", self.apart.len(), MOST.2),
        ] {
            if many > most {
                fault(field.into(), &format!("{many} are asked for, and {most} at most can be"));
            }
        }
        if faults.is_empty() { Ok(whom) } else { Err(faults) }
    }

    /// What of it contradicts the groups there are: their names, and the adults they keep. From a day on, those
    /// count that are there on it; without one, those without a last day, as nobody knows yet who is there then.
    pub fn contradictions(&self, school: &SchoolNow, from: Option<Date>) -> Vec<Fault> {
        let mut faults = Vec::new();
        let mut fault = |n: usize, field: &str, message: String| {
            faults.push(Fault { field: format!("groups[{n}].{field}"), message });
        };
        let named = self.known_groups();
        let stays =
            |group: &&GroupNow| group.closed_on.is_none_or(|last| from.is_some_and(|from| last >= from));
        let others = school.groups.iter().filter(|(id, _)| !named.contains(id));
        let others: Vec<&GroupNow> = others.map(|(_, group)| group).filter(stays).collect();
        let adults_of = |slot: &Slot| -> BTreeSet<StaffId> {
            let kept = slot.group_id.and_then(|id| school.groups.get(&id));
            kept.map(|group| group.adults.clone()).unwrap_or_default()
        };
        // A group named without a time has the times of its timetable.
        let untimed = self.groups.iter().filter(|slot| slot.time.is_none());
        let untimed: Vec<&GroupNow> = untimed.filter_map(|slot| school.groups.get(&slot.group_id?)).collect();
        let busy = |other: &GroupNow, time: &Range<u16>| other.lessons.iter().any(|one| meet(one, time));
        for (n, slot) in self.groups.iter().enumerate() {
            let one = others.iter().find(|other| one_name(&other.name, slot.name.as_str()));
            if let Some(other) = one.filter(|_| slot.group_id.is_none()) {
                fault(n, "name", format!("is the name of a group there is: {}", other.name));
            }
            let at_once = |other: &&Slot| at_once(slot.time.as_ref(), other.time.as_ref());
            if slot.group_id.is_some() {
                // Both keep their adults; where no time is said, they are not held to be at once.
                let mut before = self.groups[..n].iter().filter(at_once).filter(|_| slot.time.is_some());
                let adults = adults_of(slot);
                if let Some(other) = before.find(|other| !adults_of(other).is_disjoint(&adults)) {
                    fault(n, "time", format!("{} has the same adult at the same time", other.name));
                } else if let Some(time) = slot.time.as_ref().and_then(minutes)
                    && let Some(other) =
                        untimed.iter().find(|other| !other.adults.is_disjoint(&adults) && busy(other, &time))
                {
                    let message = format!("{} has the same adult at that time by its timetable", other.name);
                    fault(n, "time", message);
                }
                continue;
            }
            let Some(adult) = slot.staff_id else { continue };
            let kept = |other: &&Slot| adults_of(other).contains(&adult);
            if let Some(other) = self.groups.iter().filter(at_once).find(kept) {
                fault(n, "staff_id", format!("takes {} at the same time", other.name));
            }
            let Some(time) = slot.time.as_ref().and_then(minutes) else { continue };
            let taught = |other: &&&GroupNow| other.adults.contains(&adult) && busy(other, &time);
            if let Some(other) = others.iter().chain(&untimed).find(taught) {
                fault(n, "staff_id", format!("takes {} at that time by its timetable", other.name));
            }
        }
        faults
    }

    /// What is amiss with a group that should be there.
    fn amiss(&self, slot: &Slot, school: &SchoolNow) -> Option<(&'static str, String)> {
        let Some(group) = school.groups.get(&slot.group_id?) else {
            return Some(("group_id", "is no group of this school".into()));
        };
        if group.sequence != self.sequence_id {
            return Some(("group_id", "is taught another sequence".into()));
        }
        if let Some(last) = group.closed_on.filter(|last| *last < school.today) {
            return Some(("group_id", format!("its last day is {last}")));
        }
        let other = group.name != slot.name.as_str();
        other.then(|| ("name", format!("the group is called {}", group.name)))
    }

    /// Proposes groups for those pupils, from what is on record of each.
    ///
    /// # Errors
    /// Every line of what was asked that cannot be, alone or beside others; or those that no placement was
    /// found to keep.
    pub fn propose(
        &self,
        school: &SchoolNow,
        whom: &[PupilId],
        course: &Course<'_>,
        learning: &BTreeMap<PupilId, PupilRecords>,
        rules: &RulePack,
    ) -> Result<Proposal, Vec<Fault>> {
        let now: BTreeMap<PupilId, &PupilNow> = school.pupils.iter().map(|pupil| (pupil.id, pupil)).collect();
        let nothing = PupilRecords::default();
        let candidate = |id: &PupilId| {
            let pupil = now.get(id);
            let is_in = |slot: &Slot| Some(pupil?.groups.contains(&slot.group_id?));
            Candidate {
                id: *id,
                year_group: pupil.and_then(|pupil| pupil.year_group.clone()),
                now: self.groups.iter().position(|slot| is_in(slot) == Some(true)),
                needs: course.needs(learning.get(id).unwrap_or(&nothing), &rules.attainment.secure),
            }
        };
        let pupils: Vec<Candidate> = whom.iter().map(candidate).collect();
        let pins: Vec<(PupilId, usize)> = self.pins.iter().map(|pin| (pin.pupil_id, pin.group)).collect();
        propose(&Ask {
            pupils: &pupils,
            groups: &self.groups,
            together: &self.together,
            apart: &self.apart,
            pins: &pins,
            lessons: &course.lessons,
            rule: &rules.grouping,
        })
    }
}

#[cfg(test)]
mod tests;
