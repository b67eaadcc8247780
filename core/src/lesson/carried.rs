//! What a group was taught before its records here begin: carried in, as of a day. It counts as
//! taught on that day to the pupils it names, moves the group's place, and is evidence of nothing
//! else: never of what a pupil knows.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::record::{Outcome, Record};
use crate::{
    id::{ItemId, LessonId, PupilId},
    sequence::Content,
    time::Date,
};

/// What was carried in for a group.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct CarriedIn {
    /// The day by which it had been taught.
    pub as_of: Date,
    /// The lessons, in teaching order.
    pub lessons: Vec<LessonId>,
    /// What they teach, each item once.
    pub items: Vec<ItemId>,
    /// To whom, with what each of them missed.
    pub pupils: BTreeMap<PupilId, BTreeSet<ItemId>>,
}

/// How far a group had come.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Extent {
    /// Every lesson up to this one, which is the last.
    Through(LessonId),
    /// Every lesson up to the end of this step, counted from 1.
    ThroughStep(usize),
    /// These lessons.
    Lessons(Vec<LessonId>),
}

/// What an adult says was taught before.
#[derive(Clone, Debug)]
pub struct Statement {
    /// The day by which it had been taught.
    pub as_of: Date,
    /// How far.
    pub extent: Extent,
    /// To whom. Unless told, those who were named before; where nothing was carried in before, the
    /// group's pupils of that day.
    pub pupils: Option<Vec<PupilId>>,
    /// Who missed what.
    pub missed: Vec<(PupilId, Vec<ItemId>)>,
}

/// What the store knows before something is carried in.
#[derive(Clone, Copy, Debug)]
pub struct CarryFacts<'a> {
    /// The version it is stated in.
    pub content: &'a Content,
    /// The group's pupils today.
    pub members: &'a [PupilId],
    /// The group's pupils of the day by which it had been taught.
    pub then: &'a [PupilId],
    /// What was carried in before, to be replaced.
    pub before: Option<&'a CarriedIn>,
    /// The group's records.
    pub records: &'a [Record],
    /// Today at the school.
    pub today: Date,
}

/// Why nothing is carried in.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CarryError {
    /// Nothing can have happened yet.
    #[error("{0} is in the future")]
    Future(Date),
    /// The version does not hold the lesson at this place of the list, or the one lesson named.
    #[error("is not a lesson of the sequence version")]
    UnknownLesson(Option<usize>),
    /// The version has fewer steps.
    #[error("must be 1 to {0}, the steps of the sequence version")]
    UnknownStep(usize),
    /// A lesson twice.
    #[error("this lesson stands twice")]
    LessonTwice(usize),
    /// No lesson at all.
    #[error("give at least one lesson; to take everything back, remove what was carried in")]
    Nothing,
    /// Taught here: not before.
    #[error("the lesson \u{201c}{0}\u{201d} is recorded on {1}: it was not taught before")]
    Recorded(String, Date),
    /// A record rests on a lesson that would no longer have been taught before it.
    #[error("the record of {0} teaches again what was carried in: delete that record first")]
    RestsOn(Date),
    /// In the group neither today nor that day, nor named before.
    #[error("this pupil is not in the group")]
    NotAMember(usize),
    /// A pupil twice.
    #[error("this pupil stands twice")]
    PupilTwice(usize),
    /// Someone who missed something and is not among those it was taught to.
    #[error("this pupil is not one of those it was taught to")]
    NotTaught(usize),
    /// Two lists for one pupil.
    #[error("this pupil stands twice")]
    MissedTwice(usize),
    /// Missed what the lessons do not teach.
    #[error("is not an item of these lessons")]
    UnknownItem(usize, usize),
}

impl CarryError {
    /// The field at fault; `extent` is the name of the field that gave the lessons.
    pub fn field(&self, extent: &Extent) -> String {
        let given = match extent {
            Extent::Through(_) => "through_lesson_id",
            Extent::ThroughStep(_) => "through_step",
            Extent::Lessons(_) => "lesson_ids",
        };
        match self {
            Self::Future(_) => "as_of".into(),
            Self::UnknownLesson(Some(n)) | Self::LessonTwice(n) => format!("lesson_ids[{n}]"),
            Self::UnknownLesson(None)
            | Self::UnknownStep(_)
            | Self::Nothing
            | Self::Recorded(..)
            | Self::RestsOn(_) => given.into(),
            Self::NotAMember(n) | Self::PupilTwice(n) => format!("pupil_ids[{n}]"),
            Self::NotTaught(n) | Self::MissedTwice(n) => format!("missed[{n}].pupil_id"),
            Self::UnknownItem(n, item) => format!("missed[{n}].item_ids[{item}]"),
        }
    }
}

impl CarriedIn {
    /// Puts together what is stored: lessons that `content` does not hold teach nothing.
    pub fn new(
        content: &Content,
        as_of: Date,
        lessons: Vec<LessonId>,
        pupils: BTreeMap<PupilId, BTreeSet<ItemId>>,
    ) -> Self {
        let items = items_of(content, &lessons);
        Self { as_of, lessons, items, pupils }
    }

    /// The day on which a lesson counts as delivered, where it was carried in.
    pub fn delivered(&self, lesson: LessonId) -> Option<Date> {
        self.lessons.contains(&lesson).then_some(self.as_of)
    }

