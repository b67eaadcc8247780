//! Stories 7 as rules: absence, split lessons, re-teaching.

use uuid::Uuid;

use crate::{
    calendar::{Calendar, HalfTerm, Year},
    id::{CatchUpId, GroupId, HalfTermId, ItemId, LessonId, PupilId, StaffId, VersionId},
    lesson::{
        CarriedIn, CatchUp, Facts, LessonState, Mark, Outcome, Record, RecordError, RegisterEntry, Report,
        Warning, coverage, days_taught, next_lesson, record, rested_on, state,
    },
    sequence::{Content, settle},
    text::Title,
    time::Date,
};

fn day(d: u32) -> Date {
    Date::from_ymd_opt(2025, 9, d).unwrap()
}

struct World {
    content: Content,
    calendar: Calendar,
    members: Vec<PupilId>,
    away: Vec<PupilId>,
    records: Vec<Record>,
}

impl World {
    /// Two lessons of two GPCs each, three pupils, September 2025.
    fn new() -> Self {
        let item =
            |g: &str, p: &str| serde_json::json!({"kind": "gpc", "gpc": {"grapheme": g, "phoneme": p}});
        let draft = serde_json::from_value(serde_json::json!({"steps": [{"title": "S", "lessons": [
            {"title": "L1", "items": [item("m", "m"), item("o", "ɒ")]},
            {"title": "L2", "items": [item("d", "d"), item("e", "e")]}]}]}))
        .unwrap();
        let mut next = 0;
        let content = settle(draft, &crate::sequence::Known::default(), &mut || {
            next += 1;
            Uuid::from_u128(next)
        })
        .unwrap();
        let term = HalfTerm {
            id: HalfTermId::from_uuid(Uuid::nil()),
            name: Title::new("Autumn 1").unwrap(),
            starts_on: day(1),
            ends_on: day(26),
        };
        let year = Year { year: 2025, starts_on: day(1), ends_on: day(30), half_terms: vec![term] };
        Self {
            content,
            calendar: Calendar { years: vec![year], closures: vec![] },
            members: (1..=3).map(|n| PupilId::from_uuid(Uuid::from_u128(n))).collect(),
            away: vec![],
            records: vec![],
        }
    }

    fn lesson(&self, n: usize) -> LessonId {
        self.content.lessons().nth(n).unwrap().2.id
    }

    fn item(&self, n: usize) -> ItemId {
        self.content.items().nth(n).unwrap().id
    }

    fn log(
        &mut self,
        d: u32,
        lesson: usize,
        outcome: Outcome,
        edit: impl FnOnce(&mut Report),
    ) -> Result<Vec<Warning>, RecordError> {
        let mut report = Report {
            on: day(d),
            slot: 1,
            lesson: self.lesson(lesson),
            outcome,
            items: None,
            reason: None,
            register: vec![],
            taught_by: None,
        };
        edit(&mut report);
        let facts = Facts {
            group: GroupId::from_uuid(Uuid::nil()),
            version: VersionId::from_uuid(Uuid::nil()),
            content: &self.content,
            has_pupils: !self.members.is_empty(),
            members: &self.members,
            away: &self.away,
            others: &self.records,
            carried: None,
            generation: 0,
            in_timetable: true,
            day: self.calendar.day(report.on),
            reasons: &["other".to_owned()],
            today: day(20),
            entered_by: StaffId::from_uuid(Uuid::nil()),
        };
        let (record, warnings) = record(&facts, report)?;
        self.records.push(record);
        Ok(warnings)
    }

    fn next(&self) -> Option<(usize, usize)> {
        next_lesson(&self.content, None, &self.records).map(|next| (next.place.lesson, next.remaining.len()))
    }

    /// The day on which a lesson was finished.
    fn finished(&self, lesson: usize) -> Option<u32> {
        use chrono::Datelike as _;
        match state(self.content.lessons().nth(lesson).unwrap().2, None, self.records.iter()) {
            LessonState::Delivered { on } => Some(on.day()),
            LessonState::Untaught | LessonState::Part { .. } => None,
        }
    }

    fn taught(&self, pupil: usize, item: usize) -> Option<u32> {
        use chrono::Datelike as _;
        coverage(self.members[pupil], None, self.records.iter(), [])
            .get(&self.item(item))?
            .taught_on
            .map(|on| on.day())
    }

    fn missed(&self, pupil: usize) -> usize {
        coverage(self.members[pupil], None, self.records.iter(), [])
            .values()
            .filter(|line| line.missed_on.is_some())
            .count()
    }
}

