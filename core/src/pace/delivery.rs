//! What a group's records say it has finished. A lesson is finished once, however many sessions it took;
//! the sessions are counted beside it.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use crate::{
    id::{ItemId, LessonId},
    lesson::{CarriedIn, LessonState, NextLesson, Outcome, Record, is_all_of, items_taught, state},
    sequence::{Content, ItemKind, Lesson},
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
/// `left` are the [`crate::lesson::lessons_left`], `lesson_of` gives the lesson as the version that a record pins has it.
///
/// Together with these it counts each lesson of `content`, the version taught from, at most once: one
/// that is not left any more was finished. Finished is what was taught to its end by the version it was taught from,
/// or by this one; and of lessons drafted anew, those of which something was taught in a lesson that was only begun.
pub fn finished<'a>(
    content: &'a Content,
    carried: Option<&CarriedIn>,
    records: &'a [Record],
    left: &[NextLesson<'_>],
    lesson_of: impl Fn(&Record) -> Option<&'a Lesson>,
) -> Vec<Finished> {
    let mut by_lesson: BTreeMap<LessonId, Vec<&Record>> = BTreeMap::new();
    for record in records {
        by_lesson.entry(record.lesson).or_default().push(record);
    }
    let mut finished: BTreeMap<LessonId, Date> = BTreeMap::new();
    for (id, records) in &by_lesson {
        // The version taught from last says what the lesson held then.
        let pinned = records.iter().rev().find_map(|record| lesson_of(record));
        let now = content.lesson(*id).map(|found| found.2);
        let delivered = |lesson: &Lesson| match state(lesson, None, records.iter().copied()) {
            LessonState::Delivered { on } => Some(on),
            LessonState::Untaught | LessonState::Part { .. } => None,
        };
        if let Some(on) = pinned.and_then(delivered).or_else(|| now.and_then(delivered)) {
            finished.insert(*id, on);
        }
    }
    let whole = records.iter().filter(|record| finished.contains_key(&record.lesson));
    let mut counted: BTreeSet<ItemId> = whole.flat_map(|record| record.items.iter().copied()).collect();
    counted.extend(items_taught(carried, &[]));
    let mut first: BTreeMap<ItemId, Date> = BTreeMap::new();
    for record in records {
        for item in &record.items {
            first.entry(*item).and_modify(|on| *on = record.on.min(*on)).or_insert(record.on);
        }
    }
    let left: BTreeSet<LessonId> = left.iter().map(|left| left.lesson.id).collect();
    for (_, _, lesson) in content.lessons() {
        if left.contains(&lesson.id) || finished.contains_key(&lesson.id) {
            continue;
        }
        if is_all_of(lesson, &counted) {
            continue;
        }
        let new = || lesson.items.iter().filter(|item| item.kind != ItemKind::Review).map(|item| item.id);
        if let Some(on) = new().filter_map(|item| first.get(&item).copied()).max() {
            finished.insert(lesson.id, on);
            counted.extend(new());
        }
    }
    let mut finished: Vec<Finished> =
        finished.into_iter().map(|(lesson, on)| Finished { on, lesson }).collect();
    finished.sort_unstable();
    finished
}

/// Records by day and slot, each with whether it taught something again: as it says, or because its lesson had been
/// delivered before.
pub(super) fn with_again(records: &[Record]) -> Vec<(&Record, bool)> {
    let mut records: Vec<&Record> = records.iter().collect();
    records.sort_by_key(|record| (record.on, record.slot));
    let (mut delivered, mut out) = (BTreeSet::new(), Vec::new());
    for record in records {
        let again = match record.outcome {
            Outcome::Retaught => true,
            Outcome::NotDelivered => false,
            Outcome::Part => delivered.contains(&record.lesson),
            Outcome::Delivered => !delivered.insert(record.lesson),
        };
        out.push((record, again));
    }
    out
}

/// Counts the sessions held from a day on.
pub fn sessions(records: &[Record], from: Date) -> Sessions {
    let mut counts = Sessions::default();
    for (record, again) in with_again(records).into_iter().filter(|(record, _)| record.on >= from) {
        match record.outcome {
            Outcome::NotDelivered => counts.not_taught += 1,
            _ if again => (counts.taught, counts.retaught) = (counts.taught + 1, counts.retaught + 1),
            Outcome::Part => (counts.taught, counts.parts) = (counts.taught + 1, counts.parts + 1),
            Outcome::Delivered | Outcome::Retaught => counts.taught += 1,
        }
    }
    counts
}
