//! Whose day it is. A day is taught to a group, a class or a year group while it is taught to one of its
//! pupils; nobody is behind for a day that was taught to none of them, or on which none of them comes.

use crate::{
    id::ClassId,
    roster::{Weekdays, comes_on},
    time::{Date, Span, days},
};

use super::{Calendar, DayKind, Half, Halves};

/// Where a pupil is, as far as closing days asks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Place<'a> {
    /// The class.
    pub class: Option<ClassId>,
    /// The year group's code in the rule pack.
    pub year_group: Option<&'a str>,
}

/// A pupil of those whose day is asked about.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Attendance {
    /// The days on which the pupil is one of them.
    pub days: Vec<Span>,
    /// The weekdays on which the pupil comes, each line from a day on.
    pub weekdays: Vec<(Date, Option<Weekdays>)>,
    /// The pupil's classes.
    pub classes: Vec<(ClassId, Span)>,
    /// The year group's code by school year.
    pub year_groups: Vec<(i32, String)>,
}

/// Those whose day is asked about: the school, a group, a class, a year group or a pupil.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Whom {
    /// The class, where a class is asked about.
    pub class: Option<ClassId>,
    /// The year group's code, where a year group is asked about.
    pub year_group: Option<String>,
    /// The pupils. On a day on which it has none, only what closed the school, or the class or year group
    /// asked about, counts.
    pub pupils: Vec<Attendance>,
}

impl Whom {
    /// Those who are pupils of it on a day, whether or not they come.
    fn members(&self, on: Date) -> impl Iterator<Item = &Attendance> {
        self.pupils.iter().filter(move |one| one.days.iter().any(|days| days.holds(on)))
    }

    /// Where those are who come on a day.
    fn places(&self, on: Date, year: Option<i32>) -> Vec<Place<'_>> {
        let of_year = move |one: &&(i32, String)| Some(one.0) == year;
        self.members(on)
            .filter(|one| comes_on(&one.weekdays, on))
            .map(|one| Place {
                class: one.classes.iter().find(|(_, days)| days.holds(on)).map(|(class, _)| *class),
                year_group: one.year_groups.iter().find(of_year).map(|(_, code)| code.as_str()),
            })
            .collect()
    }
}

impl Calendar {
    /// What the halves of a date are to some. A half is closed once it is closed for each of them; where
    /// none of them comes, what the school would teach is not due.
    pub fn day_for(&self, on: Date, whom: &Whom) -> Halves {
        let places = whom.places(on, self.year_of(on).map(|year| year.year));
        let own = Place { class: whom.class, year_group: whom.year_group.as_deref() };
        let none_comes = places.is_empty() && whom.members(on).next().is_some();
        let half = |half| {
            // Teaching stands first, so one pupil who is taught decides.
            let kinds = places.iter().map(|place| self.half_of(on, half, *place));
            match kinds.min().unwrap_or_else(|| self.half_of(on, half, own)) {
                DayKind::Teaching if none_comes => DayKind::NotDue,
                kind => kind,
            }
        };
        Halves { morning: half(Half::Morning), afternoon: half(Half::Afternoon) }
    }
}

/// The calendar as it is for some.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct OwnCalendar {
    /// The school's.
    pub calendar: Calendar,
    /// For whom.
    pub whom: Whom,
}

impl OwnCalendar {
    /// What the halves of a date are to them.
    pub fn day(&self, on: Date) -> Halves {
        self.calendar.day_for(on, &self.whom)
    }

    /// Whether it has pupils on a day, whether or not they come.
    pub fn has_pupils(&self, on: Date) -> bool {
        self.whom.members(on).next().is_some()
    }

    /// The days from one date to another, both included, of which at least half is taught to them.
    pub fn teaching_days(&self, from: Date, to: Date) -> Vec<Date> {
        days(from, to).filter(|on| self.day(*on).kind() == DayKind::Teaching).collect()
    }
}
