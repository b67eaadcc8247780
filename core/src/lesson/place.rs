//! The place a group has reached, worked out from its records and never stored.

use std::collections::BTreeSet;

use super::record::{Outcome, Record};
use crate::{
    id::{ItemId, LessonId},
    sequence::{Content, Lesson, Place, Step},
    time::Date,
};

/// How far a group is with one lesson.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LessonState {
    /// Nothing of it was taught.
    Untaught,
    /// Begun: these items remain.
    Part {
        /// In the lesson's order.
        remaining: Vec<ItemId>,
    },
    /// Taught to its end on this day.
    Delivered {
        /// The day.
        on: Date,
    },
}

/// How far a group is with a lesson. Re-teaching changes nothing here.
pub fn state<'a>(lesson: &Lesson, records: impl Iterator<Item = &'a Record>) -> LessonState {
    let mut taught = BTreeSet::new();
    let mut last_part: Option<Date> = None;
    let mut delivered: Option<Date> = None;
    for record in records.filter(|record| record.lesson == lesson.id) {
        match record.outcome {
            Outcome::Delivered => delivered = Some(delivered.map_or(record.on, |on| on.min(record.on))),
            Outcome::Part => {
                last_part = last_part.max(Some(record.on));
                taught.extend(record.items.iter().copied());
            }
            Outcome::NotDelivered | Outcome::Retaught => {}
        }
    }
    let remaining: Vec<ItemId> =
        lesson.items.iter().map(|item| item.id).filter(|item| !taught.contains(item)).collect();
    match (delivered, last_part) {
        (Some(on), _) => LessonState::Delivered { on },
        (None, None) => LessonState::Untaught,
        // Parts entered out of order may leave nothing: then the lesson is finished.
        (None, Some(on)) if remaining.is_empty() => LessonState::Delivered { on },
        (None, Some(_)) => LessonState::Part { remaining },
    }
}

/// The lesson a group teaches next.
#[derive(Clone, Debug)]
pub struct NextLesson<'a> {
    /// Where it stands.
    pub place: Place,
    /// Its step.
    pub step: &'a Step,
    /// The lesson.
    pub lesson: &'a Lesson,
    /// The items still to teach: all, unless it was begun.
    pub remaining: Vec<ItemId>,
}

/// How many lessons stand before a group's starting point. One the version does not hold
/// counts as its beginning.
fn starting_place(content: &Content, start: Option<LessonId>) -> usize {
    start.and_then(|start| content.lessons().position(|(_, _, lesson)| lesson.id == start)).unwrap_or(0)
}

/// The first lesson, from the group's starting point on, that was not delivered; none at the end.
///
/// A starting point the version does not hold counts as its beginning.
pub fn next_lesson<'a>(
    content: &'a Content,
    start: Option<LessonId>,
    records: &[Record],
) -> Option<NextLesson<'a>> {
    let first = starting_place(content, start);
    content.lessons().skip(first).find_map(|(place, step, lesson)| {
        let remaining = match state(lesson, records.iter()) {
            LessonState::Delivered { .. } => return None,
            LessonState::Part { remaining } => remaining,
            LessonState::Untaught => lesson.items.iter().map(|item| item.id).collect(),
        };
        Some(NextLesson { place, step, lesson, remaining })
    })
}

/// What a group was taught: the items of its records, and, because a group that starts in the
/// middle was taught the beginning elsewhere, everything before its starting point.
pub fn items_taught(content: &Content, start: Option<LessonId>, records: &[Record]) -> BTreeSet<ItemId> {
    let first = starting_place(content, start);
    let before = content.lessons().take(first).flat_map(|(_, _, lesson)| &lesson.items).map(|item| item.id);
    before.chain(records.iter().flat_map(|record| record.items.iter().copied())).collect()
}
