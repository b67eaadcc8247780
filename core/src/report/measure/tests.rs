//! What one pupil meets, worked by hand.

use uuid::Uuid;

use super::*;
use crate::{
    check::Outcome,
    id::{GroupId, LessonRecordId, StaffId, VersionId},
    lesson::{self, CatchUp, RegisterEntry, coverage},
    rules::pack,
};

fn id<K>(n: u128) -> crate::id::Id<K> {
    crate::id::Id::from_uuid(Uuid::from_u128(n))
}

fn day(text: &str) -> Date {
    text.parse().unwrap()
}

fn measure(code: &str) -> &'static MeasureRule {
    pack("england").unwrap().reports.measure(code).unwrap()
}

fn record(on: &str, lesson: u128, items: &[u128], mark: Mark, missed: bool) -> Record {
    let entry = RegisterEntry { pupil_id: id(1), mark, missed };
    Record {
        id: LessonRecordId::from_uuid(Uuid::from_u128(lesson)),
        group: GroupId::from_uuid(Uuid::nil()),
        on: day(on),
        slot: 1,
        generation: 0,
        version: VersionId::from_uuid(Uuid::nil()),
        lesson: id(lesson),
        outcome: lesson::Outcome::Delivered,
        items: items.iter().map(|item| id(*item)).collect(),
        reason: None,
        register: vec![entry],
        taught_by: StaffId::from_uuid(Uuid::nil()),
        entered_by: StaffId::from_uuid(Uuid::nil()),
    }
}

fn had(records: &[Record], caught_up: &[u128]) -> LessonsHad {
    let catch_up = CatchUp {
        id: id(1),
        group: GroupId::from_uuid(Uuid::nil()),
        on: day("2026-11-20"),
        items: caught_up.iter().map(|item| id(*item)).collect(),
        pupils: vec![id(1)],
        versions: Vec::new(),
        taught_by: StaffId::from_uuid(Uuid::nil()),
        entered_by: StaffId::from_uuid(Uuid::nil()),
    };
    let catch_ups: Vec<CatchUp> = if caught_up.is_empty() { Vec::new() } else { vec![catch_up] };
    let covered = coverage(id(1), [], records, &catch_ups);
    let new = (10..40).map(id).collect();
    let days = LessonDays { year_from: day("2026-09-01"), half_term_from: day("2026-11-02") };
    lessons_had(id(1), records, &covered, &new, days)
}

/// Of last year nothing counts; of this year five lessons, the second missed, the third missed by coming late, the fourth
/// only going back and missed, the fifth missed and taught again. Four sessions lie in the half term.
#[test]
fn a_lesson_is_had_once_all_of_it_was_taught_to_the_pupil() {
    use Mark::{Absent, Late, Present};
    let records = [
        record("2026-06-30", 9, &[39], Absent, false),
        record("2026-10-01", 1, &[11, 12], Present, false),
        record("2026-10-02", 2, &[13], Absent, false),
        record("2026-11-02", 3, &[14, 90], Late, true),
        record("2026-11-03", 4, &[91], Absent, false),
        record("2026-11-04", 5, &[15], Absent, false),
        record("2026-11-05", 5, &[15], Present, false),
    ];
    let of = |given, had, sessions, attended| LessonsHad { given, had, sessions, attended };
    assert_eq!(had(&records, &[]), of(5, 2, 4, 2));
    // What went back is not caught up, and hinders nothing.
    assert_eq!(had(&records, &[13, 14]), of(5, 4, 4, 2));
    // Somebody else's register says nothing of this pupil.
    let mut other = records.to_vec();
    other.iter_mut().for_each(|record| record.register[0].pupil_id = id(2));
    assert_eq!(had(&other, &[]), LessonsHad::default());
    let says = |lessons| {
        let facts = PupilFacts::default();
        let pupil = PupilSays { facts: &facts, expects: None, lessons };
        let rule = &pack("england").unwrap().attainment.secure;
        ["coverage", "attendance"].map(|code| met(measure(code), &pupil, rule))
    };
    // 90 in 100: nine of ten, and eighteen of twenty.
    assert_eq!(says(of(10, 9, 20, 18)), [Some(true), Some(true)]);
    assert_eq!(says(of(10, 8, 20, 17)), [Some(false), Some(false)]);
    assert_eq!(says(of(0, 0, 0, 0)), [None, None]);
}

/// Of five GPCs expected four have to be secure.
#[test]
fn the_expectation_is_reached_by_what_is_secure_and_open_while_nobody_asked() {
    let rule = &pack("england").unwrap().attainment.secure;
    let right =
        |on: &str| Answer { on: day(on), outcome: Outcome::Right, carried_in: false, by_choice: false };
    let three = || ["2026-11-05", "2026-11-10", "2026-11-12"].map(right).to_vec();
    let of = |secure: &[u128], taught: &[u128], wrong: &[u128]| {
        let mut facts = PupilFacts::default();
        for gpc in secure.iter().chain(taught) {
            facts.expected.insert(id(*gpc), Some(day("2026-11-02")));
        }
        facts.gpc_answers.extend(secure.iter().map(|gpc| (id(*gpc), three())));
        let no = Answer { outcome: Outcome::Wrong, ..right("2026-11-12") };
        facts.gpc_answers.extend(wrong.iter().map(|gpc| (id(*gpc), vec![no])));
        let (expects, none): (BTreeSet<ItemId>, _) = ((11..16).map(id).collect(), BTreeSet::new());
        let says = |expects| {
            let pupil = PupilSays { facts: &facts, expects, lessons: LessonsHad::default() };
            met(measure("expected"), &pupil, rule)
        };
        assert_eq!(says(None), None, "in no group");
        assert_eq!(says(Some(&none)), None, "nothing is expected yet");
        (says(Some(&expects)), super::secure(&facts, rule))
    };
    assert_eq!(of(&[11, 12, 13, 14], &[], &[]), (Some(true), 4));
    // The fifth was taught and never asked: it does not matter, and neither does what is not expected.
    assert_eq!(of(&[11, 12, 13, 14, 20], &[15], &[]), (Some(true), 5));
    // One of two would do.
    assert_eq!(of(&[11, 12, 13], &[14, 15], &[]), (None, 3));
    // Answered wrong, or not taught and not asked: not secure.
    assert_eq!(of(&[11, 12, 13], &[14, 15], &[14, 15]), (Some(false), 3));
    assert_eq!(of(&[11, 12, 13], &[], &[]), (Some(false), 3));
    assert_eq!(of(&[], &[11, 12, 13, 14, 15], &[]), (None, 0));
}
