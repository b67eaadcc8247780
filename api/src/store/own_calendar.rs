//! The calendar as it is for a group, a class or a year group: the school's, with where their pupils are
//! from when to when.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::Read,
        resource::{self, Class, Group, GroupDay},
    },
    calendar::{
        Attendance, DayKind, OwnCalendar, TimetableLine, Whom, has_slot, kind_of_slot, lesson_is_for,
    },
    id::{ClassId, GroupId, PupilId},
    lesson::{Mark, Record, of_the_expected},
    time::{Date, Span},
};

use super::{
    Error, Permit, Tx,
    conn::db,
    lesson::SavedRecord,
    pupils::BATCH,
    schema::{class_member, group_member, pupil, pupil_year},
};

/// A lesson of a group on a day, as the calendar has it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LessonDay {
    /// What the day is to the group, or the lesson's half of it where that is closed.
    pub day: DayKind,
    /// Whether the timetable of the day has such a lesson.
    pub in_timetable: bool,
    /// Whether the group has pupils that day, whether or not they come.
    pub has_pupils: bool,
    /// The pupils the lesson is for.
    pub members: Vec<PupilId>,
    /// The others of the group, who do not come then.
    pub away: Vec<PupilId>,
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
        let (members, away) = lesson_is_for(&own, &lines, (on, slot), named);
        let day = kind_of_slot(&own, &lines, on, slot);
        let (has_pupils, in_timetable) = (own.has_pupils(on), has_slot(&lines, on, slot));
        Ok(LessonDay { day, in_timetable, has_pupils, members, away })
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
    fn whom_of_group(&mut self, group: GroupId) -> Result<Whom, Error> {
        Ok(self.whom_of_groups(&[group].into())?.remove(&group).unwrap_or_default())
    }

    /// The same of several groups, in as many statements as of one.
    fn whom_of_groups(&mut self, groups: &BTreeSet<GroupId>) -> Result<BTreeMap<GroupId, Whom>, Error> {
        let school = self.school();
        let rows: Vec<(GroupId, PupilId, Date, Option<Date>)> = db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::group_id.eq_any(groups))
            .select((group_member::group_id, group_member::pupil_id, group_member::from_on, group_member::until_on))
            .load(c))?;
        let lines = self.days_of(groups.first().copied().filter(|_| groups.len() == 1))?;
        let places = self.places_of(rows.iter().map(|row| row.1).collect())?;
        let mut found: BTreeMap<GroupId, Whom> = groups.iter().map(|id| (*id, Whom::default())).collect();
        for (group, pupil, from, until) in rows {
            let anew = || Attendance {
                weekdays: lines.get(&(group, pupil)).cloned().unwrap_or_default(),
                ..places.get(&pupil).cloned().unwrap_or_default()
            };
            let pupils = &mut found.entry(group).or_default().pupils;
            pupils.entry(pupil).or_insert_with(anew).days.push(Span { from, until });
        }
        Ok(found)
    }

    /// The calendars of several groups, each with its timetable.
    pub(super) fn calendars_of_groups(
        &mut self,
        groups: &BTreeSet<GroupId>,
    ) -> Result<BTreeMap<GroupId, (OwnCalendar, Vec<TimetableLine>)>, Error> {
        let (calendar, mut lines) = (self.calendar()?, self.timetables_of(groups)?);
        let own = |(group, whom)| {
            let own = OwnCalendar { calendar: calendar.clone(), whom };
            (group, (own, lines.remove(&group).unwrap_or_default()))
        };
        Ok(self.whom_of_groups(groups)?.into_iter().map(own).collect())
    }

    /// Records as coverage and open lists read them: by the calendar as it is by now nobody was absent who was not
    /// expected, whichever came first, the register or what closed the day.
    pub(super) fn of_the_expected(&mut self, records: Vec<SavedRecord>) -> Result<Vec<SavedRecord>, Error> {
        let absent = |record: &Record| record.register.iter().any(|entry| entry.mark == Mark::Absent);
        let those = records.iter().map(|saved| &saved.record).filter(|record| absent(record));
        let groups: BTreeSet<GroupId> = those.map(|record| record.group).collect();
        if groups.is_empty() {
            return Ok(records);
        }
        let calendars = self.calendars_of_groups(&groups)?;
        let read = |saved: SavedRecord| match calendars.get(&saved.record.group) {
            Some((own, lines)) => SavedRecord { record: of_the_expected(saved.record, own, lines), ..saved },
            None => saved,
        };
        Ok(records.into_iter().map(read).collect())
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
        for (pupil, place) in self.places_of(attending.keys().copied().collect())? {
            if let Some(one) = attending.get_mut(&pupil) {
                (one.classes, one.year_groups) = (place.classes, place.year_groups);
            }
        }
        Ok(Whom { pupils: attending, ..whom })
    }

    /// Classes and year groups of pupils.
    fn places_of(&mut self, pupils: BTreeSet<PupilId>) -> Result<BTreeMap<PupilId, Attendance>, Error> {
        let school = self.school();
        let mut places: BTreeMap<PupilId, Attendance> = BTreeMap::new();
        for pupils in pupils.into_iter().collect::<Vec<_>>().chunks(BATCH) {
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
                places.entry(pupil).or_default().classes.push((class, Span { from, until }));
            }
            for (pupil, year, code) in years {
                places.entry(pupil).or_default().year_groups.push((year, code));
            }
        }
        Ok(places)
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
