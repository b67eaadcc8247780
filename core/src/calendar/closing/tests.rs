//! Years worked by hand, half days, and days that are closed for some.

use uuid::Uuid;

use super::*;
use crate::{
    calendar::{Attendance, HalfTerm, OwnCalendar, Whom, Year},
    id::HalfTermId,
    roster::Weekdays,
    text::Title,
    time::Span,
};

pub(super) fn day(s: &str) -> Date {
    s.parse().unwrap()
}

pub(super) fn plan(
    from: &str,
    until: &str,
    kind: ClosureKind,
    part: DayPart,
    whom: ClosedFor,
) -> ClosurePlan {
    ClosurePlan { from: day(from), until: day(until), kind, part, whom }
}

fn class(n: u128) -> ClassId {
    ClassId::from_uuid(Uuid::from_u128(n))
}

pub(super) fn classes(ids: &[u128]) -> ClosedFor {
    ClosedFor::Classes(ids.iter().map(|n| class(*n)).collect())
}

pub(super) fn year_groups(codes: &[&str]) -> ClosedFor {
    ClosedFor::YearGroups(codes.iter().map(|code| (*code).to_owned()).collect())
}

/// An English year of 195 days with staff, five of them without pupils. Weekdays by half term, counted on
/// a paper calendar: eight weeks, 40; seven, 35; six, 30; five and four days to Maundy Thursday, 29; five
/// less the holiday of 4 May, 24; seven and two days, 37.
pub(super) fn year() -> Calendar {
    let terms = [
        ("Autumn 1", "2025-09-01", "2025-10-24"),
        ("Autumn 2", "2025-11-03", "2025-12-19"),
        ("Spring 1", "2026-01-05", "2026-02-13"),
        ("Spring 2", "2026-02-23", "2026-04-02"),
        ("Summer 1", "2026-04-20", "2026-05-22"),
        ("Summer 2", "2026-06-01", "2026-07-21"),
    ];
    let term = |(n, (name, from, until)): (u128, &(&str, &str, &str))| HalfTerm {
        id: HalfTermId::from_uuid(Uuid::from_u128(n)),
        name: Title::new(name).unwrap(),
        starts_on: day(from),
        ends_on: day(until),
    };
    let half_terms = (1..).zip(&terms).map(term).collect();
    let years =
        vec![Year { year: 2025, starts_on: day("2025-09-01"), ends_on: day("2026-08-31"), half_terms }];
    let mut calendar = Calendar { years, closures: vec![] };
    for (from, until, kind) in [
        ("2025-09-01", "2025-09-02", ClosureKind::Inset),
        ("2026-01-05", "2026-01-05", ClosureKind::Inset),
        ("2026-04-20", "2026-04-20", ClosureKind::Inset),
        ("2026-05-04", "2026-05-04", ClosureKind::Closure),
        ("2026-07-21", "2026-07-21", ClosureKind::Inset),
    ] {
        close(&mut calendar, plan(from, until, kind, DayPart::Whole, ClosedFor::School));
    }
    calendar
}

fn close(calendar: &mut Calendar, plan: ClosurePlan) {
    check_closure(calendar, &plan).unwrap();
    *calendar = calendar.with_closure(&plan);
}

pub(super) fn pupil(class_id: u128, year_group: &str) -> Attendance {
    let always = Span { from: day("2025-09-01"), until: None };
    Attendance {
        days: vec![always],
        weekdays: vec![],
        classes: vec![(class(class_id), always)],
        year_groups: vec![(2025, year_group.to_owned())],
    }
}

pub(super) fn of(pupils: &[Attendance]) -> Whom {
    let ids = (1..).map(|n| PupilId::from_uuid(Uuid::from_u128(n)));
    Whom { pupils: ids.zip(pupils.iter().cloned()).collect(), ..Whom::default() }
}

/// Days and half days of the year that are taught.
fn taught(calendar: &Calendar, whom: &Whom) -> (usize, usize) {
    let own = OwnCalendar { calendar: calendar.clone(), whom: whom.clone() };
    let days = own.teaching_days(day("2025-08-01"), day("2026-09-30"));
    let halves = days.iter().map(|on| own.day(*on).taught().count()).sum();
    (days.len(), halves)
}