fn mark(world: &World, pupil: usize, mark: Mark, missed: bool) -> RegisterEntry {
    RegisterEntry { pupil_id: world.members[pupil], mark, missed }
}

#[test]
fn absent_is_missed_until_taught_again() {
    let mut w = World::new();
    let (absent, late, too_late) =
        (mark(&w, 0, Mark::Absent, false), mark(&w, 1, Mark::Late, false), mark(&w, 2, Mark::Late, true));
    w.log(1, 0, Outcome::Delivered, |r| r.register = vec![absent, late, too_late]).unwrap();
    assert_eq!((w.taught(0, 0), w.taught(1, 0), w.taught(2, 0)), (None, Some(1), None));
    assert_eq!((w.missed(0), w.missed(1), w.missed(2)), (2, 0, 2));
    w.log(2, 0, Outcome::Retaught, |_| {}).unwrap();
    assert_eq!((w.taught(0, 0), w.taught(1, 0), w.missed(0)), (Some(2), Some(1), 0));
}

#[test]
fn every_day_of_teaching_counts_for_whoever_was_there() {
    let mut w = World::new();
    let absent = mark(&w, 0, Mark::Absent, false);
    w.log(1, 0, Outcome::Delivered, |r| r.register = vec![absent]).unwrap();
    w.log(2, 0, Outcome::Retaught, |_| {}).unwrap();
    let carried = CarriedIn {
        as_of: day(8),
        lessons: vec![],
        items: vec![w.item(2), w.item(3)],
        pupils: [(w.members[0], [w.item(2)].into())].into(),
    };
    let caught_up = CatchUp {
        id: CatchUpId::from_uuid(Uuid::nil()),
        group: GroupId::from_uuid(Uuid::nil()),
        on: day(9),
        items: vec![w.item(0), w.item(2)],
        pupils: vec![w.members[0]],
        versions: vec![],
        taught_by: StaffId::from_uuid(Uuid::nil()),
        entered_by: StaffId::from_uuid(Uuid::nil()),
    };
    let days = |pupil: usize, item: usize| -> Vec<u32> {
        use chrono::Datelike as _;
        let days = days_taught(w.members[pupil], [&carried], w.records.iter(), [&caught_up]);
        days.get(&w.item(item)).into_iter().flatten().map(|on| on.day()).collect()
    };
    assert_eq!((days(0, 0), days(1, 0)), (vec![2, 9], vec![1, 2]));
    // Carried in: the first pupil missed one of the two and caught it up; nobody else is named.
    assert_eq!((days(0, 2), days(0, 3), days(1, 3)), (vec![9], vec![8], vec![]));
}

#[test]
fn a_split_lesson_is_finished_another_day() {
    let mut w = World::new();
    let first = w.item(0);
    w.log(1, 0, Outcome::Part, |r| r.items = Some(vec![first])).unwrap();
    assert_eq!(w.next(), Some((1, 1)));
    assert_eq!((w.taught(0, 0), w.taught(0, 1)), (Some(1), None));
    w.log(2, 0, Outcome::Delivered, |_| {}).unwrap();
    assert_eq!(w.next(), Some((2, 2)));
    assert_eq!((w.taught(0, 0), w.taught(0, 1)), (Some(1), Some(2)));
    assert_eq!(w.records[1].items, vec![w.item(1)]);
}

#[test]
fn reteaching_never_moves_the_place() {
    let mut w = World::new();
    assert_eq!(w.log(1, 0, Outcome::Retaught, |_| {}), Err(RecordError::NothingToReteach));
    w.log(1, 0, Outcome::Delivered, |_| {}).unwrap();
    w.log(2, 1, Outcome::Delivered, |_| {}).unwrap();
    assert_eq!(w.next(), None);
    w.log(3, 0, Outcome::Retaught, |_| {}).unwrap();
    assert_eq!(w.next(), None);
    // Recorded as delivered once more it was taught again, and the answer says so.
    assert_eq!(w.log(4, 0, Outcome::Delivered, |_| {}), Ok(vec![Warning::TaughtAgain]));
    assert_eq!((w.next(), w.finished(0)), (None, Some(1)));
}

