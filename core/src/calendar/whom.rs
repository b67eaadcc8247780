//! Whose day it is. A day is taught to a group, a class or a year group while it is taught to one of its
//! pupils; nobody is behind for a day that was taught to none of them.

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
    /// The pupils. On a day on which none of them comes, only what closed the school, or the class or year
    /// group asked about, counts.
    pub pupils: Vec<Attendance>,
}

impl Whom {
    fn places(&self, on: Date, year: Option<i32>) -> Vec<Place<'_>> {
        let comes =
            |one: &&Attendance| one.days.iter().any(|days| days.holds(on)) && comes_on(&one.weekdays, on);
        let mut places: Vec<Place<'_>> = self
            .pupils
            .iter()
            .filter(comes)
            .map(|one| Place {
                class: one.classes.iter().find(|(_, days)| days.holds(on)).map(|(class, _)| *class),
                year_group: one
                    .year_groups
                    .iter()
                    .find(|(known, _)| Some(*known) == year)
                    .map(|(_, code)| code.as_str()),
            })
            .collect();
        if places.is_empty() {
            places.push(Place { class: self.class, year_group: self.year_group.as_deref() });
        }
        places
    }
}

impl Calendar {
    /// What the halves of a date are to some. A half is closed once it is closed for each of them.
    pub fn day_for(&self, on: Date, whom: &Whom) -> Halves {
        let places = whom.places(on, self.year_of(on).map(|year| year.year));
        let half = |half| {
            let kinds = places.iter().map(|place| self.half_of(on, half, *place));
            // Teaching stands first, so one pupil who is taught decides.
            kinds.min().unwrap_or(DayKind::OutOfYear)
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

    /// The days from one date to another, both included, of which at least half is taught to them.
    pub fn teaching_days(&self, from: Date, to: Date) -> Vec<Date> {
        days(from, to).filter(|on| self.day(*on).kind() == DayKind::Teaching).collect()
    }
}
