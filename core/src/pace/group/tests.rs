//! Days of which half is closed, the day itself, and lessons of a version that was drafted anew.

use std::sync::Arc;

use uuid::Uuid;

use super::*;
use crate::{
    id::LessonId,
    lesson::Outcome,
    pace::fixture::{content, day, record, rule},
    sequence::Lesson,
};

fn facts<'a>(
    on: Date,
    content: &'a Content,
    contents: &'a BTreeMap<VersionId, Arc<Content>>,
    records: &'a [Record],
    due: &'a [Due],
) -> GroupFacts<'a> {
    let from = due[0].on;
    GroupFacts {
        on,
        content,
        contents,
        records,
        carried: None,
        plan: Some(Plan::new(from, 2, 1).unwrap()),
        first_day: Some(from),
        year_from: Some(from),
        due,
    }
}

fn pinned(content: &Content) -> BTreeMap<VersionId, Arc<Content>> {
    BTreeMap::from([(VersionId::from_uuid(Uuid::nil()), Arc::new(content.clone()))])
}

/// Lessons ahead and days counted on a day, of records of the first lessons one after the other.
fn standing_on(on: Date, held: &[(Date, u8)], due: &[Due]) -> (i32, u32) {
    let content = content(&[&[1; 24]]);
    let contents = pinned(&content);
    let records: Vec<Record> = held
        .iter()
        .enumerate()
        .map(|(n, (on, slot))| Record {
            slot: *slot,
            ..record(&content, n, &on.to_string(), Outcome::Delivered, None)
        })
        .collect();
    let rule = rule();
    let told = GroupPace::of(&facts(on, &content, &contents, &records, due), &rule).standing;
    (told.lessons_ahead, told.days)
}

#[test]
fn a_school_year_counts_a_plan_anew_and_days_without_a_record_go_on() {
    // Last recorded on the first of three days of November; the year turns before 1 and 2 September.
    let days = ["2025-11-17", "2025-11-18", "2025-11-19", "2026-09-01", "2026-09-02"].map(day);
    let due = days.map(|on| Due::whole(on, 1));
    let content = content(&[&[1; 24]]);
    let contents = pinned(&content);
    let records = [record(&content, 0, "2025-11-17", Outcome::Delivered, None)];
    let rule = rule();
    // Two lessons a day planned since November: of the two days passed in November three are wanting, of none in
    // September none; and on 2 September the two of the first.
    let told = |on: &str| {
        let year_from = Some(day(if on < "2026-09-01" { "2025-09-01" } else { "2026-09-01" }));
        let facts = GroupFacts { year_from, ..facts(day(on), &content, &contents, &records, &due) };
        let pace = GroupPace::of(&facts, &rule);
        (pace.standing.since.to_string(), pace.standing.lessons_ahead, pace.days_without_record)
    };
    assert_eq!(told("2025-11-19"), ("2025-11-17".to_owned(), -3, 1));
    assert_eq!(told("2026-09-01"), ("2026-09-01".to_owned(), 0, 2));
    assert_eq!(told("2026-09-02"), ("2026-09-01".to_owned(), -2, 3));
}

/// Two lessons a day are planned: of the two days passed in November four, of none on 1 September none, and on the 2nd
/// the two of the first; with the one taught before.
#[test]
fn the_sequence_expects_what_was_done_before_and_what_is_planned_since() {
    let days = ["2025-11-17", "2025-11-18", "2025-11-19", "2026-09-01", "2026-09-02"].map(day);
    let due = days.map(|on| Due::whole(on, 1));
    let content = content(&[&[1; 24]]);
    let contents = pinned(&content);
    let records = [record(&content, 3, "2025-11-17", Outcome::Delivered, None)];
    let rule = rule();
    let expected = |on: &str| {
        let year_from = Some(day(if on < "2026-09-01" { "2025-09-01" } else { "2026-09-01" }));
        let facts = GroupFacts { year_from, ..facts(day(on), &content, &contents, &records, &due) };
        let lessons = crate::pace::lessons_expected(&facts, &GroupPace::of(&facts, &rule).standing);
        lessons.iter().map(|lesson| lesson.title.to_string()).collect::<Vec<_>>()
    };
    assert_eq!(expected("2025-11-19"), ["1.1", "1.2", "1.3", "1.4"]);
    // The fourth was taught out of its order, in the year before.
    assert_eq!(expected("2026-09-01"), ["1.4"]);
    assert_eq!(expected("2026-09-02"), ["1.1", "1.2", "1.4"]);
}