#[test]
fn a_day_entered_late_is_the_finish_whatever_came_first() {
    use Outcome::{Delivered, Part};
    let ops = [(17, Delivered), (18, Part), (20, Delivered)];
    let mut all = Vec::new();
    for order in [[0, 1, 2], [0, 2, 1], [1, 0, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]] {
        let mut w = World::new();
        let mut told = Vec::new();
        for n in order {
            let (d, outcome) = ops[n];
            let first = w.item(0);
            let part = (outcome == Part).then(|| vec![first]);
            told.extend(w.log(d, 0, outcome, |r| r.items = part).unwrap());
        }
        assert_eq!(
            (w.finished(0), w.next(), w.taught(0, 1)),
            (Some(17), Some((2, 2)), Some(17)),
            "{order:?}"
        );
        assert!(!told.is_empty(), "{order:?}");
        w.records.sort_by_key(|record| record.on);
        // Gone again, the later one finishes it: nothing of it was lost.
        let without: Vec<Record> = w.records.iter().filter(|record| record.on > day(17)).cloned().collect();
        let gone = w.records[0].clone();
        assert_eq!(rested_on(&gone, None, &without, None), Ok(()));
        w.records = without;
        assert_eq!((w.finished(0), w.taught(0, 1)), (Some(20), Some(20)), "{order:?}");
        all.push(w.records.iter().map(|record| (record.on, record.outcome)).collect::<Vec<_>>());
    }
    assert!(all.windows(2).all(|two| two[0] == two[1]));
}

#[test]
fn two_halves_of_a_lesson_from_two_devices_finish_it_in_either_order() {
    let logged = |order: [(u32, usize); 2]| {
        let mut w = World::new();
        for (d, item) in order {
            let item = w.item(item);
            assert_eq!(w.log(d, 0, Outcome::Part, |r| r.items = Some(vec![item])), Ok(vec![]), "{order:?}");
        }
        w.records.sort_by_key(|record| record.on);
        assert_eq!((w.finished(0), w.next()), (Some(2), Some((2, 2))), "{order:?}");
        assert_eq!((w.taught(0, 0), w.taught(0, 1)), (Some(1), Some(2)), "{order:?}");
        w.records
    };
    assert_eq!(logged([(1, 0), (2, 1)]), logged([(2, 1), (1, 0)]));
}

#[test]
fn who_was_not_expected_is_not_absent() {
    let mut w = World::new();
    let away = PupilId::from_uuid(Uuid::from_u128(9));
    w.away = vec![away];
    let absent = RegisterEntry { pupil_id: away, mark: Mark::Absent, missed: false };
    let first = mark(&w, 0, Mark::Absent, false);
    let told = w.log(1, 0, Outcome::Delivered, |r| r.register = vec![absent, first]);
    assert_eq!(told, Ok(vec![Warning::AbsentNotExpected]));
    let marks: Vec<_> = w.records[0].register.iter().map(|entry| (entry.pupil_id, entry.mark)).collect();
    assert_eq!((marks.len(), marks[0]), (3, (w.members[0], Mark::Absent)));
    assert_eq!((w.missed(0), coverage(away, [], w.records.iter(), []).len()), (2, 0));
    // Twice is a mistake all the same, and who was there is to be one of the members.
    let twice = w.log(2, 1, Outcome::Delivered, |r| r.register = vec![absent, absent]);
    assert_eq!(twice, Err(RecordError::Twice(1)));
    let there = RegisterEntry { mark: Mark::Late, ..absent };
    let late = w.log(2, 1, Outcome::Delivered, |r| r.register = vec![there]);
    assert_eq!(late, Err(RecordError::NotAMember(0)));
}

#[test]
fn only_what_was_taught_is_taught_again() {
    let mut w = World::new();
    let (first, second) = (w.item(0), w.item(1));
    w.log(1, 0, Outcome::Part, |r| r.items = Some(vec![first])).unwrap();
    let refused = w.log(2, 0, Outcome::Retaught, |r| r.items = Some(vec![first, second]));
    assert_eq!(refused, Err(RecordError::NotTaughtBefore(1)));
    assert_eq!(RecordError::NotTaughtBefore(1).field(), "items[1]");
    w.log(2, 0, Outcome::Retaught, |_| {}).unwrap();
    assert_eq!(w.records[1].items, [first]);
    // The first cannot go, nor become a part of something else, while the second rests on it.
    let (gone, again) = (w.records[0].clone(), vec![w.records[1].clone()]);
    assert_eq!(rested_on(&gone, None, &again, None), Err(RecordError::RestedOn(day(2))));
    let other = Record { items: vec![second], ..gone.clone() };
    assert_eq!(rested_on(&gone, Some(&other), &again, None), Err(RecordError::RestedOn(day(2))));
    let more = Record { items: vec![first, second], ..gone.clone() };
    assert_eq!(rested_on(&gone, Some(&more), &again, None), Ok(()));
    // What was carried in, or taught by another record before, holds it too.
    let carried = CarriedIn { as_of: day(1), items: vec![first], ..CarriedIn::default() };
    assert_eq!(rested_on(&gone, None, &again, Some(&carried)), Ok(()));
    let before = Record { on: day(1), slot: 2, ..gone.clone() };
    assert_eq!(rested_on(&gone, None, &[again[0].clone(), before], None), Ok(()));
}

