//! The change from one school year to the next: what it would change, worked out from what a person
//! says and what the school holds. Nothing here writes. All of it takes effect on the first day of
//! the school year; whatever nobody says stays as it is, and where a class's pupils go must be said.

mod choices;
#[cfg(test)]
mod tests;

use std::collections::{BTreeMap, BTreeSet};

pub use choices::{AdultsChoice, Choices, ClassChoice, PupilChoice};
use serde::{Deserialize, Serialize};

use super::class_key;
use crate::{
    id::{ClassId, GroupId, PupilId, StaffId},
    rules::RulePack,
    sequence::Fault,
    time::Date,
};

/// What the school holds before the change.
#[derive(Clone, Debug)]
pub struct Facts<'a> {
    /// The coming school year, by the calendar year it starts in.
    pub year: i32,
    /// Its first day.
    pub first: Date,
    /// The pupils, leavers too.
    pub pupils: &'a [PupilNow],
    /// The classes.
    pub classes: &'a [ClassNow],
    /// The groups that are open on the first day.
    pub groups: &'a [GroupNow],
    /// The staff.
    pub staff: &'a BTreeSet<StaffId>,
    /// The rule pack: year groups and their order.
    pub rules: &'a RulePack,
}

/// A pupil before the change.
#[derive(Clone, Debug)]
pub struct PupilNow {
    /// The pupil.
    pub id: PupilId,
    /// Date of birth.
    pub born: Option<Date>,
    /// The last day here.
    pub left_on: Option<Date>,
    /// The classes the pupil is in now.
    pub classes: BTreeSet<ClassId>,
    /// The classes the pupil is in on the first day, where that is said already.
    pub ahead: Option<BTreeSet<ClassId>>,
    /// The latest year group on record of the years before: the school year, and its code.
    pub year_group: Option<(i32, String)>,
    /// Code of the year group in the coming school year, where that is said already.
    pub year_group_ahead: Option<String>,
    /// Whether the pupil stands in the register of a lesson of the coming school year.
    pub taught: bool,
}

/// A class before the change.
#[derive(Clone, Debug)]
pub struct ClassNow {
    /// Its id.
    pub id: ClassId,
    /// Its name.
    pub name: String,
    /// Who is assigned to it on the first day, as it is said now.
    pub adults: BTreeSet<StaffId>,
}

/// A teaching group before the change.
#[derive(Clone, Debug)]
pub struct GroupNow {
    /// Its id.
    pub id: GroupId,
    /// Its pupils on the first day, as it is said now.
    pub members: BTreeSet<PupilId>,
    /// Whether a lesson of the school year is on record: then it did not end before.
    pub taught: bool,
}

/// What becomes of one pupil.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Moved {
    /// The pupil.
    pub pupil: PupilId,
    /// The classes before.
    pub from: BTreeSet<ClassId>,
    /// Names of the classes from the first day on.
    pub to: BTreeSet<String>,
    /// Whether those were said before and stay.
    pub ahead: bool,
    /// Leaves the school with the day before.
    pub leaves: bool,
    /// Code of the year group before.
    pub year_group_before: Option<String>,
    /// Code of the year group from the first day on; none where nothing new is known.
    pub year_group: Option<String>,
}

/// A class of the school year.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ClassNext {
    /// Its name.
    pub name: String,
    /// Which class it is; none for one to be added.
    pub id: Option<ClassId>,
    /// Pupils in it before.
    pub pupils_before: usize,
    /// Pupils in it on the first day.
    pub pupils: usize,
    /// Adults on the first day.
    pub adults: BTreeSet<StaffId>,
    /// Whether the adults are set anew.
    pub adults_change: bool,
}

crate::vocabulary! {
    /// Something to look at before a rollover is applied; it stands in no way.
    pub enum Odd as "RolloverOddity" {
        /// The pupil is in no class next year.
        NoClass = "no_class",
        /// The pupil has no year group next year: none is on record, and no date of birth tells.
        NoYearGroup = "no_year_group",
        /// The pupil stays though the rule pack has no later year group; the last one goes on being shown.
        BeyondLastYearGroup = "beyond_last_year_group",
        /// The pupil leaves with the day before the school year, and stands in the register of a lesson
        /// of it.
        LeavesYetTaught = "leaves_yet_taught",
        /// The pupil leaves with the class before the rule pack's last year group.
        LeavesEarly = "leaves_early",
        /// The year group is another than that of the date of birth.
        OutOfCohort = "out_of_cohort",
        /// The class has more pupils than the rule pack expects.
        LargeClass = "large_class",
        /// The class has pupils and no adult.
        NoAdult = "no_adult",
        /// The group goes on without a pupil.
        NobodyInGroup = "nobody_in_group",
    }
}