    /// The first record that teaches again a lesson carried in and none of `kept`, or one before
    /// the day `as_of`: it would have nothing to rest on.
    fn rested_on(&self, kept: &[LessonId], as_of: Date, records: &[Record]) -> Option<Date> {
        let rests = |record: &&Record| {
            record.outcome == Outcome::Retaught
                && self.lessons.contains(&record.lesson)
                && (!kept.contains(&record.lesson) || record.on < as_of)
        };
        records.iter().filter(rests).map(|record| record.on).min()
    }

    /// Whether it can be taken back.
    ///
    /// # Errors
    /// [`CarryError::RestsOn`].
    pub fn take_back(&self, records: &[Record]) -> Result<(), CarryError> {
        self.rested_on(&[], self.as_of, records).map_or(Ok(()), |on| Err(CarryError::RestsOn(on)))
    }
}

fn items_of(content: &Content, lessons: &[LessonId]) -> Vec<ItemId> {
    let mut seen = BTreeSet::new();
    let taught = content.lessons().filter(|(_, _, lesson)| lessons.contains(&lesson.id));
    let items = taught.flat_map(|(_, _, lesson)| &lesson.items).map(|item| item.id);
    items.filter(|item| seen.insert(*item)).collect()
}

/// Decides what is carried in.
///
/// # Errors
/// The first thing that cannot be true of the statement.
pub fn carry_in(facts: CarryFacts<'_>, statement: Statement) -> Result<CarriedIn, CarryError> {
    if statement.as_of > facts.today {
        return Err(CarryError::Future(statement.as_of));
    }
    let lessons = lessons(facts.content, &statement.extent)?;
    let carried_before = |lesson: LessonId| facts.before.is_some_and(|old| old.lessons.contains(&lesson));
    let taught_here = |record: &&Record| {
        record.outcome != Outcome::NotDelivered
            && lessons.contains(&record.lesson)
            && !carried_before(record.lesson)
    };
    if let Some(record) = facts.records.iter().filter(taught_here).min_by_key(|record| record.on) {
        let title = facts.content.lesson(record.lesson).map(|(_, _, lesson)| lesson.title.to_string());
        return Err(CarryError::Recorded(title.unwrap_or_default(), record.on));
    }
    let rested = facts.before.and_then(|old| old.rested_on(&lessons, statement.as_of, facts.records));
    if let Some(on) = rested {
        return Err(CarryError::RestsOn(on));
    }
    let items = items_of(facts.content, &lessons);
    let pupils = pupils(facts, &statement, &items)?;
    Ok(CarriedIn { as_of: statement.as_of, lessons, items, pupils })
}

fn lessons(content: &Content, extent: &Extent) -> Result<Vec<LessonId>, CarryError> {
    let all = || content.lessons().map(|(_, _, lesson)| lesson.id);
    match extent {
        Extent::Through(last) => {
            let at = all().position(|id| id == *last).ok_or(CarryError::UnknownLesson(None))?;
            Ok(all().take(at + 1).collect())
        }
        Extent::ThroughStep(last) => {
            let steps = content.steps.get(..*last).filter(|steps| !steps.is_empty());
            let steps = steps.ok_or(CarryError::UnknownStep(content.steps.len()))?;
            let lessons: Vec<LessonId> =
                steps.iter().flat_map(|step| &step.lessons).map(|lesson| lesson.id).collect();
            if lessons.is_empty() { Err(CarryError::Nothing) } else { Ok(lessons) }
        }
        Extent::Lessons(named) => {
            if named.is_empty() {
                return Err(CarryError::Nothing);
            }
            for (n, lesson) in named.iter().enumerate() {
                if content.lesson(*lesson).is_none() {
                    return Err(CarryError::UnknownLesson(Some(n)));
                }
                if named[..n].contains(lesson) {
                    return Err(CarryError::LessonTwice(n));
                }
            }
            Ok(all().filter(|id| named.contains(id)).collect())
        }
    }
}

fn pupils(
    facts: CarryFacts<'_>,
    statement: &Statement,
    items: &[ItemId],
) -> Result<BTreeMap<PupilId, BTreeSet<ItemId>>, CarryError> {
    let mut pupils: BTreeMap<PupilId, BTreeSet<ItemId>> = BTreeMap::new();
    let before = facts.before.map(|old| old.pupils.keys().copied().collect::<Vec<_>>());
    let known = [facts.members, facts.then, before.as_deref().unwrap_or_default()];
    // Who joined since was not taught it, and who has moved on was.
    let unless_told = before.as_deref().unwrap_or(facts.then);
    for (n, pupil) in statement.pupils.as_deref().unwrap_or(unless_told).iter().enumerate() {
        if !known.iter().any(|list| list.contains(pupil)) {
            return Err(CarryError::NotAMember(n));
        }
        if pupils.insert(*pupil, BTreeSet::new()).is_some() {
            return Err(CarryError::PupilTwice(n));
        }
    }
    let mut seen = BTreeSet::new();
    for (n, (pupil, missed)) in statement.missed.iter().enumerate() {
        let Some(line) = pupils.get_mut(pupil) else { return Err(CarryError::NotTaught(n)) };
        if !seen.insert(*pupil) {
            return Err(CarryError::MissedTwice(n));
        }
        if let Some(item) = missed.iter().position(|item| !items.contains(item)) {
            return Err(CarryError::UnknownItem(n, item));
        }
        line.extend(missed);
    }
    Ok(pupils)
}

#[cfg(test)]
mod tests;
