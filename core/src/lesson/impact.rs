//! What another version of its sequence would change for a group. Nothing recorded changes: records
//! keep their version; what is told is the way ahead and what would count as left out.

use std::collections::BTreeSet;

use serde::Serialize;

use super::{
    carried::CarriedIn,
    place::{is_all_of, items_taught, lessons_left, next_lesson},
    record::{Outcome, Record},
};
use crate::{
    id::{ItemId, LessonId},
    sequence::{Content, ItemKind, Lesson},
};

/// What another version would change for one group; items in teaching order.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = VersionImpact))]
pub struct Impact {
    /// The lesson taught next as it is; none at the end.
    pub next_before: Option<LessonId>,
    /// The lesson taught next by the other version.
    pub next_after: Option<LessonId>,
    /// Items the other version has before the group's place that it was not taught. What it is taught next by either,
    /// in the same order, is no gap of either.
    pub gaps_created: Vec<ItemId>,
    /// Items left out as it is that the other version does not have before the group's place.
    pub gaps_closed: Vec<ItemId>,
    /// Items it was taught that the other version does not have. They stay taught.
    pub taught_and_withdrawn: Vec<ItemId>,
    /// Lessons it was taught that the other version has neither by id nor by what they teach. Their records stay.
    pub lessons_withdrawn: Vec<LessonId>,
}

/// Works out what `after` in place of `before` would change for the group of these records.
pub fn impact(before: &Content, after: &Content, carried: Option<&CarriedIn>, records: &[Record]) -> Impact {
    let taught = items_taught(carried, records);
    let next = |content: &Content| next_lesson(content, carried, records).map(|next| next.lesson.id);
    let (queue, after_queue) = (to_come(before, carried, records), to_come(after, carried, records));
    let next_anyway: BTreeSet<ItemId> =
        queue.zip(after_queue).take_while(|(one, other)| one == other).map(|(id, _)| id).collect();
    let gaps = |content: &Content| {
        let mut left_out = left_out(content, &taught, carried, records);
        left_out.retain(|id| !next_anyway.contains(id));
        left_out
    };
    let (old, new) = (gaps(before), gaps(after));
    let kept: BTreeSet<ItemId> = after.items().map(|item| item.id).collect();
    let withdrawn = before.items().filter(|item| item.kind != ItemKind::Review && taught.contains(&item.id));
    let mut seen = BTreeSet::new();
    let lessons = before.lessons().map(|(_, _, lesson)| lesson);
    Impact {
        next_before: next(before),
        next_after: next(after),
        gaps_created: new.iter().filter(|id| !old.contains(id)).copied().collect(),
        gaps_closed: old.iter().filter(|id| !new.contains(id)).copied().collect(),
        taught_and_withdrawn: withdrawn
            .map(|item| item.id)
            .filter(|id| !kept.contains(id) && seen.insert(*id))
            .collect(),
        lessons_withdrawn: lessons
            .filter(|lesson| reached(lesson, &taught, carried, records) && !has(after, lesson))
            .map(|lesson| lesson.id)
            .collect(),
    }
}

/// What is new in the lessons still to be taught, in teaching order.
fn to_come<'a>(
    content: &'a Content,
    carried: Option<&'a CarriedIn>,
    records: &'a [Record],
) -> impl Iterator<Item = ItemId> + use<'a> {
    let lessons = lessons_left(content, carried, records);
    lessons.flat_map(|next| {
        let new = next.items().filter(|item| item.kind != ItemKind::Review);
        new.map(|item| item.id).collect::<Vec<_>>()
    })
}

/// What stands before the end of the furthest lesson the group has reached, and was not taught.
fn left_out(
    content: &Content,
    taught: &BTreeSet<ItemId>,
    carried: Option<&CarriedIn>,
    records: &[Record],
) -> Vec<ItemId> {
    let lessons: Vec<_> = content.lessons().map(|(_, _, lesson)| lesson).collect();
    let furthest = lessons.iter().rposition(|lesson| reached(lesson, taught, carried, records));
    let before = lessons.iter().take(furthest.map_or(0, |last| last + 1));
    let items = before.flat_map(|lesson| &lesson.items).filter(|item| item.kind != ItemKind::Review);
    let mut seen = BTreeSet::new();
    items.map(|item| item.id).filter(|id| !taught.contains(id) && seen.insert(*id)).collect()
}