#[test]
fn a_year_of_190_days_and_one_of_189() {
    let mut calendar = year();
    assert_eq!(taught(&calendar, &Whom::default()), (190, 380));
    let by_term = ["2025-10-24", "2025-12-19", "2026-02-13", "2026-04-02", "2026-05-22", "2026-07-21"];
    let mut counted = Vec::new();
    let mut from = day("2025-09-01");
    for until in by_term.map(day) {
        counted.push(calendar.teaching_days(from, until).len());
        from = until.succ_opt().unwrap();
    }
    // Less two, none, one, none, one and one of staff only.
    assert_eq!(counted, [38, 35, 29, 29, 23, 36]);
    // A polling day in June makes it 189.
    close(
        &mut calendar,
        plan("2026-06-25", "2026-06-25", ClosureKind::Closure, DayPart::Whole, ClosedFor::School),
    );
    assert_eq!(taught(&calendar, &Whom::default()), (189, 378));
}

#[test]
fn a_half_day_is_a_teaching_day_of_one_half() {
    let mut calendar = year();
    let half = |on: &str, part| plan(on, on, ClosureKind::Closure, part, ClosedFor::School);
    close(&mut calendar, half("2025-12-19", DayPart::Afternoon));
    assert_eq!(taught(&calendar, &Whom::default()), (190, 379));
    let last = calendar.day_for(day("2025-12-19"), &Whom::default());
    assert_eq!((last.morning, last.afternoon), (DayKind::Teaching, DayKind::Closure));
    assert_eq!(last.taught().collect::<Vec<_>>(), [Half::Morning]);
    // The other half as well, by an action of its own.
    close(&mut calendar, half("2025-12-19", DayPart::Morning));
    assert_eq!(taught(&calendar, &Whom::default()), (189, 378));
    assert_eq!(calendar.day(day("2025-12-19")), DayKind::Closure);
}

#[test]
fn the_clocks_change_no_day() {
    let calendar = year();
    // 26 October 2025 is in the autumn break, 29 March 2026 the Sunday before the last four days.
    assert_eq!(calendar.teaching_days(day("2025-10-20"), day("2025-11-07")).len(), 10);
    assert_eq!(calendar.teaching_days(day("2026-03-23"), day("2026-04-02")).len(), 9);
    assert_eq!(calendar.day(day("2026-03-29")), DayKind::Weekend);
}

#[test]
fn a_trip_of_year_1_leaves_reception_teaching() {
    let mut calendar = year();
    close(
        &mut calendar,
        plan("2026-06-24", "2026-06-25", ClosureKind::Trip, DayPart::Whole, year_groups(&["year_1"])),
    );
    let (year_1, reception) = (of(&[pupil(1, "year_1")]), of(&[pupil(2, "reception")]));
    assert_eq!(taught(&calendar, &year_1), (188, 376));
    assert_eq!(taught(&calendar, &reception), (190, 380));
    assert_eq!(taught(&calendar, &Whom::default()), (190, 380));
    assert_eq!(calendar.day_for(day("2026-06-24"), &year_1).kind(), DayKind::Trip);
    // A mixed-age class, and a group of pupils of two classes, go on with the reception pupils.
    let mixed = of(&[pupil(1, "year_1"), pupil(1, "reception")]);
    assert_eq!(taught(&calendar, &mixed), (190, 380));
    // Whoever asks about a year group without pupils gets what is said of the year group.
    let nobody = Whom { year_group: Some("year_1".to_owned()), ..Whom::default() };
    assert_eq!(taught(&calendar, &nobody), (188, 376));
    // Next year they are in Year 2.
    let mut older = pupil(1, "reception");
    older.year_groups.push((2026, "year_1".to_owned()));
    assert_eq!(taught(&calendar, &of(&[older])), (190, 380));
}

#[test]
fn a_group_is_closed_once_each_of_its_pupils_is() {
    let mut calendar = year();
    let on = |part, whom| plan("2026-06-24", "2026-06-24", ClosureKind::Trip, part, whom);
    close(&mut calendar, on(DayPart::Whole, classes(&[1])));
    close(&mut calendar, on(DayPart::Morning, year_groups(&["reception"])));
    let group = of(&[pupil(1, "year_1"), pupil(2, "reception")]);
    let halves = calendar.day_for(day("2026-06-24"), &group);
    assert_eq!((halves.morning, halves.afternoon), (DayKind::Trip, DayKind::Teaching));
    assert_eq!(taught(&calendar, &group), (190, 379));
    // The reception pupil comes on Mondays and Tuesdays; 24 June 2026 is a Wednesday.
    let part_week =
        Attendance { weekdays: vec![(day("2025-09-01"), Weekdays::from_bits(3))], ..pupil(2, "reception") };
    assert_eq!(taught(&calendar, &of(&[pupil(1, "year_1"), part_week])), (189, 378));
    // A pupil who had left the group by then does not keep it teaching.
    let until = Some(day("2026-06-23"));
    let left = Attendance { days: vec![Span { from: day("2025-09-01"), until }], ..pupil(2, "reception") };
    assert_eq!(taught(&calendar, &of(&[pupil(1, "year_1"), left])), (189, 378));
}

