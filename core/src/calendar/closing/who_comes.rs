//! Who comes to what, and records that a closure would contradict.
#![cfg(test)]

use std::collections::BTreeSet;

use uuid::Uuid;

use super::{
    tests::{classes, day, of, plan, pupil, year, year_groups},
    *,
};
use crate::{
    calendar::{Attendance, Slot},
    roster::{Weekday, Weekdays},
};

/// Pupil 1 of class 1 in Year 1; pupil 2 of class 2 in Reception, on Mondays to Wednesdays.
fn mixed(calendar: &Calendar) -> OwnCalendar {
    let part_week =
        Attendance { weekdays: vec![(day("2025-09-01"), Weekdays::from_bits(7))], ..pupil(2, "reception") };
    OwnCalendar { calendar: calendar.clone(), whom: of(&[pupil(1, "year_1"), part_week]) }
}

#[test]
fn who_is_away_with_the_class_or_the_year_group_does_not_come() {
    let (one, two) = (PupilId::from_uuid(Uuid::from_u128(1)), PupilId::from_uuid(Uuid::from_u128(2)));
    // 24 June 2026 is a Wednesday.
    let on = |part, whom| plan("2026-06-24", "2026-06-24", ClosureKind::Trip, part, whom);
    let comes = |closures: &[ClosurePlan], pupil, half| {
        let mut own = mixed(&year());
        closures.iter().for_each(|plan| own.calendar = own.calendar.with_closure(plan));
        own.comes(pupil, day("2026-06-24"), half)
    };
    let (morning, afternoon) = (Some(Half::Morning), Some(Half::Afternoon));
    let trip = [on(DayPart::Whole, classes(&[1]))];
    assert_eq!([None, morning, afternoon].map(|half| comes(&trip, one, half)), [false; 3]);
    assert_eq!([None, morning, afternoon].map(|half| comes(&trip, two, half)), [true; 3]);
    // Half a day: not to that half, and to the day where the half is not known.
    let half = [on(DayPart::Morning, year_groups(&["year_1"]))];
    assert_eq!([None, morning, afternoon].map(|half_of| comes(&half, one, half_of)), [true, false, true]);
    // Two halves, closed apart, are the day.
    let both = [on(DayPart::Morning, year_groups(&["year_1"])), on(DayPart::Afternoon, classes(&[1]))];
    assert!(!comes(&both, one, None));
    // What closed the school says nothing of one pupil.
    assert!(comes(&[on(DayPart::Whole, ClosedFor::School)], one, morning));
    // A weekend inside a trip is nobody's trip; a Thursday is not the second pupil's.
    let long = plan("2026-06-22", "2026-06-28", ClosureKind::Trip, DayPart::Whole, classes(&[1]));
    let mut own = mixed(&year());
    own.calendar = own.calendar.with_closure(&long);
    assert!(own.comes(one, day("2026-06-27"), None) && !own.comes(one, day("2026-06-25"), None));
    assert!(!own.comes(two, day("2026-06-25"), None) && own.comes(two, day("2026-06-23"), None));
    assert_eq!(own.members(day("2026-06-25")), [one, two].into());
}

#[test]
fn a_half_to_which_nobody_comes_is_not_due() {
    let all: BTreeSet<Weekday> = Weekday::ALL[..5].iter().copied().collect();
    let mornings = Weekdays::of_halves(&all, &all, &[].into()).unwrap();
    let nursery = Attendance { weekdays: vec![(day("2025-09-01"), Some(mornings))], ..pupil(1, "nursery") };
    let own = |pupils: &[Attendance]| OwnCalendar { calendar: year(), whom: of(pupils) };
    let (on, one) = (day("2026-06-24"), PupilId::from_uuid(Uuid::from_u128(1)));
    let alone = own(std::slice::from_ref(&nursery));
    assert_eq!((alone.day(on).morning, alone.day(on).afternoon), (DayKind::Teaching, DayKind::NotDue));
    assert_eq!(
        [None, Some(Half::Morning), Some(Half::Afternoon)].map(|half| alone.comes(one, on, half)),
        [true, true, false]
    );
    // With somebody who comes all day both halves are; the child's lessons are the morning's all the same.
    let both = own(&[nursery.clone(), pupil(2, "nursery")]);
    assert_eq!(both.day(on).taught().count(), 2);
    assert!(!both.comes(one, on, Some(Half::Afternoon)));
    // A trip of the morning is all of such a child's day, and the day is the trip's.
    let trip = plan("2026-06-24", "2026-06-24", ClosureKind::Trip, DayPart::Morning, classes(&[1]));
    let away = OwnCalendar { calendar: year().with_closure(&trip), whom: of(&[nursery]) };
    assert!(!away.comes(one, on, None));
    assert_eq!(away.day(on).kind(), DayKind::Trip);
}

#[test]
fn a_record_with_somebody_who_would_be_away_is_told() {
    let (one, two) = (PupilId::from_uuid(Uuid::from_u128(1)), PupilId::from_uuid(Uuid::from_u128(2)));
    let now = mixed(&year());
    let on = day("2026-06-24");
    let recorded =
        |there: &[PupilId]| [RecordedLesson { on, slot: 1, there: there.iter().copied().collect() }];
    let told = |part, whom, there: &[PupilId]| {
        let plan = plan("2026-06-24", "2026-06-24", ClosureKind::Trip, part, whom);
        let after = OwnCalendar { calendar: now.calendar.with_closure(&plan), whom: now.whom.clone() };
        recorded_and_closed(&now, &after, &[], &recorded(there)).contains(&on)
    };
    assert!(told(DayPart::Whole, classes(&[1]), &[one, two]) && !told(DayPart::Whole, classes(&[1]), &[two]));
    assert!(told(DayPart::Whole, ClosedFor::School, &[]));
    // The lesson is the morning's: who is away in the afternoon was there.
    assert!(
        !told(DayPart::Afternoon, classes(&[1]), &[one]) && told(DayPart::Morning, classes(&[1]), &[one])
    );
    // By a timetable of two lessons the morning's is taught, whatever closes at noon; and the afternoon's is not.
    let slot = |part| Slot { weekday: Weekday::Wednesday, part, starts_at: None, minutes: None };
    let lines = [TimetableLine {
        from: day("2025-09-01"),
        slots: Some(vec![slot(Half::Morning), slot(Half::Afternoon)]),
    }];
    let noon = plan("2026-06-24", "2026-06-24", ClosureKind::Closure, DayPart::Afternoon, ClosedFor::School);
    let after = OwnCalendar { calendar: now.calendar.with_closure(&noon), whom: now.whom.clone() };
    let kept = |slot| {
        let recorded = [RecordedLesson { slot, ..recorded(&[one])[0].clone() }];
        recorded_and_closed(&now, &after, &lines, &recorded).is_empty()
    };
    assert_eq!([kept(1), kept(2)], [true, false]);
    // A half term that ends before it.
    let mut shorter = now.clone();
    shorter.calendar.years[0].half_terms[5].ends_on = day("2026-06-19");
    assert_eq!(recorded_and_closed(&now, &shorter, &[], &recorded(&[])), [on].into());
    assert_eq!(now.calendar.differs(&shorter.calendar), Some((day("2025-09-01"), day("2026-08-31"))));
    assert_eq!(now.calendar.differs(&now.calendar), None);
}
