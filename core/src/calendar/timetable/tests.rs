use uuid::Uuid;

use super::*;
use crate::{
    calendar::{
        Attendance, Calendar, ClosedFor, Closure, ClosureKind, ClosurePlan, DayPart, HalfTerm, Whom, Year,
    },
    id::{ClosureId, HalfTermId},
    roster::Weekdays,
    text::Title,
    time::Span,
};

fn day(s: &str) -> Date {
    s.parse().unwrap()
}

/// Autumn 2025 to 31 October and spring 2026 from 23 February to 2 April, over both changes of the clocks,
/// with the afternoon of Friday 24 October and the day of 30 March closed.
fn calendar() -> OwnCalendar {
    let term = |n, name, from, until| HalfTerm {
        id: HalfTermId::from_uuid(Uuid::from_u128(n)),
        name: Title::new(name).unwrap(),
        starts_on: day(from),
        ends_on: day(until),
    };
    let closed = |on, part| Closure {
        id: ClosureId::from_uuid(Uuid::nil()),
        plan: ClosurePlan {
            from: day(on),
            until: day(on),
            kind: ClosureKind::Closure,
            part,
            whom: ClosedFor::School,
        },
    };
    let half_terms = vec![
        term(1, "Autumn 1", "2025-09-01", "2025-10-31"),
        term(2, "Spring 2", "2026-02-23", "2026-04-02"),
    ];
    let year = Year { year: 2025, starts_on: day("2025-09-01"), ends_on: day("2026-08-31"), half_terms };
    let closures = vec![closed("2025-10-24", DayPart::Afternoon), closed("2026-03-30", DayPart::Whole)];
    let somebody =
        Attendance { days: vec![Span { from: day("2025-09-01"), until: None }], ..Attendance::default() };
    let whom = Whom { pupils: [(id(1), somebody)].into(), ..Whom::default() };
    OwnCalendar { calendar: Calendar { years: vec![year], closures }, whom }
}

fn id(n: u128) -> PupilId {
    PupilId::from_uuid(Uuid::from_u128(n))
}

fn halves() -> SchoolDayRule {
    crate::rules::pack("england").unwrap().school_day
}

fn slot(weekday: Weekday, part: Half, starts_at: Option<&str>, minutes: Option<u16>) -> Slot {
    Slot { weekday, part, starts_at: starts_at.map(|time| time.parse().unwrap()), minutes }
}

fn line(from: &str, slots: Vec<Slot>) -> TimetableLine {
    TimetableLine { from: day(from), slots: Some(slots) }
}

fn every_weekday_at_nine() -> Vec<Slot> {
    let days = &Weekday::ALL[..5];
    days.iter().map(|weekday| slot(*weekday, Half::Morning, Some("09:00"), Some(30))).collect()
}

#[test]
fn times_of_day_read_and_print() {
    let read = |text: &str| text.parse::<LocalTime>().map(|time| time.to_string());
    assert_eq!(read("09:05"), Ok("09:05".to_owned()));
    assert_eq!(read("23:59"), Ok("23:59".to_owned()));
    for wrong in ["9:00", "24:00", "09:60", "0900", "+9:00", "09:00:00", ""] {
        assert_eq!(read(wrong), Err(NoTime), "{wrong}");
    }
}

#[test]
fn one_lesson_a_weekday_over_both_changes_of_the_clocks() {
    let lines = [line("2025-09-01", every_weekday_at_nine())];
    let due = |from, to| {
        let due = sessions(&calendar(), &lines, day(from), day(to));
        assert!(due.iter().all(|one| one.slot == 1 && one.starts_at.unwrap().to_string() == "09:00"));
        due.into_iter().map(|one| one.on.to_string()).collect::<Vec<_>>()
    };
    let october = ["20", "21", "22", "23", "24", "27", "28", "29", "30", "31"];
    assert_eq!(due("2025-10-20", "2025-10-31"), october.map(|d| format!("2025-10-{d}")));
    // Of the nine weekdays to 2 April one is closed.
    let march = ["03-23", "03-24", "03-25", "03-26", "03-27", "03-31", "04-01", "04-02"];
    assert_eq!(due("2026-03-23", "2026-04-02"), march.map(|d| format!("2026-{d}")));
}

