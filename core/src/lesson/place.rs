//! The place a group has reached, worked out from what was carried in and from its records, and
//! never stored.

use std::collections::BTreeSet;

use super::{
    carried::CarriedIn,
    record::{Outcome, Record},
};
use crate::{
    id::ItemId,
    sequence::{Content, Item, ItemKind, Lesson, Place, Step},
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

/// How far a group is with a lesson; one carried in was delivered on that day. Re-teaching changes
/// nothing here.
pub fn state<'a>(
    lesson: &Lesson,
    carried: Option<&CarriedIn>,
    records: impl Iterator<Item = &'a Record>,
) -> LessonState {
    let mut taught = BTreeSet::new();
    let mut last_part: Option<Date> = None;
    let mut delivered: Option<Date> = carried.and_then(|carried| carried.delivered(lesson.id));
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
    /// The items still to teach: what is new in it and was not taught, here or in another lesson, and the
    /// review unless it was done.
    pub remaining: Vec<ItemId>,
}

impl<'a> NextLesson<'a> {
    /// Whether something of it was taught already.
    pub fn begun(&self) -> bool {
        self.remaining.len() < self.lesson.items.len()
    }

    /// What remains, in the lesson's order.
    pub fn items(&self) -> impl Iterator<Item = &'a Item> {
        self.lesson.items.iter().filter(|item| self.remaining.contains(&item.id))
    }
}

/// The first lesson that was neither delivered nor carried in; none at the end.
pub fn next_lesson<'a>(
    content: &'a Content,
    carried: Option<&CarriedIn>,
    records: &[Record],
) -> Option<NextLesson<'a>> {
    lessons_left(content, carried, records).next()
}

/// The lessons that were neither delivered nor carried in, in teaching order. One of which all that is new was
/// taught in lessons it stood in before, in another version, counts as delivered.
pub fn lessons_left<'a, 'b>(
    content: &'a Content,
    carried: Option<&'b CarriedIn>,
    records: &'b [Record],
) -> impl Iterator<Item = NextLesson<'a>> + use<'a, 'b> {
    let taught = items_taught(carried, records);
    content.lessons().filter_map(move |(place, step, lesson)| {
        let remaining = match state(lesson, carried, records.iter()) {
            LessonState::Delivered { .. } => return None,
            LessonState::Part { remaining } => remaining,
            LessonState::Untaught if is_all_of(lesson, &taught) => return None,
            LessonState::Untaught => lesson.items.iter().map(|item| item.id).collect(),
        };
        let remaining = not_taught(lesson, remaining, &taught);
        if remaining.is_empty() && !lesson.items.is_empty() {
            return None;
        }
        Some(NextLesson { place, step, lesson, remaining })
    })
}

/// What remains of a lesson without what was taught in others it stood in before. Review stays.
pub(super) fn not_taught(lesson: &Lesson, remaining: Vec<ItemId>, taught: &BTreeSet<ItemId>) -> Vec<ItemId> {
    let review: BTreeSet<ItemId> =
        lesson.items.iter().filter(|item| item.kind == ItemKind::Review).map(|item| item.id).collect();
    remaining.into_iter().filter(|id| review.contains(id) || !taught.contains(id)).collect()
}

/// Whether a lesson teaches something new and all of it is among these.
pub(crate) fn is_all_of(lesson: &Lesson, taught: &BTreeSet<ItemId>) -> bool {
    let mut new = lesson.items.iter().filter(|item| item.kind != ItemKind::Review).peekable();
    new.peek().is_some() && new.all(|item| taught.contains(&item.id))
}

/// What a group was taught: the items of its records and those carried in.
pub fn items_taught(carried: Option<&CarriedIn>, records: &[Record]) -> BTreeSet<ItemId> {
    taught_by(carried, records.iter())
}

/// The same of some of its records.
pub(super) fn taught_by<'a>(
    carried: Option<&CarriedIn>,
    records: impl Iterator<Item = &'a Record>,
) -> BTreeSet<ItemId> {
    let before = carried.into_iter().flat_map(|carried| &carried.items);
    before.chain(records.flat_map(|record| &record.items)).copied().collect()
}