#[test]
fn what_is_still_due_today_is_still_to_come() {
    let (monday, tuesday) = (day("2026-11-16"), day("2026-11-17"));
    let due = [Due::whole(monday, 2), Due::whole(tuesday, 2)];
    let monday_held = [(monday, 1), (monday, 2)];
    assert_eq!(standing_on(tuesday, &monday_held, &due), (0, 1));
    // After the morning's lesson of Tuesday, and after both.
    let morning = [(monday, 1), (monday, 2), (tuesday, 1)];
    assert_eq!(standing_on(tuesday, &morning, &due), (0, 2));
    let both = [(monday, 1), (monday, 2), (tuesday, 1), (tuesday, 2)];
    assert_eq!(standing_on(tuesday, &both, &due), (0, 2));
    // Once the day is over, what was due was due.
    let wednesday = [Due::whole(monday, 2), Due::whole(tuesday, 2), Due::whole(day("2026-11-18"), 2)];
    assert_eq!(standing_on(day("2026-11-18"), &morning, &wednesday), (-1, 2));
    let content = content(&[&[1; 24]]);
    let contents = pinned(&content);
    let records = [record(&content, 0, "2026-11-16", Outcome::Delivered, None)];
    let rule = rule();
    let told = GroupPace::of(&facts(monday, &content, &contents, &records, &due), &rule);
    assert_eq!((told.pace.days, told.pace.sessions, told.pace.lessons), (1, 1, 1));
    assert_eq!(told.way.days, [Due { lessons: 1, ..due[0] }, due[1]]);
}

#[test]
fn closing_days_afterwards_and_teaching_again_change_nothing_of_how_often_sessions_come() {
    let content = content(&[&[1; 24]]);
    let contents = pinned(&content);
    let days: Vec<Date> = (0..8).map(|n| day("2026-11-16") + Duration::days(n)).collect();
    let due: Vec<Due> = days.iter().map(|on| Due::whole(*on, 1)).collect();
    let mut records: Vec<Record> = days[..6]
        .iter()
        .enumerate()
        .map(|(n, on)| record(&content, n, &on.to_string(), Outcome::Delivered, None))
        .collect();
    let rule = rule();
    let told = |records: &[Record], due: &[Due]| {
        let told = GroupPace::of(&facts(days[6], &content, &contents, records, due), &rule);
        (told.pace, told.way.rate)
    };
    let pace = Pace { days: 6, sessions: 6, lessons: 6 };
    assert_eq!(told(&records, &due), (pace, (6, 6)));
    // Two of the days are closed by now: their lessons were taught, and sessions come as often as before.
    let fewer: Vec<Due> = due.iter().filter(|day| ![days[2], days[3]].contains(&day.on)).copied().collect();
    assert_eq!(told(&records, &fewer), (Pace { days: 4, ..pace }, (4, 4)));
    // Taught again beside what was due, or delivered once more: nothing moves.
    let again = record(&content, 0, &days[4].to_string(), Outcome::Retaught, None);
    let twice = record(&content, 1, &days[5].to_string(), Outcome::Delivered, None);
    records.extend([again, twice].map(|record| Record { slot: 2, ..record }));
    assert_eq!(told(&records, &due), (pace, (6, 6)));
    // In place of what was due it took a session.
    records.remove(4);
    assert_eq!(told(&records, &due), (Pace { lessons: 5, ..pace }, (6, 6)));
}

#[test]
fn a_snow_day_that_was_recorded_and_then_closed_moves_no_forecast() {
    let content = content(&[&[1; 24]]);
    let contents = pinned(&content);
    let days: Vec<Date> = (0..5).map(|n| day("2026-11-16") + Duration::days(n)).collect();
    // Wednesday is closed by now.
    let open = days.iter().filter(|on| **on != days[2]);
    let due: Vec<Due> = open.map(|on| Due::whole(*on, 1)).collect();
    let taught = [(0, 0), (1, 1), (2, 3)];
    let mut records: Vec<Record> = taught
        .iter()
        .map(|(lesson, on)| record(&content, *lesson, &days[*on].to_string(), Outcome::Delivered, None))
        .collect();
    let rule = rule();
    let told = |records: &[Record]| {
        let told = GroupPace::of(&facts(days[4], &content, &contents, records, &due), &rule);
        (told.pace, told.way.rate)
    };
    let before = told(&records);
    assert_eq!(before, (Pace { days: 3, sessions: 3, lessons: 3 }, (3, 3)));
    records.push(record(&content, 2, &days[2].to_string(), Outcome::NotDelivered, None));
    records.sort_by_key(|record| record.on);
    assert_eq!(told(&records), before);
}

