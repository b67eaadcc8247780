//! What a person says of a coming school year, and what of it cannot be.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::{Facts, PupilNow};
use crate::{
    id::{ClassId, GroupId, PupilId, StaffId},
    roster::class_key,
    sequence::Fault,
    text::Name,
};

/// What a person says of a coming school year. A line for a pupil counts before one for a class and
/// a year group, and that before one for the whole class.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = RolloverChoices, example = json!({
    "classes": [{"class_id": "0199f2c4-0000-7000-8000-000000000006", "to": "Rowan"},
                {"class_id": "0199f2c4-0000-7000-8000-000000000016", "leaves": true}],
    "pupils": [{"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "year_group": "year_1"}],
    "groups_ending": ["0199f2c4-0000-7000-8000-000000000008"],
    "adults": [{"class": "Rowan", "staff_ids": ["0199f2c4-0000-7000-8000-000000000002"]}]
})))]
pub struct Choices {
    /// Where the pupils of each class go.
    pub classes: Vec<ClassChoice>,
    /// What is otherwise for single pupils.
    pub pupils: Vec<PupilChoice>,
    /// Teaching groups whose last day is the day before the school year. The others go on.
    pub groups_ending: Vec<GroupId>,
    /// Adults of next year's classes. Classes without a line keep theirs.
    pub adults: Vec<AdultsChoice>,
}

/// Where the pupils of a class go: to a class, or away.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = RolloverClass))]
pub struct ClassChoice {
    /// The class as it is before the school year.
    pub class_id: ClassId,
    /// Only its pupils of this year group, as it is before the school year; a code of the rule pack.
    #[serde(default)]
    pub year_group: Option<String>,
    /// Next year's class, the same or another. One of a new name is added.
    #[serde(default)]
    pub to: Option<Name>,
    /// They leave the school with the day before the school year.
    #[serde(default)]
    pub leaves: bool,
}

/// What is otherwise for one pupil.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = RolloverPupil))]
pub struct PupilChoice {
    /// The pupil.
    pub pupil_id: PupilId,
    /// Next year's class.
    #[serde(default)]
    pub to: Option<Name>,
    /// Leaves the school with the day before the school year.
    #[serde(default)]
    pub leaves: bool,
    /// Next year's year group; a code of the rule pack. Unless told, the one after this year's.
    #[serde(default)]
    pub year_group: Option<String>,
}

/// Who is with a class from the first day of the school year on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = RolloverAdults))]
pub struct AdultsChoice {
    /// The class by its name next year.
    pub class: Name,
    /// Everyone; the days of others end with the day before.
    pub staff_ids: BTreeSet<StaffId>,
}

impl Choices {
    /// Every class name that pupils are sent to, in the order said.
    pub(super) fn destinations(&self) -> impl Iterator<Item = &Name> {
        let classes = self.classes.iter().filter_map(|line| line.to.as_ref());
        classes.chain(self.pupils.iter().filter_map(|line| line.to.as_ref()))
    }

    /// The line that counts for the pupils of a class and year group.
    pub(super) fn of_class(&self, class: ClassId, year_group: Option<&str>) -> Option<&ClassChoice> {
        let lines = || self.classes.iter().filter(|line| line.class_id == class);
        let exact =
            lines().find(|line| line.year_group.is_some() && line.year_group.as_deref() == year_group);
        exact.or_else(|| lines().find(|line| line.year_group.is_none()))
    }

    /// What of it cannot be: every line at fault.
    pub(super) fn faults(&self, facts: &Facts<'_>) -> Vec<Fault> {
        let mut faults = Faults(Vec::new());
        self.class_faults(facts, &mut faults);
        self.pupil_faults(facts, &mut faults);
        for (n, group) in self.groups_ending.iter().enumerate() {
            let (field, known) =
                (|| format!("groups_ending[{n}]"), facts.groups.iter().find(|known| known.id == *group));
            faults.unless(known.is_some(), field, "is no open group of this school");
            let taught = known.is_some_and(|known| known.taught);
            faults.unless(!taught, field, "has a lesson of the school year on record");
            faults.unless(!self.groups_ending[..n].contains(group), field, "stands twice");
        }
        self.adult_faults(facts, &mut faults);
        faults.0
    }

