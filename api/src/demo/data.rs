//! The school that is made, read from the files beside this one.

use plumbline_core::{
    calendar::Half,
    rules::{RulePack, pack},
    sequence::Draft,
    time::Date,
};
use serde::Deserialize;

use super::Failure;

/// Everything the demonstration starts from.
#[derive(Debug)]
pub(super) struct Data {
    pub(super) school: School,
    pub(super) pupils: Vec<Pupil>,
    pub(super) sequence: Sequence,
    pub(super) rules: &'static RulePack,
}

#[derive(Debug, Deserialize)]
pub(super) struct School {
    pub(super) name: String,
    pub(super) rule_pack: String,
    pub(super) staff: Vec<Staff>,
    pub(super) classes: Vec<Class>,
    pub(super) groups: Vec<Group>,
}

#[derive(Debug, Deserialize)]
pub(super) struct Staff {
    pub(super) key: String,
    pub(super) name: String,
    pub(super) email: String,
    pub(super) roles: Vec<String>,
}

#[derive(Debug, Deserialize)]
pub(super) struct Class {
    pub(super) key: String,
    pub(super) name: String,
    pub(super) teacher: String,
}

#[derive(Debug, Deserialize)]
pub(super) struct Group {
    pub(super) key: String,
    pub(super) name: String,
    /// Its class; none for a group across classes.
    pub(super) class: Option<String>,
    /// Keys of its adults; the first teaches it.
    pub(super) adults: Vec<String>,
    /// The step it starts at, from 1.
    pub(super) start_step: usize,
    pub(super) lessons_per_week: u8,
    /// The half of the day of its lessons.
    pub(super) part: Half,
    /// References of its pupils, where they are not a class.
    #[serde(default)]
    pub(super) pupils: Vec<String>,
}

/// A line of the pupil file: born on a day and month, the year follows from the year group.
#[derive(Clone, Debug, Deserialize)]
pub(super) struct Pupil {
    pub(super) pupil_ref: String,
    given_name: String,
    family_name: String,
    preferred_name: String,
    birth_month: u32,
    birth_day: u32,
    /// As spelled in the file.
    year_group: String,
    class_name: String,
}

#[derive(Debug, Deserialize)]
pub(super) struct Sequence {
    pub(super) name: String,
    pub(super) draft: Draft,
}

impl Data {
    /// Reads the files.
    pub(super) fn read() -> Result<Self, Failure> {
        let school: School = serde_json::from_str(include_str!("data/school.json"))?;
        let rules = pack(&school.rule_pack)?;
        let mut file = csv::Reader::from_reader(include_bytes!("data/pupils.csv").as_slice());
        Ok(Self {
            pupils: file.deserialize().collect::<Result<_, _>>()?,
            sequence: serde_json::from_str(include_str!("data/sequence.json"))?,
            school,
            rules,
        })
    }

    /// The pupil file for a school year that starts in this calendar year.
    pub(super) fn roster(&self, year: i32) -> Result<Vec<u8>, Failure> {
        let mut file = csv::Writer::from_writer(Vec::new());
        file.write_record([
            "pupil_ref",
            "given_name",
            "family_name",
            "preferred_name",
            "date_of_birth",
            "year_group",
            "class_name",
        ])?;
        for pupil in &self.pupils {
            file.write_record([
                &pupil.pupil_ref,
                &pupil.given_name,
                &pupil.family_name,
                &pupil.preferred_name,
                &self.birthday(pupil, year)?.to_string(),
                &pupil.year_group,
                &pupil.class_name,
            ])?;
        }
        Ok(file.into_inner().map_err(|error| error.into_error())?)
    }