#[test]
fn the_line_that_counts_on_the_day_and_the_halves_taught_decide() {
    let (thursday, friday) = (Weekday::Thursday, Weekday::Friday);
    let slots = vec![
        slot(thursday, Half::Afternoon, None, None),
        slot(friday, Half::Morning, None, None),
        slot(friday, Half::Afternoon, Some("13:15"), Some(20)),
    ];
    let lines = [line("2025-10-20", slots), TimetableLine { from: day("2025-10-29"), slots: None }];
    let due: Vec<(String, u8, Half)> = sessions(&calendar(), &lines, day("2025-10-16"), day("2025-10-30"))
        .into_iter()
        .map(|one| (one.on.to_string(), one.slot, one.part))
        .collect();
    let expected = [
        // Nothing is said yet: one a day, Thursday and Friday.
        ("2025-10-16", 1, Half::Morning),
        ("2025-10-17", 1, Half::Morning),
        // Thursday afternoon, and Friday morning, whose afternoon is closed.
        ("2025-10-23", 1, Half::Afternoon),
        ("2025-10-24", 1, Half::Morning),
        // Every day again, from Wednesday.
        ("2025-10-29", 1, Half::Morning),
        ("2025-10-30", 1, Half::Morning),
    ];
    assert_eq!(due, expected.map(|(on, slot, part)| (on.to_owned(), slot, part)));
    // A day without anything said whose morning is closed has its lesson in the afternoon.
    let mut closed = calendar();
    closed.calendar.closures[0].plan.part = DayPart::Morning;
    let due = sessions(&closed, &[], day("2025-10-24"), day("2025-10-24"));
    assert_eq!((due[0].part, due.len()), (Half::Afternoon, 1));
}

#[test]
fn lessons_are_put_in_order_and_do_not_overlap() {
    let calendar = calendar();
    let monday = |part, starts_at, minutes| slot(Weekday::Monday, part, starts_at, minutes);
    let said = |slots| {
        let error = check_timetable(&calendar, line("2025-09-01", slots), &halves()).unwrap_err();
        (error.field(), error.to_string())
    };
    let second = monday(Half::Morning, Some("11:00"), Some(20));
    let first = monday(Half::Morning, Some("10:40"), Some(20));
    let both = line("2025-09-01", vec![second.clone(), first.clone()]);
    let checked = check_timetable(&calendar, both, &halves());
    assert_eq!(checked.unwrap().slots, Some(vec![first.clone(), second.clone()]));
    let overlap = |later: &str| {
        ("slots".to_owned(), format!("monday {later} begins before the lesson before it has ended"))
    };
    assert_eq!(said(vec![Slot { minutes: Some(21), ..first.clone() }, second.clone()]), overlap("11:00"));
    assert_eq!(said(vec![first.clone(), first.clone()]), overlap("10:40"));
    // The afternoon does not begin before the morning has ended.
    let late = monday(Half::Morning, Some("11:40"), Some(20));
    assert_eq!(said(vec![late, monday(Half::Afternoon, Some("11:30"), None)]), overlap("11:30"));
    // Nor is three o'clock in the morning half, or ten in the afternoon.
    let half = |n: usize, message: &str| (format!("slots[{n}].starts_at"), message.to_owned());
    let three = monday(Half::Morning, Some("15:00"), None);
    assert_eq!(said(vec![second, three]), half(1, "no morning lesson begins from 13:00 on"));
    let ten = monday(Half::Afternoon, Some("10:00"), None);
    assert_eq!(said(vec![ten]), half(0, "no afternoon lesson begins before 11:30"));
    assert!(said(vec![monday(Half::Morning, Some("13:00"), None)]).0 == "slots[0].starts_at");
    let minutes = |n: usize| {
        (format!("slots[{n}].minutes"), "a lesson takes at least a minute and ends on its day".to_owned())
    };
    assert_eq!(said(vec![first.clone(), monday(Half::Morning, None, Some(0))]), minutes(1));
    assert_eq!(said(vec![monday(Half::Afternoon, Some("23:50"), Some(11))]), minutes(0));
    assert_eq!(said(vec![]).1, "names no lesson; null is for one on every teaching day");
    assert_eq!(
        said(vec![monday(Half::Morning, None, None); 10]).1,
        "a day has slots 1 to 9: monday has more"
    );
    let outside = check_timetable(&calendar, line("2025-08-31", vec![first]), &halves()).unwrap_err();
    assert_eq!((outside.field().as_str(), outside), ("from", TimetableError::OutOfYear(day("2025-08-31"))));
}

