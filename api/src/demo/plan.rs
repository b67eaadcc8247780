//! What the demonstration does on which day.

use chrono::Datelike as _;
use plumbline_core::{roster::Weekday, time::Date};

use super::calendar::{SchoolYear, Term, school_year, year_of};

/// A week of checking.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct CheckWeek {
    /// As the lead calls it.
    pub(super) name: String,
    /// Its teaching days; never empty.
    pub(super) days: Vec<Date>,
    /// Whether it is the half-termly round, with words and two adults.
    pub(super) half_termly: bool,
}

/// The days of a demonstration.
#[derive(Clone, Debug)]
pub(super) struct Plan {
    /// The school's today.
    pub(super) today: Date,
    /// The school year of the work.
    pub(super) year: SchoolYear,
    /// The school year of today, where that is a later one.
    pub(super) current_year: Option<SchoolYear>,
    /// The half term the report is about.
    pub(super) term: Term,
    /// The day the school was shut.
    pub(super) closure: Date,
    /// The day the cover teacher was there.
    pub(super) cover: Date,
    /// Every day on which lessons are logged, from the half term's first on.
    pub(super) days: Vec<Date>,
    /// The weeks in which pupils are checked.
    pub(super) checks: Vec<CheckWeek>,
    /// The day the report is of.
    pub(super) as_of: Date,
}

/// A half term is long enough with this many teaching days behind it, a finished one with fewer.
const ENOUGH: usize = 25;
const ENOUGH_WHEN_OVER: usize = 20;

impl Plan {
    /// Plans around a day. None only where the calendar holds no half term before it.
    pub(super) fn around(today: Date) -> Option<Self> {
        let yesterday = today.pred_opt()?;
        let current = school_year(year_of(today));
        let (year, term) = [current.clone(), school_year(current.year - 1)].into_iter().find_map(|year| {
            let enough = |term: &&Term| {
                let behind = year.teaching_days(term.starts_on, term.ends_on.min(yesterday)).len();
                behind >= ENOUGH || (term.ends_on < today && behind >= ENOUGH_WHEN_OVER)
            };
            let term = year.terms.iter().rev().find(enough)?.clone();
            Some((year, term))
        })?;
        let before_closure = year.teaching_days(term.starts_on, yesterday);
        let closure = *before_closure.get(11)?;
        let days: Vec<Date> = before_closure.into_iter().filter(|day| *day != closure).collect();
        let in_term: Vec<Date> = days.iter().copied().filter(|day| *day <= term.ends_on).collect();
        Some(Self {
            today,
            current_year: (current.year != year.year).then_some(current),
            cover: *in_term.get(15)?,
            checks: check_weeks(&in_term),
            as_of: term.ends_on.min(today),
            year,
            term,
            closure,
            days,
        })
    }

    /// The days on which a group with so many lessons a week meets.
    pub(super) fn meetings(&self, lessons_per_week: u8) -> impl Iterator<Item = Date> + '_ {
        self.days
            .iter()
            .copied()
            .filter(move |day| days_of_meeting(lessons_per_week).contains(&Weekday::of(*day)))
    }
}

/// The weekdays on which a group with so many lessons a week meets.
pub(super) const fn days_of_meeting(lessons_per_week: u8) -> &'static [Weekday] {
    use Weekday::{Friday, Monday, Thursday, Tuesday, Wednesday};
    match lessons_per_week {
        0 => &[],
        1 => &[Wednesday],
        2 => &[Tuesday, Thursday],
        3 => &[Monday, Wednesday, Friday],
        4 => &[Monday, Tuesday, Wednesday, Thursday],
        _ => &[Monday, Tuesday, Wednesday, Thursday, Friday],
    }
}

/// A quick check in every second week, and the half-termly round in the last.
fn check_weeks(days: &[Date]) -> Vec<CheckWeek> {
    let mut weeks: Vec<Vec<Date>> =
        days.chunk_by(|a, b| a.iso_week() == b.iso_week()).map(<[Date]>::to_vec).collect();
    if weeks.last().is_some_and(|week| week.len() < 2) {
        weeks.pop();
    }
    let last = weeks.len().saturating_sub(1);
    weeks
        .into_iter()
        .enumerate()
        .filter(|(n, _)| *n == last || n % 2 == 1)
        .map(|(n, days)| CheckWeek {
            name: if n == last { "Half-termly check".into() } else { format!("Quick check, week {}", n + 1) },
            days,
            half_termly: n == last,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plan(today: &str) -> Plan {
        Plan::around(today.parse().unwrap()).unwrap()
    }

    #[test]
    fn the_half_term_is_the_latest_with_enough_behind_it() {
        for (today, name, as_of) in [
            ("2026-11-25", "Autumn 1", "2026-10-23"),
            ("2026-12-15", "Autumn 2", "2026-12-15"),
            ("2026-12-30", "Autumn 2", "2026-12-18"),
            ("2027-04-02", "Spring 2", "2027-03-25"),
            ("2026-09-10", "Summer 2", "2026-07-22"),
        ] {
            let plan = plan(today);
            assert_eq!((plan.term.name, plan.as_of.to_string()), (name, as_of.to_owned()), "{today}");
        }
    }

    #[test]
    fn the_days_go_on_to_yesterday_without_the_closed_one() {
        let plan = plan("2026-11-25");
        assert_eq!(plan.days.first().map(ToString::to_string), Some("2026-09-02".into()));
        assert_eq!(plan.days.last().map(ToString::to_string), Some("2026-11-24".into()));
        assert!(!plan.days.contains(&plan.closure) && plan.days.contains(&plan.cover));
        assert!(plan.meetings(4).all(|day| Weekday::of(day) != Weekday::Friday));
        assert!(plan.current_year.is_none());
    }

    #[test]
    fn the_year_before_does_where_this_one_has_only_begun() {
        let plan = plan("2026-09-10");
        assert_eq!((plan.year.year, plan.current_year.map(|year| year.year)), (2025, Some(2026)));
        assert!(plan.days.iter().all(|day| *day <= plan.year.ends_on));
    }

    #[test]
    fn checks_are_spread_wide_enough_for_the_rule_on_every_day_of_many_years() {
        let mut today: Date = "2011-01-01".parse().unwrap();
        while today.year() < 2040 {
            let plan = Plan::around(today).unwrap();
            assert!(plan.checks.len() >= 3, "{today}: {} checks", plan.checks.len());
            assert_eq!(plan.checks.iter().filter(|week| week.half_termly).count(), 1);
            let end = plan.checks.last().and_then(|week| week.days.last());
            assert!(end.is_some_and(|day| *day < today && *day <= plan.as_of), "{today}");
            assert!(plan.days.len() < 120, "{today}: {} days", plan.days.len());
            today = today.succ_opt().unwrap();
        }
    }
}
