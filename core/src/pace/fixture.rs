//! Sequences and records to count by.
#![cfg(test)]

use uuid::Uuid;

use crate::{
    id::{GroupId, Id, LessonRecordId, StaffId, VersionId},
    lesson::{Outcome, Record},
    rules::{PaceRule, pack},
    sequence::{Content, settle},
    time::Date,
};

pub(super) fn day(text: &str) -> Date {
    text.parse().unwrap()
}

pub(super) fn rule() -> PaceRule {
    pack("england").unwrap().pace.clone()
}

/// Two steps of lessons; each lesson has so many new items.
pub(super) fn content(steps: &[&[usize]]) -> Content {
    let mut rules = 0;
    let steps: Vec<_> = steps
        .iter()
        .enumerate()
        .map(|(step, lessons)| {
            let lessons: Vec<_> = lessons
                .iter()
                .enumerate()
                .map(|(lesson, items)| {
                    let items: Vec<_> = (0..*items)
                        .map(|_| {
                            rules += 1;
                            serde_json::json!({"kind": "spelling_rule", "label": format!("Rule {rules}")})
                        })
                        .collect();
                    serde_json::json!({"title": format!("{}.{}", step + 1, lesson + 1), "items": items})
                })
                .collect();
            serde_json::json!({"title": format!("Step {}", step + 1), "lessons": lessons})
        })
        .collect();
    let draft = serde_json::json!({ "steps": steps });
    let mut next = 0;
    settle(serde_json::from_value(draft).unwrap(), &crate::sequence::Known::default(), &mut || {
        next += 1;
        Uuid::from_u128(next)
    })
    .unwrap()
}

/// A record of the lesson with this number, from 0; a part teaches its item with that number.
pub(super) fn record(
    content: &Content,
    lesson: usize,
    on: &str,
    outcome: Outcome,
    part: Option<usize>,
) -> Record {
    let (_, _, lesson) = content.lessons().nth(lesson).unwrap();
    let items = lesson.items.iter().map(|item| item.id);
    Record {
        id: LessonRecordId::from_uuid(Uuid::nil()),
        group: GroupId::from_uuid(Uuid::nil()),
        on: day(on),
        slot: 1,
        generation: 0,
        version: VersionId::from_uuid(Uuid::nil()),
        lesson: lesson.id,
        outcome,
        items: match (outcome, part) {
            (Outcome::NotDelivered, _) => Vec::new(),
            (_, Some(part)) => items.skip(part).take(1).collect(),
            _ => items.collect(),
        },
        reason: None,
        register: Vec::new(),
        taught_by: Id::from_uuid(Uuid::nil()),
        entered_by: StaffId::from_uuid(Uuid::nil()),
    }
}
