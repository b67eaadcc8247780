//! Releases of whole schools.

mod attack;
mod attacked;
mod between;
mod checks;
mod pooled;
mod progress;

use std::collections::BTreeMap;

use uuid::Uuid;

use super::*;
use crate::{
    access::{self, Grant, act::Read, resource::SchoolReport},
    attainment::SecureBasis,
    id::{SchoolId, StaffId},
    phonics::rng::Rng,
    rules::{RulePack, pack},
    time::Date,
};

fn england() -> &'static RulePack {
    pack("england").unwrap()
}

fn day(text: &str) -> Date {
    text.parse().unwrap()
}

fn choice(published: bool, by: &[By]) -> Choice<'static> {
    let measures = vec![england().reports.measure("words").unwrap()];
    Choice { measures, by: by.to_vec(), published, smaller_groups: false, pooled_years: None }
}

/// So many pupils of a class and year group, of whom so many met the measure; none says nothing of the rest.
fn pupils(lines: &mut Vec<Line>, year: &str, class: &str, (of, met): (usize, usize), unknown: usize) {
    for place in 0..of + unknown {
        let known = (place < of).then(|| ("words".to_owned(), place < met));
        lines.push(Line {
            pupil: lines.len() as u64,
            year_group: Some(year.to_owned()),
            class: Some(class.to_owned()),
            met: known.into_iter().collect(),
            ..Line::default()
        });
    }
}

fn cohort(lines: Vec<Line>) -> Cohort {
    let secure_means = SecureBasis { right_on_days: 3, days_after_teaching: 7, carried_in_days: 1 };
    let basis = Basis {
        school: "Farholt Infant School".into(),
        half_term: "Autumn 2".into(),
        secure_means,
        versions: Vec::new(),
        cautions: Vec::new(),
    };
    Cohort {
        as_of: day("2026-12-18"),
        half_term_from: day("2026-11-02"),
        basis,
        definitions: Definitions::of(england()),
        lines,
        checks: Vec::new(),
    }
}

/// The same with a check of Year 1 before those it has; of its pupils the statutory measure is known.
fn of_check(mut cohort: Cohort, year: i32, lines: Vec<Line>) -> Cohort {
    let check = OfCheck { measure: "statutory".into(), year_group: "Year 1".into(), year, lines };
    cohort.checks.insert(0, check);
    cohort
}

fn lead_may_read() -> Grant<Read, SchoolReport> {
    let actor = access::Actor {
        school: SchoolId::from_uuid(Uuid::nil()),
        staff: StaffId::from_uuid(Uuid::nil()),
        session: None,
        roles: [access::Role::Lead].into(),
    };
    access::authorise(&actor, SchoolReport, access::Facts::OF_THE_SCHOOL).unwrap()
}

fn two_forms() -> Cohort {
    let mut lines = Vec::new();
    pupils(&mut lines, "Reception", "Birch", (28, 18), 2);
    pupils(&mut lines, "Reception", "Cedar", (29, 20), 0);
    pupils(&mut lines, "Year 1", "Elm", (30, 28), 0);
    pupils(&mut lines, "Year 1", "Fir", (27, 20), 3);
    cohort(lines)
}

fn rows(made: &Made) -> Vec<String> {
    let row = |row: &Row| {
        let Figure { symbol, pupils, met, percent, interval, .. } = row.figure;
        let name =
            row.name.clone().unwrap_or_else(|| if row.by.is_none() { "all" } else { "none" }.to_owned());
        let number = |value: Option<u32>| value.map_or_else(|| "-".to_owned(), |value| value.to_string());
        match symbol {
            Some(symbol) => format!("{name} {symbol}"),
            None => {
                let interval = interval.map(|(low, high)| format!(" {low}-{high}")).unwrap_or_default();
                format!("{name} {}/{} {}%{interval}", number(met), number(pupils), percent.unwrap())
            }
        }
    };
    made.release.figures().tables[0].rows.iter().map(row).collect()
}

#[test]
fn governors_are_told_numbers_beside_percentages_and_nothing_that_gives_a_class_away() {
    let made = release(&two_forms(), &choice(false, &[By::YearGroup, By::Class]), england(), &[]);
    // Two of Elm did not: Elm is left out, and Fir with it, or Year 1 less Fir would be Elm.
    assert_eq!(
        rows(&made),
        [
            "all 86/114 75% 668-824",
            "Reception 38/57 67% 537-775",
            "Year 1 48/57 84% 726-915",
            "Birch 18/28 64% 458-793",
            "Cedar 20/29 69% 508-827",
            "Elm c",
            "Fir c",
        ]
    );
}