#[test]
fn a_weekday_that_is_never_taught_is_told() {
    let of = |from, weekdays: &[Weekday]| {
        let slots = weekdays.iter().map(|weekday| slot(*weekday, Half::Morning, None, None)).collect();
        never_taught(&calendar(), &line(from, slots))
    };
    let (monday, friday, saturday) = (Weekday::Monday, Weekday::Friday, Weekday::Saturday);
    assert_eq!(of("2025-09-01", &[monday, saturday]), [saturday]);
    // From 28 March 2026 there is one Monday, which is closed, and no Friday before the holidays.
    assert_eq!(of("2026-03-28", &[monday, Weekday::Tuesday, friday]), [monday, friday]);
}

#[test]
fn none_is_due_on_a_day_without_pupils_or_on_which_none_of_them_comes() {
    let mut own = calendar();
    // One pupil from Tuesday 9 to Friday 12 September, who comes on Tuesdays and Fridays.
    let weekdays = Weekdays::from_bits(0b1_0010).unwrap();
    let part_week = Attendance {
        days: vec![Span { from: day("2025-09-09"), until: Some(day("2025-09-12")) }],
        weekdays: vec![(day("2025-09-01"), Some(weekdays))],
        ..Attendance::default()
    };
    own.whom.pupils = [(id(1), part_week)].into();
    let due = |lines: &[TimetableLine]| {
        let due = sessions(&own, lines, day("2025-09-01"), day("2025-09-30"));
        due.into_iter().map(|one| one.on.to_string()).collect::<Vec<_>>()
    };
    assert_eq!(due(&[]), ["2025-09-09", "2025-09-12"]);
    assert_eq!(due(&[line("2025-09-01", every_weekday_at_nine())]), ["2025-09-09", "2025-09-12"]);
}

#[test]
fn a_lesson_keeps_its_number_when_half_the_day_is_closed() {
    let mut own = calendar();
    // Friday 24 October 2025, now with its morning closed.
    own.calendar.closures[0].plan.part = DayPart::Morning;
    let both = vec![
        slot(Weekday::Friday, Half::Morning, None, None),
        slot(Weekday::Friday, Half::Afternoon, None, None),
    ];
    let lines = [line("2025-09-01", both)];
    let on = day("2025-10-24");
    let due: Vec<(u8, Half)> =
        sessions(&own, &lines, on, on).iter().map(|session| (session.slot, session.part)).collect();
    assert_eq!(due, [(2, Half::Afternoon)]);
    assert_eq!(
        [1, 2].map(|n| half_of_slot(&own, &lines, on, n)),
        [Some(Half::Morning), Some(Half::Afternoon)]
    );
}

#[test]
fn a_lesson_is_for_who_comes_to_its_half_and_for_who_is_named() {
    let mut own = calendar();
    let class = crate::id::ClassId::from_uuid(Uuid::from_u128(9));
    let always = Span { from: day("2025-09-01"), until: None };
    let away = Attendance { days: vec![always], classes: vec![(class, always)], ..Attendance::default() };
    own.whom.pupils.insert(id(2), away);
    // Monday 13 October 2025: the class is out in the morning.
    let trip = ClosurePlan {
        from: day("2025-10-13"),
        until: day("2025-10-13"),
        kind: ClosureKind::Trip,
        part: DayPart::Morning,
        whom: ClosedFor::Classes([class].into()),
    };
    own.calendar = own.calendar.with_closure(&trip);
    let lines = [line(
        "2025-09-01",
        vec![
            slot(Weekday::Monday, Half::Morning, None, None),
            slot(Weekday::Monday, Half::Afternoon, None, None),
        ],
    )];
    let on = day("2025-10-13");
    let of = |lines: &[TimetableLine], n: u8, named: &[PupilId]| {
        lesson_is_for(&own, lines, (on, n), &named.iter().copied().collect())
    };
    let (only, both) = ((vec![id(1)], vec![id(2)]), (vec![id(1), id(2)], vec![]));
    assert_eq!((of(&lines, 1, &[]), of(&lines, 2, &[])), (only.clone(), both.clone()));
    assert_eq!(of(&lines, 1, &[id(2), id(3)]), both);
    // Without a timetable the one lesson of the day is the morning's; another, whose half nobody knows, is for all.
    assert_eq!((of(&[], 1, &[]), of(&[], 2, &[])), (only, both));
    assert_eq!(half_of_slot(&own, &lines, on, 2), Some(Half::Afternoon));
    assert_eq!(half_of_slot(&own, &lines, on, 3), None);
}
