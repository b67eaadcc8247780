//! What a sequence expects to be taught by a day.

use super::{group::GroupFacts, plan::Standing};
use crate::{
    lesson::{Record, lessons_left},
    sequence::Lesson,
};

/// The lessons a group was to have been taught by the day, by the plan its standing is counted by: those that were done or
/// carried in before the plan's first day, and of those left then as many as are planned since, in the sequence's order.
#[must_use]
pub fn lessons_expected<'a>(facts: &GroupFacts<'a>, standing: &Standing) -> Vec<&'a Lesson> {
    let before: Vec<Record> =
        facts.records.iter().filter(|record| record.on < standing.since).cloned().collect();
    let carried = facts.carried.filter(|carried| carried.as_of < standing.since);
    let left = lessons_left(facts.content, carried, &before).skip(standing.planned as usize);
    let still: std::collections::BTreeSet<_> = left.map(|left| left.lesson.id).collect();
    let lessons = facts.content.lessons().map(|(_, _, lesson)| lesson);
    lessons.filter(|lesson| !still.contains(&lesson.id)).collect()
}