#[test]
fn not_delivered_teaches_nobody_and_needs_a_reason() {
    let mut w = World::new();
    assert_eq!(w.log(1, 0, Outcome::NotDelivered, |_| {}), Err(RecordError::Reason("other".into())));
    w.log(1, 0, Outcome::NotDelivered, |r| r.reason = Some("other".into())).unwrap();
    assert_eq!((w.next(), w.taught(0, 0), w.missed(0)), (Some((1, 2)), None, 0));
    let e = w.log(2, 0, Outcome::Delivered, |r| r.reason = Some("other".into()));
    assert_eq!(e, Err(RecordError::ReasonWithoutNeed));
}

#[test]
fn what_cannot_be_true_is_refused_with_its_field() {
    let mut w = World::new();
    let stranger =
        RegisterEntry { pupil_id: PupilId::from_uuid(Uuid::max()), mark: Mark::Absent, missed: false };
    let twice = mark(&w, 0, Mark::Absent, false);
    let missed = mark(&w, 0, Mark::Present, true);
    let other_lessons = w.item(2);
    let whole = vec![w.item(0), w.item(1)];
    let cases: Vec<(Result<_, RecordError>, &str)> = vec![
        (w.log(21, 0, Outcome::Delivered, |_| {}), "on"),
        (w.log(1, 0, Outcome::Delivered, |r| r.on = Date::from_ymd_opt(2025, 8, 31).unwrap()), "on"),
        (w.log(1, 0, Outcome::Delivered, |r| r.slot = 0), "slot"),
        (w.log(1, 0, Outcome::Delivered, |r| r.lesson = LessonId::from_uuid(Uuid::max())), "lesson_id"),
        (w.log(1, 0, Outcome::Delivered, |r| r.items = Some(vec![other_lessons])), "items[0]"),
        (w.log(1, 0, Outcome::Part, |_| {}), "items"),
        (w.log(1, 0, Outcome::Part, |r| r.items = Some(whole)), "items"),
        (w.log(1, 0, Outcome::Delivered, |r| r.register = vec![stranger]), "register[0].pupil_id"),
        (w.log(1, 0, Outcome::Delivered, |r| r.register = vec![twice, twice]), "register[1].pupil_id"),
        (w.log(1, 0, Outcome::Delivered, |r| r.register = vec![missed]), "register[0].missed"),
    ];
    for (result, field) in cases {
        assert_eq!(result.unwrap_err().field(), field);
    }
    assert!(w.records.is_empty());
}

#[test]
fn a_day_and_slot_is_recorded_once() {
    let mut w = World::new();
    w.log(1, 0, Outcome::Delivered, |_| {}).unwrap();
    let first = w.records[0].id;
    assert_eq!(w.log(1, 1, Outcome::Delivered, |_| {}), Err(RecordError::AlreadyRecorded(first)));
    w.log(1, 1, Outcome::Delivered, |r| r.slot = 2).unwrap();
}

#[test]
fn odd_days_are_kept_with_a_warning() {
    let mut w = World::new();
    assert_eq!(w.log(6, 0, Outcome::Delivered, |_| {}), Ok(vec![Warning::OnWeekend]));
    w.calendar.years[0].half_terms[0].ends_on = day(5);
    w.members.clear();
    assert_eq!(w.log(8, 1, Outcome::Delivered, |_| {}), Ok(vec![Warning::InHoliday, Warning::NobodyInGroup]));
}

#[test]
fn two_lines_of_one_child_say_that_it_was_there_and_taught() {
    let line = |mark, missed| RegisterEntry { pupil_id: PupilId::from_uuid(Uuid::nil()), mark, missed };
    let (present, absent) = (line(Mark::Present, false), line(Mark::Absent, false));
    let (late, too_late) = (line(Mark::Late, false), line(Mark::Late, true));
    for (one, other, counts) in [
        (absent, present, present),
        (present, absent, present),
        (absent, too_late, too_late),
        (too_late, late, late),
        (present, late, present),
        (late, present, late),
    ] {
        assert_eq!(one.or(other), counts);
    }
}
