//! The calendar as it is for a group, a class or a year group: the school's, with where their pupils are
//! from when to when.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::Read,
        resource::{self, Class, Group, GroupDay},
    },
    calendar::{Attendance, DayKind, OwnCalendar, Whom, lesson_is_for},
    id::{ClassId, GroupId, PupilId},
    time::{Date, Span},
};

use super::{
    Error, Permit, Tx,
    conn::db,
    pupils::BATCH,
    schema::{class_member, group_member, pupil, pupil_year},
};

/// A lesson of a group on a day, as the calendar has it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LessonDay {
    /// What the day is to the group.
    pub day: DayKind,
    /// Whether the group has pupils that day, whether or not they come.
    pub has_pupils: bool,
    /// The pupils the lesson is for.
    pub members: Vec<PupilId>,
}

impl<'tx> Tx<'tx> {
    /// What the calendar says of a lesson in a slot of a day. It is for the group's pupils but those who come on other
    /// weekdays or whose class or year group is away then; and of these for the ones named, who were there all the
    /// same.
    ///
    /// # Errors
    /// If the store fails.
    pub fn lesson_day<A>(
        &mut self,
        permit: &Permit<'tx, A, GroupDay>,
        slot: u8,
        named: &BTreeSet<PupilId>,
    ) -> Result<LessonDay, Error> {
        let GroupDay { group, on } = *permit.resource();
        let (own, lines) = (self.calendar_of_group(group)?, self.timetable_of(group)?);
        let members = lesson_is_for(&own, &lines, (on, slot), named);
        Ok(LessonDay { day: own.day(on).kind(), has_pupils: own.has_pupils(on), members })
    }

    /// A group's calendar.
    ///
    /// # Errors
    /// If the store fails.
    pub fn group_calendar<A>(&mut self, permit: &Permit<'tx, A, Group>) -> Result<OwnCalendar, Error> {
        self.calendar_of_group(permit.resource().0)
    }

    /// The same for who may record what was taught to the group on a day.
    ///
    /// # Errors
    /// If the store fails.
    pub fn group_day_calendar<A>(&mut self, permit: &Permit<'tx, A, GroupDay>) -> Result<OwnCalendar, Error> {
        self.calendar_of_group(permit.resource().group)
    }

    fn calendar_of_group(&mut self, group: GroupId) -> Result<OwnCalendar, Error> {
        Ok(OwnCalendar { calendar: self.calendar()?, whom: self.whom_of_group(group)? })
    }

    /// Where a group's pupils are from when to when.
    pub(super) fn whom_of_group(&mut self, group: GroupId) -> Result<Whom, Error> {
        let school = self.school();
        let rows: Vec<(PupilId, Date, Option<Date>)> = db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::group_id.eq(group))
            .select((group_member::pupil_id, group_member::from_on, group_member::until_on))
            .load(c))?;
        let mut attending = attending(rows);
        for ((_, pupil), lines) in self.days_of(Some(group))? {
            if let Some(one) = attending.get_mut(&pupil) {
                one.weekdays = lines;
            }
        }
        self.placed(Whom::default(), attending)
    }

    /// A class's calendar.
    ///
    /// # Errors
    /// If the store fails.
    pub fn class_calendar<A>(&mut self, permit: &Permit<'tx, A, Class>) -> Result<OwnCalendar, Error> {
        let (school, class) = (self.school(), permit.resource().0);
        let rows: Vec<(PupilId, Date, Option<Date>)> = db!(self.conn, c => class_member::table
            .filter(class_member::school_id.eq(school))
            .filter(class_member::class_id.eq(class))
            .select((class_member::pupil_id, class_member::from_on, class_member::until_on))
            .load(c))?;
        let whom = self.placed(Whom { class: Some(class), ..Whom::default() }, attending(rows))?;
        Ok(OwnCalendar { calendar: self.calendar()?, whom })
    }

    /// The calendar of a year group, by its code: whoever is in it counts in the school years in which that is
    /// so, until the last day at the school.
    ///
    /// # Errors
    /// If the store fails.
    pub fn year_group_calendar(
        &mut self,
        _permit: &Permit<'tx, Read, resource::Calendar>,
        code: &str,
    ) -> Result<OwnCalendar, Error> {
        let school = self.school();
        let rows: Vec<(PupilId, i32, Option<Date>)> = db!(self.conn, c => pupil_year::table
            .inner_join(pupil::table.on(pupil::school_id.eq(pupil_year::school_id).and(pupil::id.eq(pupil_year::pupil_id))))
            .filter(pupil_year::school_id.eq(school))
            .filter(pupil_year::year_group.eq(code))
            .select((pupil_year::pupil_id, pupil_year::year, pupil::left_on))
            .load(c))?;
        let calendar = self.calendar()?;
        let days = rows.into_iter().filter_map(|(pupil, year, left_on)| {
            let year = calendar.years.iter().find(|known| known.year == year)?;
            let span = Span { from: year.starts_on, until: Some(year.ends_on) }.up_to(left_on)?;
            Some((pupil, span.from, span.until))
        });
        let attending = attending(days.collect());
        let whom = self.placed(Whom { year_group: Some(code.to_owned()), ..Whom::default() }, attending)?;
        Ok(OwnCalendar { calendar, whom })
    }

    /// Puts in where the pupils are.
    fn placed(&mut self, whom: Whom, mut attending: BTreeMap<PupilId, Attendance>) -> Result<Whom, Error> {
        let school = self.school();
        let pupils: Vec<PupilId> = attending.keys().copied().collect();
        for pupils in pupils.chunks(BATCH) {
            let classes: Vec<(PupilId, ClassId, Date, Option<Date>)> = db!(self.conn, c => class_member::table
                .filter(class_member::school_id.eq(school))
                .filter(class_member::pupil_id.eq_any(pupils))
                .order((class_member::pupil_id, class_member::from_on))
                .select((class_member::pupil_id, class_member::class_id, class_member::from_on, class_member::until_on))
                .load(c))?;
            let years: Vec<(PupilId, i32, String)> = db!(self.conn, c => pupil_year::table
                .filter(pupil_year::school_id.eq(school))
                .filter(pupil_year::pupil_id.eq_any(pupils))
                .select((pupil_year::pupil_id, pupil_year::year, pupil_year::year_group))
                .load(c))?;
            for (pupil, class, from, until) in classes {
                attending.entry(pupil).or_default().classes.push((class, Span { from, until }));
            }
            for (pupil, year, code) in years {
                attending.entry(pupil).or_default().year_groups.push((year, code));
            }
        }
        Ok(Whom { pupils: attending, ..whom })
    }
}

/// Pupils with the days on which each of them counts.
fn attending(rows: Vec<(PupilId, Date, Option<Date>)>) -> BTreeMap<PupilId, Attendance> {
    let mut out: BTreeMap<PupilId, Attendance> = BTreeMap::new();
    for (pupil, from, until) in rows {
        out.entry(pupil).or_default().days.push(Span { from, until });
    }
    out
}