/// Something to look at, and whom or what it is about.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = RolloverWarning))]
pub struct Warning {
    /// What.
    pub what: Odd,
    /// The pupil.
    pub pupil_id: Option<PupilId>,
    /// The class, by its name next year.
    pub class: Option<String>,
    /// The group.
    pub group_id: Option<GroupId>,
}

/// What a rollover would change.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Rollover {
    /// The first day of the school year: all of it takes effect then.
    pub first: Date,
    /// Every pupil who is of the school by then, or leaves with this.
    pub pupils: Vec<Moved>,
    /// The classes, by name.
    pub classes: Vec<ClassNext>,
    /// Groups whose last day is the day before.
    pub ends: BTreeSet<GroupId>,
    /// Groups that go on.
    pub goes_on: BTreeSet<GroupId>,
    /// Classes of which nobody said where all their pupils go, with how many that leaves open.
    pub unsaid: BTreeMap<ClassId, usize>,
    /// What to look at.
    pub warnings: Vec<Warning>,
}

/// Works out what a rollover would change.
///
/// # Errors
/// Every line of the choices that cannot be.
pub fn rollover(facts: &Facts<'_>, choices: &Choices) -> Result<Rollover, Vec<Fault>> {
    let faults = choices.faults(facts);
    if !faults.is_empty() {
        return Err(faults);
    }
    let names = Names::new(facts, choices);
    let mut out = Rollover {
        first: facts.first,
        pupils: Vec::new(),
        classes: Vec::new(),
        ends: choices.groups_ending.iter().copied().collect(),
        goes_on: BTreeSet::new(),
        unsaid: BTreeMap::new(),
        warnings: Vec::new(),
    };
    for pupil in facts.pupils.iter().filter(|pupil| pupil.is_here(facts.first)) {
        out.pupil(facts, choices, &names, pupil);
    }
    out.classes(facts, choices, &names);
    out.groups(facts);
    Ok(out)
}

/// Next year's classes, by what makes two spellings one.
struct Names(BTreeMap<String, (String, Option<ClassId>)>);

impl Names {
    fn new(facts: &Facts<'_>, choices: &Choices) -> Self {
        let known = facts.classes.iter().map(|class| (class.name.clone(), Some(class.id)));
        let mut names = BTreeMap::new();
        for (name, id) in known.chain(choices.destinations().map(|name| (name.to_string(), None))) {
            names.entry(class_key(&name)).or_insert((name, id));
        }
        Self(names)
    }

    /// The spelling that counts: the school's, or the first of the choices.
    fn of(&self, name: &str) -> String {
        self.0.get(&class_key(name)).map_or(name, |(name, _)| name).to_owned()
    }

    fn of_id(&self, id: ClassId) -> Option<String> {
        self.0.values().find(|(_, known)| *known == Some(id)).map(|(name, _)| name.clone())
    }
}

impl Rollover {
    fn warn(&mut self, what: Odd, pupil_id: Option<PupilId>, class: Option<&str>, group_id: Option<GroupId>) {
        self.warnings.push(Warning { what, pupil_id, class: class.map(str::to_owned), group_id });
    }

    fn pupil(&mut self, facts: &Facts<'_>, choices: &Choices, names: &Names, pupil: &PupilNow) {
        let own = choices.pupils.iter().find(|line| line.pupil_id == pupil.id);
        let before = year_group_in(facts, pupil, facts.year - 1);
        let mut moved = Moved {
            pupil: pupil.id,
            from: pupil.classes.clone(),
            to: BTreeSet::new(),
            ahead: false,
            leaves: own.is_some_and(|line| line.leaves),
            year_group_before: before.clone(),
            year_group: None,
        };
        match (own.and_then(|line| line.to.as_ref()), &pupil.ahead) {
            _ if moved.leaves => {}
            (Some(name), _) => {
                moved.to.insert(names.of(name.as_str()));
            }
            (None, Some(ahead)) => {
                moved.ahead = true;
                moved.to.extend(ahead.iter().filter_map(|id| names.of_id(*id)));
            }
            (None, None) => {
                if !self.by_class(choices, names, pupil, before.as_deref(), &mut moved) {
                    return;
                }
            }
        }
        let last = facts.rules.year_groups.len().saturating_sub(1);
        let early = place_in(facts, pupil, facts.year - 1).is_some_and(|place| place < last);
        if moved.leaves && early && own.is_none_or(|line| !line.leaves) {
            self.warn(Odd::LeavesEarly, Some(pupil.id), None, None);
        }
        if moved.leaves && pupil.taught {
            self.warn(Odd::LeavesYetTaught, Some(pupil.id), None, None);
        }
        if !moved.leaves {
            if moved.to.is_empty() {
                self.warn(Odd::NoClass, Some(pupil.id), None, None);
            }
            let said = own.and_then(|line| line.year_group.clone());
            moved.year_group = self.year_group(facts, pupil, said);
        }
        self.pupils.push(moved);
    }

