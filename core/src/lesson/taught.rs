//! What a record says was taught, and what rests on it: a lesson is delivered once, by the earliest record that says
//! so, and only what was taught can be taught again.

use std::collections::BTreeSet;

use super::{
    carried::CarriedIn,
    place,
    record::{Facts, Outcome, Record, RecordError, Report, Warning},
};
use crate::{id::ItemId, sequence::Lesson};

/// What is odd about a lesson that is recorded as taught on two days.
pub(super) fn again(facts: &Facts<'_>, report: &Report) -> Option<Warning> {
    let at = (report.on, report.slot);
    let delivered = |other: &&Record| other.lesson == report.lesson && other.outcome == Outcome::Delivered;
    let first = facts.others.iter().filter(delivered).map(|other| (other.on, other.slot)).min()?;
    match report.outcome {
        Outcome::Delivered | Outcome::Part if first < at => Some(Warning::TaughtAgain),
        Outcome::Delivered => Some(Warning::LaterTaughtAgain),
        Outcome::Part | Outcome::NotDelivered | Outcome::Retaught => None,
    }
}

/// What a report says was taught, in the lesson's order.
///
/// # Errors
/// What cannot be, of its items and its outcome.
pub(super) fn items_taught(
    facts: &Facts<'_>,
    lesson: &Lesson,
    report: &Report,
) -> Result<Vec<ItemId>, RecordError> {
    let whole: Vec<ItemId> = lesson.items.iter().map(|item| item.id).collect();
    if let Some(items) = &report.items
        && let Some(n) = items.iter().position(|item| !whole.contains(item))
    {
        return Err(RecordError::UnknownItem(n));
    }
    let carried = facts.carried.filter(|carried| carried.as_of <= report.on);
    // A day can be entered late: what was recorded of later days says nothing of what remained on it.
    let earlier = facts.others.iter().filter(|other| (other.on, other.slot) < (report.on, report.slot));
    let taught = place::taught_by(carried, earlier.clone());
    let named = report.items.as_ref().map(|items| items.iter().copied().collect::<BTreeSet<_>>());
    let in_order =
        |named: &BTreeSet<ItemId>| whole.iter().copied().filter(|item| named.contains(item)).collect();
    // As the next lesson says it. Of a lesson of which nothing is new any more it is taught once more.
    let remaining = || {
        let left = match place::state(lesson, carried, earlier) {
            place::LessonState::Part { remaining } => remaining,
            place::LessonState::Delivered { .. } => return whole.clone(),
            place::LessonState::Untaught => whole.clone(),
        };
        let new = place::not_taught(lesson, left.clone(), &taught);
        if new.is_empty() { left } else { new }
    };
    if let Some(on) = facts.carried.and_then(|carried| carried.delivered(lesson.id))
        && matches!(report.outcome, Outcome::Delivered | Outcome::Part)
    {
        return Err(RecordError::CarriedIn(on));
    }
    match report.outcome {
        Outcome::NotDelivered if report.items.is_some() => Err(RecordError::NothingTaught("items")),
        Outcome::NotDelivered => Ok(Vec::new()),
        Outcome::Retaught => match &report.items {
            _ if !whole.iter().any(|item| taught.contains(item)) => Err(RecordError::NothingToReteach),
            Some(items) if items.is_empty() => Err(RecordError::TooFewItems),
            Some(items) => match items.iter().position(|item| !taught.contains(item)) {
                Some(n) => Err(RecordError::NotTaughtBefore(n)),
                None => Ok(in_order(&items.iter().copied().collect())),
            },
            // Of a lesson that was only begun, what was begun is taught again.
            None => Ok(in_order(&taught)),
        },
        Outcome::Delivered => {
            let remaining = remaining();
            match named {
                Some(named) if !remaining.iter().all(|item| named.contains(item)) => {
                    Err(RecordError::TooFewItems)
                }
                Some(named) => Ok(in_order(&named)),
                None => Ok(remaining),
            }
        }
        Outcome::Part => {
            let named = named.unwrap_or_default();
            // What remains is not asked: two devices that taught a half each make the same records in either order, and
            // parts that leave nothing finish the lesson.
            if named.is_empty() || whole.iter().all(|item| named.contains(item)) {
                return Err(RecordError::PartItems);
            }
            Ok(in_order(&named))
        }
    }
}

/// Checks that no record teaches again what, without `gone` or with `new` in its place, was never taught before.
///
/// # Errors
/// [`RecordError::RestedOn`].
pub fn rested_on(
    gone: &Record,
    new: Option<&Record>,
    others: &[Record],
    carried: Option<&CarriedIn>,
) -> Result<(), RecordError> {
    let at = |record: &Record| (record.on, record.slot);
    let missing = |again: &&Record| {
        let before = others.iter().chain(new).filter(|other| at(other) < at(again));
        let carried = carried.filter(|carried| carried.as_of <= again.on);
        let taught = place::taught_by(carried, before);
        at(again) > at(gone)
            && again.items.iter().any(|item| gone.items.contains(item) && !taught.contains(item))
    };
    let again = others.iter().filter(|record| record.outcome == Outcome::Retaught);
    again.filter(missing).map(|record| record.on).min().map_or(Ok(()), |on| Err(RecordError::RestedOn(on)))
}
