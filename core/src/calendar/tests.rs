use super::*;
use crate::id::ClosureId;
use uuid::Uuid;

fn day(s: &str) -> Date {
    s.parse().unwrap()
}

fn plan(terms: &[(&str, &str, &str)]) -> YearPlan {
    YearPlan {
        starts_on: day("2025-09-01"),
        ends_on: day("2026-08-31"),
        half_terms: terms
            .iter()
            .map(|(name, from, to)| HalfTermPlan {
                name: Title::new(name).unwrap(),
                starts_on: day(from),
                ends_on: day(to),
            })
            .collect(),
    }
}

fn closed(from: &str, until: &str, kind: ClosureKind, part: DayPart, whom: ClosedFor) -> Closure {
    let plan = ClosurePlan { from: day(from), until: day(until), kind, part, whom };
    Closure { id: ClosureId::from_uuid(Uuid::nil()), plan }
}

/// The year 2025-26 with two half terms, an INSET day on 1 September and a snow day.
fn calendar() -> Calendar {
    let term = |n: u128, name: &str, from, to| HalfTerm {
        id: HalfTermId::from_uuid(Uuid::from_u128(n)),
        name: Title::new(name).unwrap(),
        starts_on: day(from),
        ends_on: day(to),
    };
    Calendar {
        years: vec![Year {
            year: 2025,
            starts_on: day("2025-09-01"),
            ends_on: day("2026-08-31"),
            half_terms: vec![
                term(1, "Autumn 1", "2025-09-01", "2025-10-24"),
                term(2, "Spring 2", "2026-02-23", "2026-04-02"),
            ],
        }],
        closures: vec![
            closed("2025-09-01", "2025-09-01", ClosureKind::Inset, DayPart::Whole, ClosedFor::School),
            closed("2026-03-04", "2026-03-04", ClosureKind::Closure, DayPart::Whole, ClosedFor::School),
        ],
    }
}

#[test]
fn teaching_days_are_weekdays_of_half_terms_less_closures() {
    // Counted on a paper calendar: 8 weeks from Monday 1 September less the INSET day.
    let autumn = calendar().teaching_days(day("2025-09-01"), day("2025-10-31"));
    assert_eq!(autumn.len(), 39);
    // Monday 23 February to Thursday 2 April is 5 weeks and 4 days, less the snow day;
    // the clocks go forward on 29 March.
    let spring = calendar().teaching_days(day("2026-02-01"), day("2026-04-30"));
    assert_eq!(spring.len(), 28);
}

#[test]
fn every_date_has_one_kind() {
    let calendar = calendar();
    for (date, kind) in [
        ("2025-09-01", DayKind::Inset),
        ("2025-09-02", DayKind::Teaching),
        ("2025-09-06", DayKind::Weekend),
        ("2025-10-27", DayKind::Holiday),
        ("2026-03-04", DayKind::Closure),
        ("2026-08-31", DayKind::Holiday),
        ("2026-09-01", DayKind::OutOfYear),
        ("2025-08-31", DayKind::OutOfYear),
    ] {
        assert_eq!(calendar.day(day(date)), kind, "{date}");
    }
}

#[test]
fn half_terms_that_share_a_day_are_refused_by_name() {
    let error = check_year(
        &plan(&[("T1", "2025-09-01", "2025-10-24"), ("T2", "2025-10-24", "2025-12-19")]),
        2025,
        &[],
    );
    let Err(error) = error else { panic!("accepted") };
    assert_eq!(error.to_string(), "T2 starts before T1 has ended");
    assert_eq!(error.field(), "half_terms[1].starts_on");
}

#[test]
fn a_half_term_inside_an_earlier_one_is_refused() {
    let terms = [
        ("T1", "2025-09-01", "2025-12-19"),
        ("T2", "2025-12-20", "2025-12-22"),
        ("T3", "2025-10-01", "2025-10-05"),
    ];
    assert!(matches!(check_year(&plan(&terms), 2025, &[]), Err(CalendarError::Overlap { .. })));
}

#[test]
fn half_terms_in_the_wrong_order_are_told_so_and_one_name_is_one_however_it_is_written() {
    let error = |terms: &[(&str, &str, &str)]| {
        let error = check_year(&plan(terms), 2025, &[]).unwrap_err();
        (error.field().to_owned(), error.to_string())
    };
    let said = |field: &str, message: &str| (field.to_owned(), message.to_owned());
    let (autumn, spring) = (("Autumn", "2025-09-01", "2025-10-24"), ("Spring", "2026-01-05", "2026-02-13"));
    assert_eq!(
        error(&[spring, autumn]),
        said(
            "half_terms[1].starts_on",
            "Autumn lies before Spring: give the half terms in the order of their days"
        )
    );
    assert_eq!(
        error(&[autumn, ("autumn  ", "2026-01-05", "2026-02-13")]),
        said("half_terms[1].name", "stands twice")
    );
    assert_eq!(
        error(&[("Autumn 1", "2025-09-01", "2025-10-24"), ("autumn  1", "2025-11-03", "2025-12-19")]),
        said("half_terms[1].name", "stands twice")
    );
}

#[test]
fn reversed_and_outside_are_refused_and_gaps_are_normal() {
    let reversed = check_year(&plan(&[("T4", "2026-03-27", "2026-02-23")]), 2025, &[]);
    assert_eq!(
        reversed,
        Err(CalendarError::Reversed { field: "half_terms[0].ends_on".into(), name: "T4".into() })
    );
    let outside = check_year(&plan(&[("T1", "2025-08-31", "2025-10-24")]), 2025, &[]);
    assert_eq!(outside, Err(CalendarError::Outside { field: "half_terms[0]".into(), name: "T1".into() }));
    assert_eq!(
        check_year(
            &plan(&[("T1", "2025-09-01", "2025-10-24"), ("T2", "2025-11-03", "2025-12-19")]),
            2025,
            &[]
        ),
        Ok(())
    );
}

#[test]
fn school_years_do_not_share_days() {
    let known = calendar().years;
    let before = YearPlan { starts_on: day("2024-09-02"), ends_on: day("2025-09-01"), half_terms: vec![] };
    assert_eq!(check_year(&before, 2024, &known), Err(CalendarError::YearsMeet(2025)));
    assert_eq!(check_year(&before, 2023, &[]), Err(CalendarError::StartsElsewhere));
    assert_eq!(check_year(&plan(&[("T1", "2025-09-01", "2025-10-24")]), 2025, &known), Ok(()));
}

#[test]
fn a_year_has_teaching_days_in_each_half_term() {
    assert_eq!(check_year(&plan(&[]), 2025, &[]), Err(CalendarError::NoHalfTerm));
    assert_eq!(CalendarError::NoHalfTerm.field(), "half_terms");
    // 13 and 14 September 2025 are Saturday and Sunday.
    let weekend = plan(&[("T1", "2025-09-01", "2025-09-12"), ("T2", "2025-09-13", "2025-09-14")]);
    let error = CalendarError::NoTeachingDay { field: "half_terms[1]".into(), name: "T2".into() };
    assert_eq!(check_year(&weekend, 2025, &[]), Err(error));
    assert_eq!(check_year(&plan(&[("T2", "2025-09-13", "2025-09-15")]), 2025, &[]), Ok(()));
}