    /// Where the lines for the pupil's classes send the pupil; false where one is not said, or where
    /// they part on whether the pupil leaves.
    fn by_class(
        &mut self,
        choices: &Choices,
        names: &Names,
        pupil: &PupilNow,
        year_group: Option<&str>,
        moved: &mut Moved,
    ) -> bool {
        let lines: Vec<_> =
            pupil.classes.iter().map(|class| (*class, choices.of_class(*class, year_group))).collect();
        let leaving = lines.iter().filter(|(_, line)| line.is_some_and(|line| line.leaves)).count();
        let parted = leaving != 0 && leaving != lines.len();
        let open: Vec<ClassId> =
            lines.iter().filter(|(_, line)| parted || line.is_none()).map(|(class, _)| *class).collect();
        for class in &open {
            *self.unsaid.entry(*class).or_default() += 1;
        }
        moved.leaves = leaving != 0;
        let to = lines.iter().filter_map(|(_, line)| line.and_then(|line| line.to.as_ref()));
        moved.to = to.map(|name| names.of(name.as_str())).collect();
        open.is_empty()
    }

    /// The year group said, else the one that follows from the latest on record: who is out of the
    /// year of birth stays one apart. By date of birth only where none is on record.
    fn year_group(&mut self, facts: &Facts<'_>, pupil: &PupilNow, said: Option<String>) -> Option<String> {
        let born = cohort(facts, pupil, facts.year);
        let next = said
            .or_else(|| pupil.year_group_ahead.clone())
            .or_else(|| year_group_in(facts, pupil, facts.year));
        match &next {
            None if place_in(facts, pupil, facts.year).is_some() => {
                self.warn(Odd::BeyondLastYearGroup, Some(pupil.id), None, None)
            }
            None => self.warn(Odd::NoYearGroup, Some(pupil.id), None, None),
            Some(_) if pupil.born.is_some() && next != born => {
                self.warn(Odd::OutOfCohort, Some(pupil.id), None, None);
            }
            Some(_) => {}
        }
        next
    }

    fn classes(&mut self, facts: &Facts<'_>, choices: &Choices, names: &Names) {
        for (key, (name, id)) in &names.0 {
            let said = choices.adults.iter().find(|line| class_key(line.class.as_str()) == *key);
            let known = facts.classes.iter().find(|class| Some(class.id) == *id);
            let adults = said.map(|line| &line.staff_ids).or(known.map(|class| &class.adults));
            let in_it = |pupil: &&PupilNow| id.is_some_and(|id| pupil.classes.contains(&id));
            let next = ClassNext {
                name: name.clone(),
                id: *id,
                pupils_before: facts.pupils.iter().filter(in_it).count(),
                pupils: self.pupils.iter().filter(|pupil| pupil.to.contains(name)).count(),
                adults: adults.cloned().unwrap_or_default(),
                adults_change: said
                    .is_some_and(|said| known.is_none_or(|known| said.staff_ids != known.adults)),
            };
            if facts.rules.class_size.as_ref().is_some_and(|size| next.pupils > size.expected_max) {
                self.warn(Odd::LargeClass, None, Some(name), None);
            }
            if next.pupils > 0 && next.adults.is_empty() {
                self.warn(Odd::NoAdult, None, Some(name), None);
            }
            self.classes.push(next);
        }
    }

    fn groups(&mut self, facts: &Facts<'_>) {
        let leaving: BTreeSet<PupilId> =
            self.pupils.iter().filter(|pupil| pupil.leaves).map(|pupil| pupil.pupil).collect();
        for group in facts.groups.iter().filter(|group| !self.ends.contains(&group.id)) {
            self.goes_on.insert(group.id);
        }
        for group in facts.groups {
            if self.goes_on.contains(&group.id) && group.members.is_subset(&leaving) {
                self.warn(Odd::NobodyInGroup, None, None, Some(group.id));
            }
        }
    }
}

/// The place among the rule pack's year groups that a pupil has in a school year, by the latest on
/// record: it may lie beyond the last.
fn place_in(facts: &Facts<'_>, pupil: &PupilNow, year: i32) -> Option<usize> {
    let (on_record, code) = pupil.year_group.as_ref()?;
    let place = facts.rules.year_groups.iter().position(|group| group.code == *code)?;
    place.checked_add(usize::try_from(year - on_record).ok()?)
}

fn year_group_in(facts: &Facts<'_>, pupil: &PupilNow, year: i32) -> Option<String> {
    match place_in(facts, pupil, year) {
        Some(place) => facts.rules.year_groups.get(place).map(|group| group.code.clone()),
        None => cohort(facts, pupil, year),
    }
}

fn cohort(facts: &Facts<'_>, pupil: &PupilNow, year: i32) -> Option<String> {
    facts.rules.cohort(pupil.born?, year).map(|group| group.code.clone())
}