#[test]
fn teaching_again_as_an_extra_takes_the_place_of_nothing_due_today() {
    let (monday, tuesday) = (day("2026-11-16"), day("2026-11-17"));
    let content = content(&[&[1; 24]]);
    let contents = pinned(&content);
    let rule = rule();
    let mut records = vec![record(&content, 0, "2026-11-16", Outcome::Delivered, None)];
    let told = |records: &[Record], due: &[Due]| {
        let facts = facts(tuesday, &content, &contents, records, due);
        let one_a_day = Some(Plan::new(monday, 1, 1).unwrap());
        let told = GroupPace::of(&GroupFacts { plan: one_a_day, ..facts }, &rule);
        (told.standing.lessons_ahead, told.way.days.len())
    };
    let due = [Due::whole(monday, 1), Due::whole(tuesday, 1)];
    assert_eq!(told(&records, &due), (0, 1));
    let again = record(&content, 0, "2026-11-17", Outcome::Retaught, None);
    records.push(Record { slot: 2, ..again });
    assert_eq!(told(&records, &due), (0, 1));
    // Of a day whose morning is closed the afternoon's lesson keeps its number.
    let afternoon = [due[0], Due { lessons: 1, of: 2, ..due[1] }];
    assert_eq!(told(&records, &afternoon).1, 0);
}

/// A content in which the first lesson, of two items, is two lessons of one item each; the first keeps its id, or
/// both are drafted anew.
fn split(content: &Content, keeps_id: bool) -> Content {
    let mut after = content.clone();
    let lessons = &mut after.steps[0].lessons;
    let whole: Lesson = lessons.remove(0);
    for (n, item) in whole.items.iter().enumerate().rev() {
        let id =
            if n == 0 && keeps_id { whole.id } else { LessonId::from_uuid(Uuid::from_u128(900 + n as u128)) };
        lessons.insert(0, Lesson { id, items: vec![item.clone()], ..whole.clone() });
    }
    after
}

#[test]
fn a_version_that_splits_a_begun_lesson_leaves_nobody_behind() {
    use Outcome::{Delivered, Part};
    let before = content(&[&[2, 1, 1]]);
    let (monday, tuesday) = (day("2026-11-16"), day("2026-11-17"));
    let due = [Due::whole(monday, 1), Due::whole(tuesday, 1)];
    let one_a_day = Some(Plan::new(monday, 1, 1).unwrap());
    let contents = pinned(&before);
    let rule = rule();
    let told = |content: &Content, records: &[Record]| {
        let facts = facts(tuesday, content, &contents, records, &due);
        let told = GroupPace::of(&GroupFacts { plan: one_a_day, ..facts }, &rule);
        (told.standing.finished, told.standing.lessons_ahead, told.way.lessons_left())
    };
    for keeps_id in [true, false] {
        let after = split(&before, keeps_id);
        let begun = record(&before, 0, "2026-11-16", Part, Some(0));
        assert_eq!(told(&after, std::slice::from_ref(&begun)), (1, 0, 3), "{keeps_id}");
        let rest = record(&after, 1, "2026-11-17", Delivered, None);
        assert_eq!(told(&after, &[begun, rest]), (2, 0, 2), "{keeps_id}");
        // What was taught whole was one lesson, and stays one.
        let whole = record(&before, 0, "2026-11-16", Delivered, None);
        assert_eq!(told(&after, &[whole]), (1, 0, 2), "{keeps_id}");
    }
}

mod properties {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        /// Whatever halves of days are closed, a group that was given every lesson due so far is where the plan has
        /// it, at every moment of every day; and a half closed puts nobody back.
        #[test]
        fn halves_of_days_put_nobody_behind(closed in proptest::collection::vec(0..4u8, 1..12), more in 0..12usize) {
            let days = (0..).map(|n| day("2026-11-02") + chrono::Days::new(n));
            // 1 and 2 close a half, 3 the day.
            let due: Vec<Due> = days
                .zip(&closed)
                .filter(|(_, closed)| **closed < 3)
                .map(|(on, closed)| Due { on, lessons: if *closed == 0 { 2 } else { 1 }, of: 2 })
                .collect();
            prop_assume!(!due.is_empty());
            let mut held = Vec::new();
            for day in &due {
                for slot in 1..=day.lessons {
                    held.push((day.on, u8::try_from(slot).unwrap()));
                    prop_assert_eq!(standing_on(day.on, &held, &due).0, 0);
                }
            }
            let mut fewer = due.clone();
            let at = more % due.len();
            fewer[at].lessons = 1;
            let last = due[due.len() - 1].on;
            prop_assert!(standing_on(last, &held, &fewer).0 >= standing_on(last, &held, &due).0);
        }
    }
}
