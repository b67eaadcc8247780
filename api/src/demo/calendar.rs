//! The school year of the demonstration: six half terms, as in many English schools, by a
//! rule of our own.

use chrono::{Datelike as _, Days, Weekday};
use plumbline_core::time::{Date, days};
use serde::Serialize;

/// A half term, as the API takes it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub(super) struct Term {
    pub(super) name: &'static str,
    pub(super) starts_on: Date,
    pub(super) ends_on: Date,
}

/// A school year with the weekdays inside its half terms that are not taught.
#[derive(Clone, Debug)]
pub(super) struct SchoolYear {
    pub(super) year: i32,
    pub(super) starts_on: Date,
    pub(super) ends_on: Date,
    pub(super) terms: Vec<Term>,
    /// Staff training: the first day of the year, of spring and of the last half term.
    pub(super) training: Vec<Date>,
    /// The bank holiday in May.
    pub(super) bank_holiday: Date,
}

/// Years the rule was thought through for.
pub(super) const YEARS: std::ops::RangeInclusive<i32> = 2010..=2099;

/// The calendar year in which the school year of a day starts.
pub(super) fn year_of(day: Date) -> i32 {
    if day.month() >= 9 { day.year() } else { day.year() - 1 }
}

/// The school year that starts in September of this calendar year.
pub(super) fn school_year(year: i32) -> SchoolYear {
    let next = year + 1;
    let break_from = last(Weekday::Mon, date(year, 10, 31));
    let february = first(Weekday::Mon, date(next, 2, 12));
    let (spring_ends, summer_starts) = around_easter(next);
    let whitsun = last(Weekday::Mon, date(next, 5, 31));
    let autumn = first_weekday(date(year, 9, 1));
    let spring = first(Weekday::Mon, date(next, 1, 4));
    let late_summer = after(whitsun, 7);
    let term = |name, starts_on, ends_on| Term { name, starts_on, ends_on };
    SchoolYear {
        year,
        starts_on: date(year, 9, 1),
        ends_on: date(next, 8, 31),
        terms: vec![
            term("Autumn 1", autumn, before(break_from, 3)),
            term("Autumn 2", after(break_from, 7), last(Weekday::Fri, date(year, 12, 21))),
            term("Spring 1", spring, before(february, 3)),
            term("Spring 2", after(february, 7), spring_ends),
            term("Summer 1", summer_starts, before(whitsun, 3)),
            term("Summer 2", late_summer, last(Weekday::Wed, date(next, 7, 22))),
        ],
        training: vec![autumn, spring, late_summer],
        bank_holiday: first(Weekday::Mon, date(next, 5, 1)),
    }
}

impl SchoolYear {
    /// The days with lessons from one day to another, both included.
    pub(super) fn teaching_days(&self, from: Date, to: Date) -> Vec<Date> {
        days(from.max(self.starts_on), to.min(self.ends_on)).filter(|day| self.is_taught(*day)).collect()
    }

    fn is_taught(&self, day: Date) -> bool {
        self.terms.iter().any(|term| term.starts_on <= day && day <= term.ends_on)
            && !matches!(day.weekday(), Weekday::Sat | Weekday::Sun)
            && !self.training.contains(&day)
            && day != self.bank_holiday
    }
}

/// Last day before the break around Easter and first day after it. The break is two weeks
/// that hold Good Friday and Easter Monday; when Easter is early it starts on Good Friday.
fn around_easter(year: i32) -> (Date, Date) {
    let sunday = easter(year);
    if sunday < date(year, 4, 6) {
        (before(sunday, 3), after(sunday, 15))
    } else {
        (before(sunday, 9), after(sunday, 8))
    }
}

/// Easter Sunday by the anonymous Gregorian computus.
fn easter(year: i32) -> Date {
    let (a, b, c) = (year % 19, year / 100, year % 100);
    let d = (19 * a + b - b / 4 - (b - (b + 8) / 25 + 1) / 3 + 15) % 30;
    let e = (32 + 2 * (b % 4) + 2 * (c / 4) - d - c % 4) % 7;
    let f = d + e - 7 * ((a + 11 * d + 22 * e) / 451) + 114;
    let part = |n: i32| u32::try_from(n).unwrap_or(1);
    date(year, part(f / 31), part(f % 31 + 1))
}

fn date(year: i32, month: u32, day: u32) -> Date {
    Date::from_ymd_opt(year, month, day).unwrap_or_default()
}

fn after(day: Date, count: u64) -> Date {
    day + Days::new(count)
}

fn before(day: Date, count: u64) -> Date {
    day - Days::new(count)
}

/// The first such weekday on or after a day.
fn first(weekday: Weekday, from: Date) -> Date {
    after(from, u64::from(weekday.days_since(from.weekday())))
}

/// The last such weekday on or before a day.
fn last(weekday: Weekday, until: Date) -> Date {
    before(until, u64::from(until.weekday().days_since(weekday)))
}

fn first_weekday(from: Date) -> Date {
    match from.weekday() {
        Weekday::Sat => after(from, 2),
        Weekday::Sun => after(from, 1),
        _ => from,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Date {
        text.parse().unwrap()
    }

    #[test]
    fn a_year_is_as_a_wall_calendar_has_it() {
        let year = school_year(2026);
        let terms: Vec<_> = year
            .terms
            .iter()
            .map(|term| (term.name, term.starts_on.to_string(), term.ends_on.to_string()))
            .collect();
        let expected = [
            ("Autumn 1", "2026-09-01", "2026-10-23"),
            ("Autumn 2", "2026-11-02", "2026-12-18"),
            ("Spring 1", "2027-01-04", "2027-02-12"),
            ("Spring 2", "2027-02-22", "2027-03-25"),
            ("Summer 1", "2027-04-12", "2027-05-28"),
            ("Summer 2", "2027-06-07", "2027-07-21"),
        ];
        assert_eq!(terms, expected.map(|(name, from, to)| (name, from.to_owned(), to.to_owned())));
        assert_eq!(year.bank_holiday, day("2027-05-03"));
    }

    #[test]
    fn easter_is_in_the_break_of_every_year() {
        assert_eq!(easter(2025), day("2025-04-20"));
        assert_eq!(easter(2027), day("2027-03-28"));
        assert_eq!(easter(2038), day("2038-04-25"));
        for year in YEARS {
            let plan = school_year(year);
            let easter = easter(year + 1);
            assert!(!plan.is_taught(before(easter, 2)) && !plan.is_taught(after(easter, 1)), "{year}");
        }
    }

    #[test]
    fn every_year_is_in_order_and_of_a_usual_length() {
        for year in YEARS {
            let plan = school_year(year);
            let weekday = |day: Date| !matches!(day.weekday(), Weekday::Sat | Weekday::Sun);
            assert!(plan.terms.iter().all(|t| weekday(t.starts_on) && weekday(t.ends_on)), "{year}");
            assert!(plan.terms.is_sorted_by(|a, b| a.ends_on < b.starts_on), "{year}");
            let taught = plan.teaching_days(plan.starts_on, plan.ends_on).len();
            assert!((175..=195).contains(&taught), "{year}: {taught}");
            for term in &plan.terms {
                let taught = plan.teaching_days(term.starts_on, term.ends_on).len();
                assert!((18..=42).contains(&taught), "{year} {}: {taught}", term.name);
            }
        }
    }

    #[test]
    fn a_day_belongs_to_the_year_that_began_before_it() {
        assert_eq!(year_of(day("2026-09-01")), 2026);
        assert_eq!(year_of(day("2027-08-31")), 2026);
    }
}