    fn class_faults(&self, facts: &Facts<'_>, faults: &mut Faults) {
        for (n, line) in self.classes.iter().enumerate() {
            let known = facts.classes.iter().any(|class| class.id == line.class_id);
            faults.unless(known, || format!("classes[{n}].class_id"), "is not a class of this school");
            faults.year_group(facts, line.year_group.as_deref(), || format!("classes[{n}].year_group"));
            let message = "say either `to` with a class or `leaves`";
            faults.unless(line.to.is_some() != line.leaves, || format!("classes[{n}]"), message);
            let same = |other: &ClassChoice| {
                (other.class_id, &other.year_group) == (line.class_id, &line.year_group)
            };
            let message = "stands twice for the same year group";
            faults.unless(!self.classes[..n].iter().any(same), || format!("classes[{n}].class_id"), message);
        }
    }

    fn pupil_faults(&self, facts: &Facts<'_>, faults: &mut Faults) {
        for (n, line) in self.pupils.iter().enumerate() {
            let field = || format!("pupils[{n}].pupil_id");
            match facts.pupils.iter().find(|pupil| pupil.id == line.pupil_id) {
                None => faults.unless(false, field, "is not a pupil of this school"),
                Some(pupil) => faults.unless(
                    pupil.is_here(facts.first),
                    field,
                    "has left by then; if the pupil comes back, clear the last day first",
                ),
            }
            let twice = self.pupils[..n].iter().any(|other| other.pupil_id == line.pupil_id);
            faults.unless(!twice, field, "stands twice");
            faults.year_group(facts, line.year_group.as_deref(), || format!("pupils[{n}].year_group"));
            let stays = line.to.is_some() || line.year_group.is_some();
            let message = "say either `leaves`, or `to` with a class, `year_group` or both";
            faults.unless(stays != line.leaves, || format!("pupils[{n}]"), message);
        }
    }

    fn adult_faults(&self, facts: &Facts<'_>, faults: &mut Faults) {
        let mut known: BTreeSet<String> = facts.classes.iter().map(|class| class_key(&class.name)).collect();
        known.extend(self.destinations().map(|name| class_key(name.as_str())));
        let mut seen = BTreeSet::new();
        for (n, line) in self.adults.iter().enumerate() {
            let (field, key) = (|| format!("adults[{n}].class"), class_key(line.class.as_str()));
            let message = "is no class of this school, and no pupil goes to it";
            faults.unless(known.contains(&key), field, message);
            faults.unless(seen.insert(key), field, "stands twice");
            let staff = line.staff_ids.iter().all(|id| facts.staff.contains(id));
            let field = || format!("adults[{n}].staff_ids");
            faults.unless(staff, field, "one of them is not of this school's staff");
        }
    }
}

impl PupilNow {
    /// Whether the pupil is still of the school on a day.
    pub(super) fn is_here(&self, on: crate::time::Date) -> bool {
        self.left_on.is_none_or(|last| last >= on)
    }
}

struct Faults(Vec<Fault>);

impl Faults {
    fn unless(&mut self, fine: bool, field: impl Fn() -> String, message: &str) {
        if !fine {
            self.0.push(Fault { field: field(), message: message.to_owned() });
        }
    }

    fn year_group(&mut self, facts: &Facts<'_>, code: Option<&str>, field: impl Fn() -> String) {
        let known = code.is_none_or(|code| facts.rules.year_group(code).is_some());
        let codes: Vec<&str> = facts.rules.year_groups.iter().map(|year| year.code.as_str()).collect();
        self.unless(known, field, &format!("is none of {}", codes.join(", ")));
    }
}