/// Whether something of a lesson was taught or carried in, or all that is new in it was, in whatever lesson: one
/// drafted anew is another lesson by its id and teaches the same.
fn reached(
    lesson: &Lesson,
    taught: &BTreeSet<ItemId>,
    carried: Option<&CarriedIn>,
    records: &[Record],
) -> bool {
    is_all_of(lesson, taught)
        || carried.is_some_and(|carried| carried.delivered(lesson.id).is_some())
        || records.iter().any(|record| {
            record.lesson == lesson.id && matches!(record.outcome, Outcome::Delivered | Outcome::Part)
        })
}

/// Whether a version has a lesson, or one that teaches all that is new in it.
fn has(content: &Content, lesson: &Lesson) -> bool {
    content.lesson(lesson.id).is_some()
        || content
            .lessons()
            .any(|(_, _, other)| is_all_of(lesson, &other.items.iter().map(|item| item.id).collect()))
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::{
        id::{GroupId, Id, LessonRecordId, StaffId, VersionId},
        sequence::{Content, Item, settle},
        time::Date,
    };

    /// Lessons of one item each, in this order: m, o, d, e, n.
    fn content(order: &[&str]) -> Content {
        let sound = |letter: &str| if letter == "o" { "ɒ".to_owned() } else { letter.to_owned() };
        let lessons: Vec<_> = order
            .iter()
            .map(|letter| {
                let gpc = serde_json::json!({"grapheme": letter, "phoneme": sound(letter)});
                serde_json::json!({"title": letter, "items": [{"kind": "gpc", "gpc": gpc}]})
            })
            .collect();
        let draft = serde_json::json!({"steps": [{"title": "S", "lessons": lessons}]});
        let mut next = 0;
        let mut content =
            settle(serde_json::from_value(draft).unwrap(), &crate::sequence::Known::default(), &mut || {
                next += 1;
                Uuid::from_u128(next)
            })
            .unwrap();
        // A lesson is the same lesson in every version by its letter.
        for lesson in &mut content.steps[0].lessons {
            let letter = u128::from(u32::from(lesson.title.as_str().chars().next().unwrap()));
            lesson.id = Id::from_uuid(Uuid::from_u128(letter));
        }
        content
    }

    fn delivered(content: &Content, letters: &[&str]) -> Vec<Record> {
        let lessons = content.lessons().map(|(_, _, lesson)| lesson);
        let lessons = lessons.filter(|lesson| letters.contains(&lesson.title.as_str()));
        let day: Date = "2026-09-07".parse().unwrap();
        let record = |lesson: &crate::sequence::Lesson| Record {
            id: LessonRecordId::from_uuid(lesson.id.uuid()),
            group: GroupId::from_uuid(Uuid::nil()),
            on: day,
            slot: 1,
            generation: 0,
            version: VersionId::from_uuid(Uuid::nil()),
            lesson: lesson.id,
            outcome: Outcome::Delivered,
            items: lesson.items.iter().map(|item| item.id).collect(),
            reason: None,
            register: Vec::new(),
            taught_by: StaffId::from_uuid(Uuid::nil()),
            entered_by: StaffId::from_uuid(Uuid::nil()),
        };
        lessons.map(record).collect()
    }

    fn letters(content: &[&Content], ids: &[ItemId]) -> Vec<String> {
        let items: Vec<_> = content.iter().flat_map(|content| content.items()).collect();
        ids.iter()
            .map(|id| items.iter().find(|item| item.id == *id).unwrap().label.as_str()[..1].to_owned())
            .collect()
    }

    #[test]
    fn what_is_put_before_a_groups_place_is_a_gap_and_next() {
        let (before, after) = (content(&["m", "o", "d", "e"]), content(&["m", "n", "o", "d", "e"]));
        let records = delivered(&before, &["m", "o"]);
        let found = impact(&before, &after, None, &records);
        assert_eq!(letters(&[&after], &found.gaps_created), ["n"]);
        let lesson = |letter: &str| {
            let mut all = after.lessons().map(|(_, _, lesson)| lesson);
            all.find(|lesson| lesson.title.as_str() == letter).map(|lesson| lesson.id)
        };
        assert_eq!((found.next_before, found.next_after), (lesson("d"), lesson("n")));
        assert!(found.gaps_closed.is_empty() && found.taught_and_withdrawn.is_empty());
        // Put behind its place it is only still to come.
        let after = content(&["m", "o", "d", "n", "e"]);
        assert_eq!(impact(&before, &after, None, &records).gaps_created, []);
    }

    #[test]
    fn what_either_version_teaches_next_is_no_gap_of_either() {
        let (before, after) = (content(&["m", "o", "d", "e"]), content(&["m", "d", "o", "e"]));
        let records = delivered(&before, &["m", "o"]);
        // d comes next as it did, whether it stands before o or behind it.
        for (one, other) in [(&before, &after), (&after, &before)] {
            let found = impact(one, other, None, &records);
            assert_eq!((found.gaps_created, found.gaps_closed), (vec![], vec![]));
            assert_eq!(found.next_before, found.next_after);
        }
        // e, drawn forward before what was next, is gone back for.
        let found = impact(&before, &content(&["m", "e", "o", "d"]), None, &records);
        assert_eq!(letters(&[&before], &found.gaps_created), ["e"]);
    }

    #[test]
    fn lessons_drafted_anew_are_those_that_teach_the_same() {
        let (before, mut after) = (content(&["m", "o", "d", "e"]), content(&["m", "n", "o", "d", "e"]));
        for (n, lesson) in (100..).zip(&mut after.steps[0].lessons) {
            lesson.id = Id::from_uuid(Uuid::from_u128(n));
        }
        let found = impact(&before, &after, None, &delivered(&before, &["m", "o"]));
        assert_eq!(letters(&[&after], &found.gaps_created), ["n"]);
        assert_eq!((&found.lessons_withdrawn, &found.gaps_closed), (&Vec::new(), &Vec::new()));
        // o was left out; the new lesson of d is as far as the group has come.
        let found = impact(&before, &after, None, &delivered(&before, &["m", "d"]));
        assert_eq!(letters(&[&after], &found.gaps_created), ["n"]);
        // Of what goes, the lesson is gone too.
        after.steps[0].lessons.remove(2);
        let found = impact(&before, &after, None, &delivered(&before, &["m", "o"]));
        assert_eq!(found.lessons_withdrawn, [before.steps[0].lessons[1].id]);
    }

    #[test]
    fn what_was_left_out_and_goes_is_no_gap_any_more() {
        let (before, after) = (content(&["m", "o", "d", "e"]), content(&["m", "d", "e"]));
        // o was left out; d was taught. o goes.
        let found = impact(&before, &after, None, &delivered(&before, &["m", "d"]));
        assert_eq!(letters(&[&before], &found.gaps_closed), ["o"]);
        assert_eq!((found.gaps_created.len(), found.lessons_withdrawn.len()), (0, 0));
        // Taught and gone: it stays taught, and its record stays.
        let found = impact(&before, &after, None, &delivered(&before, &["m", "o"]));
        assert_eq!(letters(&[&before], &found.taught_and_withdrawn), ["o"]);
        assert_eq!(found.lessons_withdrawn.len(), 1);
        assert_eq!(impact(&before, &before, None, &delivered(&before, &["m"])).gaps_created, []);
    }

    #[test]
    fn a_pair_taught_in_one_lesson_is_not_next_in_another() {
        let before = content(&["m", "o", "d", "e"]);
        let mut after = content(&["m", "d", "o", "e"]);
        after.steps[0].lessons[2].id = Id::from_uuid(Uuid::from_u128(7));
        let next = |taught: &[&str]| {
            let id = impact(&before, &after, None, &delivered(&before, taught)).next_after.unwrap();
            after.lesson(id).unwrap().2.title.to_string()
        };
        assert_eq!((next(&["m", "o"]), next(&["m", "o", "d"])), ("d".into(), "e".into()));
        assert_eq!(next(&["m", "d"]), "o");
    }

    #[test]
    fn of_a_lesson_only_what_was_not_taught_in_another_remains() {
        let before = content(&["m", "o", "d", "e"]);
        // m stands in a lesson with n now, and review is done with either.
        let mut after = content(&["m", "n", "o", "d", "e"]);
        let moved = after.steps[0].lessons.remove(0).items;
        let review = Item { kind: ItemKind::Review, gpc: None, ..moved[0].clone() };
        let review = Item { id: Id::from_uuid(Uuid::from_u128(900)), ..review };
        after.steps[0].lessons[0].items.extend([moved[0].clone(), review]);
        let records = delivered(&before, &["m", "o", "d"]);
        let next = next_lesson(&after, None, &records).unwrap();
        let new = next.lesson.items[0].id;
        assert_eq!(
            (next.lesson.items.len(), next.remaining),
            (3, vec![new, Id::from_uuid(Uuid::from_u128(900))])
        );
        let next = next_lesson(&after, None, &[]).unwrap();
        assert_eq!(next.remaining.len(), 3);
    }
}
