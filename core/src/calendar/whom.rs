//! Whose day it is. A day is taught to a group, a class or a year group while it is taught to one of its
//! pupils; nobody is behind for a day that was taught to none of them, or on which none of them comes.

use std::collections::{BTreeMap, BTreeSet};

use crate::{
    id::{ClassId, PupilId},
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
    pub pupils: BTreeMap<PupilId, Attendance>,
}

impl Attendance {
    /// Whether the pupil is one of them on a day, whether or not the pupil comes.
    fn is_member(&self, on: Date) -> bool {
        self.days.iter().any(|days| days.holds(on))
    }

    /// Where the pupil is on a day of a school year.
    fn place(&self, on: Date, year: Option<i32>) -> Place<'_> {
        Place {
            class: self.classes.iter().find(|(_, days)| days.holds(on)).map(|(class, _)| *class),
            year_group: self
                .year_groups
                .iter()
                .find(|one| Some(one.0) == year)
                .map(|(_, code)| code.as_str()),
        }
    }
}

impl Whom {
    /// Those who are pupils of it on a day, whether or not they come.
    fn members(&self, on: Date) -> impl Iterator<Item = &Attendance> {
        self.pupils.values().filter(move |one| one.is_member(on))
    }

    /// Where those are who come to a half of a day.
    fn places(&self, on: Date, half: Half, year: Option<i32>) -> impl Iterator<Item = Place<'_>> {
        let come = self.members(on).filter(move |one| comes_on(&one.weekdays, on, Some(half)));
        come.map(move |one| one.place(on, year))
    }
}

impl Calendar {
    /// What the halves of a date are to some. A half is closed once it is closed for each of them; where
    /// none of them comes, what the school would teach is not due.
    pub fn day_for(&self, on: Date, whom: &Whom) -> Halves {
        let year = self.year_of(on).map(|year| year.year);
        let own = Place { class: whom.class, year_group: whom.year_group.as_deref() };
        let has_members = whom.members(on).next().is_some();
        let half = |half| {
            // Teaching stands first, so one pupil who is taught decides.
            let kinds = whom.places(on, half, year).map(|place| self.half_of(on, half, place));
            match kinds.min() {
                Some(kind) => kind,
                None => match self.half_of(on, half, own) {
                    DayKind::Teaching if has_members => DayKind::NotDue,
                    kind => kind,
                },
            }
        };
        Halves { morning: half(Half::Morning), afternoon: half(Half::Afternoon) }
    }

    /// Whether a pupil comes on a day, to what is held in a half of it; where the half is not known, in either.
    /// It is asked of the weekdays and of what is closed for the pupil's class or year group. What closes the
    /// whole school says nothing of single pupils: where a lesson was held all the same, it was for everybody.
    fn comes(&self, one: &Attendance, on: Date, half: Option<Half>) -> bool {
        let place = one.place(on, self.year_of(on).map(|year| year.year));
        let mut halves = Half::ALL.iter().filter(|either| half.is_none_or(|half| half == **either));
        halves.any(|half| comes_on(&one.weekdays, on, Some(*half)) && !self.is_away(on, *half, place))
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

    /// Whether one of its pupils comes on a day, to what is held in a half of it, or in either where the half is
    /// not known. This is what registers, cover pages, catch-up and reports go by.
    pub fn comes(&self, pupil: PupilId, on: Date, half: Option<Half>) -> bool {
        self.whom.pupils.get(&pupil).is_none_or(|one| self.calendar.comes(one, on, half))
    }

    /// Its pupils on a day, whether or not they come.
    pub fn members(&self, on: Date) -> BTreeSet<PupilId> {
        let those = self.whom.pupils.iter().filter(|(_, one)| one.is_member(on));
        those.map(|(pupil, _)| *pupil).collect()
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