#[test]
fn a_day_on_which_none_of_the_pupils_comes_is_not_due() {
    let mut calendar = year();
    // Mondays to Wednesdays, from 1 September on; a member until Friday 26 June.
    let until = Some(day("2026-06-26"));
    let part_week = Attendance {
        days: vec![Span { from: day("2025-09-01"), until }],
        weekdays: vec![(day("2025-09-01"), Weekdays::from_bits(7))],
        ..pupil(1, "year_1")
    };
    let group = of(&[part_week]);
    let own = OwnCalendar { calendar: calendar.clone(), whom: group.clone() };
    let week = own.teaching_days(day("2026-06-15"), day("2026-06-21"));
    assert_eq!(week, ["2026-06-15", "2026-06-16", "2026-06-17"].map(day));
    let kind = |calendar: &Calendar, on: &str| calendar.day_for(day(on), &group).kind();
    assert_eq!(kind(&calendar, "2026-06-18"), DayKind::NotDue);
    assert_eq!(kind(&calendar, "2026-06-20"), DayKind::Weekend);
    assert_eq!(kind(&calendar, "2026-05-28"), DayKind::Holiday);
    // What closes the school closes it for them too.
    close(
        &mut calendar,
        plan("2026-06-18", "2026-06-18", ClosureKind::Closure, DayPart::Morning, ClosedFor::School),
    );
    let halves = calendar.day_for(day("2026-06-18"), &group);
    assert_eq!((halves.morning, halves.afternoon), (DayKind::Closure, DayKind::NotDue));
    // Without pupils it is the school's day.
    assert_eq!(kind(&calendar, "2026-07-02"), DayKind::Teaching);
    assert_eq!((own.has_pupils(day("2026-06-26")), own.has_pupils(day("2026-06-29"))), (true, false));
}

#[test]
fn what_closes_nothing_new_is_refused_by_name() {
    let mut calendar = year();
    let whole = |from, until, whom| plan(from, until, ClosureKind::Closure, DayPart::Whole, whom);
    let said = |calendar: &Calendar, plan: &ClosurePlan| {
        let error = check_closure(calendar, plan).unwrap_err();
        (error.field(), error.to_string())
    };
    assert_eq!(
        said(&calendar, &whole("2025-09-02", "2025-09-02", ClosedFor::School)),
        ("from", "2025-09-02 is closed already: inset of 2025-09-01 to 2025-09-02".to_owned())
    );
    // What closed the school closed each class; a weekend, a holiday, another year hold nothing to close.
    for (from, until, whom) in [
        ("2026-05-04", "2026-05-04", classes(&[1])),
        ("2026-05-04", "2026-05-04", year_groups(&["reception"])),
    ] {
        assert_eq!(
            said(&calendar, &whole(from, until, whom)).1,
            "2026-05-04 is closed already: closure of 2026-05-04"
        );
    }
    for (from, until) in
        [("2025-09-06", "2025-09-07"), ("2025-10-25", "2025-11-02"), ("2026-09-01", "2026-09-30")]
    {
        let nothing = ("from", "no lessons are due for any of them then".to_owned());
        assert_eq!(said(&calendar, &whole(from, until, ClosedFor::School)), nothing);
    }
    assert_eq!(
        said(&calendar, &whole("2025-10-02", "2025-10-01", ClosedFor::School)),
        ("until", "is before the first day".to_owned())
    );
    assert_eq!(said(&calendar, &whole("2025-10-01", "2026-10-17", ClosedFor::School)).0, "until");
    assert_eq!(said(&calendar, &whole("2025-10-01", "2025-10-01", classes(&[]))).0, "class_ids");
    let none = ClosedFor::YearGroups(BTreeSet::new());
    assert_eq!(said(&calendar, &whole("2025-10-01", "2025-10-01", none)).0, "year_groups");
    // A morning that was closed does not stand in the way of the rest of the day, nor one class of two.
    let morning = |whom| plan("2025-10-01", "2025-10-01", ClosureKind::Closure, DayPart::Morning, whom);
    close(&mut calendar, morning(ClosedFor::School));
    assert_eq!(
        said(&calendar, &morning(classes(&[1]))).1,
        "2025-10-01 is closed already: closure of 2025-10-01"
    );
    close(&mut calendar, whole("2025-10-01", "2025-10-01", classes(&[1])));
    close(&mut calendar, whole("2025-10-01", "2025-10-01", classes(&[1, 2])));
    // Both halves went one after the other: nothing is left, though no action closed all of it.
    let halves = [DayPart::Morning, DayPart::Afternoon];
    for part in halves {
        close(&mut calendar, plan("2025-10-08", "2025-10-08", ClosureKind::Closure, part, ClosedFor::School));
    }
    assert_eq!(
        said(&calendar, &whole("2025-10-08", "2025-10-08", ClosedFor::School)).1,
        "2025-10-08 is closed already: closure of 2025-10-08"
    );
}

