//! What a group's records say it has finished. A lesson is finished once, however many sessions it took;
//! the sessions are counted beside it.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::{
    id::LessonId,
    lesson::{LessonState, Outcome, Record, state},
    sequence::Lesson,
    time::Date,
};

/// A lesson taught to its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Finished {
    /// The day on which the last of it was taught for the first time.
    pub on: Date,
    /// The lesson.
    pub lesson: LessonId,
}

/// Sessions held, by what became of them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = SessionCounts))]
pub struct Sessions {
    /// Sessions in which something was taught.
    pub taught: u32,
    /// Of these, sessions that taught a part of a lesson.
    pub parts: u32,
    /// Of these, sessions that taught a lesson again.
    pub retaught: u32,
    /// Sessions recorded as not taught.
    pub not_taught: u32,
}

/// The lessons a group has finished here, earliest first. What was carried in was finished before.
/// `lesson_of` gives the lesson as the version that a record pins has it.
pub fn finished<'a>(
    records: &'a [Record],
    lesson_of: impl Fn(&Record) -> Option<&'a Lesson>,
) -> Vec<Finished> {
    let mut by_lesson: BTreeMap<LessonId, Vec<&Record>> = BTreeMap::new();
    for record in records {
        by_lesson.entry(record.lesson).or_default().push(record);
    }
    let mut finished: Vec<Finished> = by_lesson
        .into_iter()
        .filter_map(|(id, records)| {
            // The version taught from last says what the lesson holds.
            let lesson = records.iter().rev().find_map(|record| lesson_of(record))?;
            match state(lesson, None, records.into_iter()) {
                LessonState::Delivered { on } => Some(Finished { on, lesson: id }),
                LessonState::Untaught | LessonState::Part { .. } => None,
            }
        })
        .collect();
    finished.sort_unstable();
    finished
}

/// Counts the sessions of records.
pub fn sessions<'a>(records: impl IntoIterator<Item = &'a Record>) -> Sessions {
    let mut counts = Sessions::default();
    for record in records {
        match record.outcome {
            Outcome::Delivered => counts.taught += 1,
            Outcome::Part => (counts.taught, counts.parts) = (counts.taught + 1, counts.parts + 1),
            Outcome::Retaught => (counts.taught, counts.retaught) = (counts.taught + 1, counts.retaught + 1),
            Outcome::NotDelivered => counts.not_taught += 1,
        }
    }
    counts
}