#[test]
fn those_who_answer_for_the_pupils_read_every_figure() {
    let all = exact(&two_forms(), &choice(false, &[By::YearGroup, By::Class]), england());
    let figures = all.for_internal_reader(&lead_may_read(), &england().disclosure.internal).figures;
    let of = |class: &str| {
        let row = figures.tables[0].rows.iter().find(|row| row.name.as_deref() == Some(class)).unwrap();
        (row.figure.pupils, row.figure.met, row.figure.not_known)
    };
    assert_eq!(of("Elm"), (Some(30), Some(28), Some(0)));
    assert_eq!(of("Birch"), (Some(28), Some(18), Some(2)));
}

#[test]
fn the_public_is_told_of_no_class_no_exact_number_and_no_interval() {
    let made = release(&two_forms(), &choice(true, &[By::YearGroup, By::Class]), england(), &[]);
    assert_eq!(rows(&made), ["all -/115 75%", "Reception -/55 67%", "Year 1 -/55 84%"]);
}

#[test]
fn nobody_and_nothing_known_are_told_apart_from_none_who_met_it() {
    let mut lines = Vec::new();
    pupils(&mut lines, "Reception", "Birch", (0, 0), 12);
    pupils(&mut lines, "Year 1", "Elm", (20, 10), 0);
    let made = release(&cohort(lines), &choice(false, &[By::YearGroup]), england(), &[]);
    assert_eq!(rows(&made), ["all 10/20 50% 299-701", "Reception x", "Year 1 10/20 50% 299-701"]);
    let empty = release(&cohort(Vec::new()), &choice(false, &[By::YearGroup]), england(), &[]);
    assert_eq!(rows(&empty), ["all z"]);
}

/// A class of two ages: whoever knows a year group and the other classes knows no part of it.
#[test]
fn a_mixed_age_class_ties_its_two_year_groups() {
    let mut lines = Vec::new();
    pupils(&mut lines, "Reception", "Birch", (20, 12), 0);
    pupils(&mut lines, "Reception", "Oak", (4, 2), 0);
    pupils(&mut lines, "Year 1", "Oak", (16, 9), 0);
    pupils(&mut lines, "Year 1", "Elm", (20, 14), 0);
    let made = release(&cohort(lines), &choice(false, &[By::YearGroup, By::Class]), england(), &[]);
    let told = rows(&made);
    let oak = told.iter().filter(|row| row.starts_with("Oak")).count();
    assert_eq!(oak, 1, "one row a class: {told:?}");
    // Reception less Birch is the four of Oak: one of the two is left out.
    let is_told = |name: &str| told.iter().any(|row| row.starts_with(name) && !row.ends_with(" c"));
    assert!(!(is_told("Reception") && is_told("Birch")), "{told:?}");
}

#[test]
fn a_second_release_without_one_pupil_is_kept_back() {
    let all = choice(false, &[By::YearGroup]);
    let autumn = two_forms();
    let first = release(&autumn, &all, england(), &[]);
    let in_spring = |cohort: &Cohort| Cohort {
        as_of: day("2027-04-01"),
        half_term_from: day("2027-02-22"),
        ..cohort.clone()
    };
    let mut spring = in_spring(&autumn);
    spring.lines.retain(|line| line.pupil != 40);
    let second = release(&spring, &all, england(), &first.ledger);
    // Both sides of a split go, so Year 1 goes with Reception.
    assert_eq!(rows(&second), ["all c", "Reception c", "Year 1 c"]);
    // The same pupils are told of again.
    let again = release(&in_spring(&autumn), &all, england(), &first.ledger);
    assert_eq!(rows(&again), rows(&first));
}

#[test]
fn what_one_release_left_out_no_later_one_brings_back() {
    let autumn = two_forms();
    let first = release(&autumn, &choice(false, &[By::YearGroup, By::Class]), england(), &[]);
    // Fir alone would be fit to tell; told now, it gives Elm away.
    let second = release(&autumn, &choice(false, &[By::Class]), england(), &first.ledger);
    let told: BTreeMap<String, String> =
        rows(&second).into_iter().map(|row| (row.split(' ').next().unwrap().to_owned(), row)).collect();
    assert_eq!((told["Fir"].as_str(), told["Elm"].as_str()), ("Fir c", "Elm c"));
    assert_eq!(told["Birch"], "Birch 18/28 64% 458-793");
}