    /// Born in the cohort of the year group: from 1 September to 31 August, the age of the
    /// year group reached by the day the school year starts.
    fn birthday(&self, pupil: &Pupil, year: i32) -> Result<Date, Failure> {
        let group = self.rules.year_group_by_label(&pupil.year_group);
        let age = i32::from(group.ok_or_else(|| format!("unknown year group {}", pupil.year_group))?.min_age);
        let born = year - age - i32::from(pupil.birth_month >= self.rules.school_year.starts_month);
        let day = Date::from_ymd_opt(born, pupil.birth_month, pupil.birth_day)
            .or_else(|| Date::from_ymd_opt(born, pupil.birth_month, 28));
        Ok(day.ok_or_else(|| format!("{} has no birthday", pupil.pupil_ref))?)
    }

    /// The code of a pupil's year group.
    pub(super) fn year_group(&self, pupil: &Pupil) -> &str {
        self.rules.year_group_by_label(&pupil.year_group).map_or("", |group| group.code.as_str())
    }

    /// The pupils of a group, in the order of the file.
    pub(super) fn pupils_of(&self, group: &Group) -> Vec<&Pupil> {
        let class = group.class.as_ref();
        let class = class.and_then(|key| self.school.classes.iter().find(|class| class.key == *key));
        self.pupils
            .iter()
            .filter(|pupil| match class {
                Some(class) => pupil.class_name == class.name,
                None => group.pupils.contains(&pupil.pupil_ref),
            })
            .collect()
    }
}

#[cfg(test)]
impl Sequence {
    /// The graphemes of the steps before one, counted from 1.
    pub(super) fn graphemes_before(&self, step: usize) -> Vec<&str> {
        let lessons = self.draft.steps.iter().take(step - 1).flat_map(|step| &step.lessons);
        let gpcs = lessons.flat_map(|lesson| &lesson.items).filter_map(|item| item.gpc.as_ref());
        gpcs.map(|gpc| gpc.grapheme.as_str()).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn birth_years_follow_from_the_year_group() {
        let data = Data::read().unwrap();
        for (label, month, day, expected) in [
            ("Reception", 9, 1, "2021-09-01"),
            ("Rec", 8, 31, "2022-08-31"),
            ("N2", 12, 31, "2022-12-31"),
            ("1", 1, 1, "2021-01-01"),
            ("Year 2", 2, 29, "2020-02-29"),
            ("Year 1", 2, 29, "2021-02-28"),
        ] {
            let pupil = Pupil {
                year_group: label.into(),
                birth_month: month,
                birth_day: day,
                ..data.pupils[0].clone()
            };
            assert_eq!(data.birthday(&pupil, 2026).unwrap().to_string(), expected, "{label} {month}-{day}");
        }
    }

    #[test]
    fn the_roster_holds_everyone_with_a_date_of_birth() {
        let data = Data::read().unwrap();
        let roster = String::from_utf8(data.roster(2026).unwrap()).unwrap();
        assert_eq!(roster.lines().count(), data.pupils.len() + 1);
        assert!(roster.starts_with("pupil_ref,given_name,family_name,preferred_name,date_of_birth,"));
        assert!(roster.contains("M2459,Suryani,,,2022-05-17,Reception,Hazel\n"), "{roster}");
    }

    #[test]
    fn the_files_fit_together() {
        let data = Data::read().unwrap();
        let known = |key: &String| data.school.staff.iter().any(|staff| staff.key == *key);
        assert!(data.school.groups.iter().all(|group| group.adults.iter().all(known)));
        assert!(data.school.classes.iter().all(|class| known(&class.teacher)));
        let in_class_groups = |pupil: &Pupil| {
            let groups = data.school.groups.iter().filter(|group| group.class.is_some());
            groups.filter(|g| data.pupils_of(g).iter().any(|p| p.pupil_ref == pupil.pupil_ref)).count()
        };
        assert!(data.pupils.iter().all(|pupil| in_class_groups(pupil) == 1));
        assert!(data.school.groups.iter().all(|group| !data.pupils_of(group).is_empty()));
        assert!(data.school.groups.iter().all(|group| group.start_step <= data.sequence.draft.steps.len()));
    }
}