#[test]
fn days_closed_already_stay_what_they_are_and_are_told() {
    let calendar = year();
    let snow = |from, until, whom| plan(from, until, ClosureKind::Closure, DayPart::Whole, whom);
    // Friday 1 May to Tuesday 5 May 2026: a weekend, the holiday of the 4th, and two days to close.
    let week = snow("2026-05-01", "2026-05-05", ClosedFor::School);
    assert_eq!(check_closure(&calendar, &week), Ok(vec![day("2026-05-04")]));
    // For a class as for the school; and where nothing was closed nothing is told.
    let one = snow("2026-05-01", "2026-05-05", classes(&[1]));
    assert_eq!(check_closure(&calendar, &one), Ok(vec![day("2026-05-04")]));
    assert_eq!(check_closure(&calendar, &snow("2026-05-05", "2026-05-06", ClosedFor::School)), Ok(vec![]));
    let after = calendar.with_closure(&week);
    assert_eq!(after.day(day("2026-05-04")), DayKind::Closure);
    assert_eq!(taught(&after, &Whom::default()).0, 188);
}

#[test]
fn a_school_year_keeps_a_teaching_day() {
    let mut calendar = year();
    let shut = |from, until, whom| plan(from, until, ClosureKind::Closure, DayPart::Whole, whom);
    let all = shut("2025-09-01", "2026-08-31", ClosedFor::School);
    let error = check_closure(&calendar, &all).unwrap_err();
    assert_eq!(
        (error.field(), error.to_string().as_str()),
        ("from", "the school year 2025 would have no teaching day")
    );
    // All but the last day of staff and the one before; then that one too, in two steps.
    close(&mut calendar, shut("2025-09-01", "2026-07-19", ClosedFor::School));
    assert_eq!(taught(&calendar, &Whom::default()), (1, 2));
    let last = |part| plan("2026-07-20", "2026-07-20", ClosureKind::Closure, part, ClosedFor::School);
    assert_eq!(check_closure(&calendar, &last(DayPart::Whole)), Err(ClosureError::WholeYear(2025)));
    close(&mut calendar, last(DayPart::Morning));
    assert_eq!(check_closure(&calendar, &last(DayPart::Afternoon)), Err(ClosureError::WholeYear(2025)));
    // That another year is closed, all of it, lets no further one be.
    let mut two = year();
    let later =
        Year { year: 2026, starts_on: day("2026-09-01"), ends_on: day("2027-08-31"), ..two.years[0].clone() };
    let term =
        HalfTerm { starts_on: day("2026-09-07"), ends_on: day("2026-10-23"), ..later.half_terms[0].clone() };
    two.years.push(Year { half_terms: vec![term], ..later });
    two = two.with_closure(&shut("2025-09-01", "2026-08-31", ClosedFor::School));
    let next = shut("2026-09-01", "2026-12-31", ClosedFor::School);
    assert_eq!(check_closure(&two, &next), Err(ClosureError::WholeYear(2026)));
    // A year group or a class may have none.
    close(&mut calendar, shut("2025-09-01", "2026-08-31", year_groups(&["nursery"])));
}
