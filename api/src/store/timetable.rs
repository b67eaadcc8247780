//! The weekly lessons of groups, from a day on.

use std::{
    collections::{BTreeMap, BTreeSet},
    ops::Range,
};

use diesel::{prelude::*, upsert::excluded};
use plumbline_core::{
    access::{act::Manage, resource::Group},
    calendar::{Session, Slot, TimetableLine, sessions},
    id::{GroupId, SchoolId},
    time::{Date, earlier},
};
use serde_json::json;

use super::{
    Error, GroupRow, Permit, Tx,
    change::Scope,
    conn::db,
    schema::{group_timetable, teaching_group},
};

#[derive(Insertable)]
#[diesel(table_name = group_timetable, treat_none_as_default_value = false)]
struct LineInsert {
    school_id: SchoolId,
    group_id: GroupId,
    from_on: Date,
    slots: Option<serde_json::Value>,
}

impl<'tx> Tx<'tx> {
    /// A group's timetable, line by line from the earliest.
    ///
    /// # Errors
    /// If the store fails.
    pub fn timetable<A>(&mut self, permit: &Permit<'tx, A, Group>) -> Result<Vec<TimetableLine>, Error> {
        self.timetable_of(permit.resource().0)
    }

    /// The lessons that are due for a group from one date to another, both included; none after its last day.
    ///
    /// # Errors
    /// If the store fails.
    pub fn group_sessions<A>(
        &mut self,
        permit: &Permit<'tx, A, Group>,
        from: Date,
        to: Date,
    ) -> Result<Vec<Session>, Error> {
        let last = earlier(self.group(permit)?.closed_on, Some(to)).unwrap_or(to);
        Ok(sessions(&self.group_calendar(permit)?, &self.timetable(permit)?, from, last))
    }

    pub(super) fn timetable_of(&mut self, group: GroupId) -> Result<Vec<TimetableLine>, Error> {
        Ok(self.timetables_of(&[group].into())?.remove(&group).unwrap_or_default())
    }

    /// The timetables of some groups; none for those of which nothing is said.
    pub(super) fn timetables_of(
        &mut self,
        groups: &BTreeSet<GroupId>,
    ) -> Result<BTreeMap<GroupId, Vec<TimetableLine>>, Error> {
        let school = self.school();
        let rows: Vec<(GroupId, Date, Option<serde_json::Value>)> = db!(self.conn, c => group_timetable::table
            .filter(group_timetable::school_id.eq(school))
            .filter(group_timetable::group_id.eq_any(groups))
            .order((group_timetable::group_id, group_timetable::from_on))
            .select((group_timetable::group_id, group_timetable::from_on, group_timetable::slots))
            .load(c))?;
        let mut lines: BTreeMap<GroupId, Vec<TimetableLine>> = BTreeMap::new();
        for (group, from, slots) in rows {
            let slots = slots.map(serde_json::from_value).transpose()?;
            lines.entry(group).or_default().push(TimetableLine { from, slots });
        }
        Ok(lines)
    }

    /// The minutes of the day of lessons by the timetables of the school's groups, from a day on, up to the last of each
    /// group, and on whatever weekday.
    pub(super) fn lesson_times(&mut self, from: Date) -> Result<BTreeMap<GroupId, Vec<Range<u16>>>, Error> {
        let school = self.school();
        let rows: Vec<(GroupId, Date, Option<serde_json::Value>)> = db!(self.conn, c => group_timetable::table
            .inner_join(teaching_group::table.on(teaching_group::school_id.eq(group_timetable::school_id)
                .and(teaching_group::id.eq(group_timetable::group_id))))
            .filter(group_timetable::school_id.eq(school))
            .filter(teaching_group::closed_on.is_null()
                .or(teaching_group::closed_on.ge(group_timetable::from_on.nullable())))
            .order((group_timetable::group_id, group_timetable::from_on))
            .select((group_timetable::group_id, group_timetable::from_on, group_timetable::slots))
            .load(c))?;
        let mut times: BTreeMap<GroupId, Vec<Range<u16>>> = BTreeMap::new();
        for (group, from_on, slots) in rows {
            let slots: Vec<Slot> = slots.map(serde_json::from_value).transpose()?.unwrap_or_default();
            let of_group = times.entry(group).or_default();
            // The last line up to the day is the one it has then.
            if from_on <= from {
                of_group.clear();
            }
            of_group.extend(slots.iter().filter_map(Slot::minutes_of_day));
        }
        Ok(times)
    }

    /// Says which lessons a group has from a day on, in place of what was said for that day.
    ///
    /// # Errors
    /// If the store fails.
    pub fn set_timetable(
        &mut self,
        permit: &Permit<'tx, Manage, Group>,
        line: &TimetableLine,
    ) -> Result<GroupRow, Error> {
        let group_id = permit.resource().0;
        let slots = line.slots.as_ref().map(serde_json::to_value).transpose()?;
        let row = LineInsert { school_id: self.school(), group_id, from_on: line.from, slots };
        db!(self.conn, c => diesel::insert_into(group_timetable::table)
            .values(&row)
            .on_conflict((group_timetable::school_id, group_timetable::group_id, group_timetable::from_on))
            .do_update()
            .set(group_timetable::slots.eq(excluded(group_timetable::slots)))
            .execute(c))?;
        self.save("timetable", group_id.uuid(), &[Scope::Group(group_id)], line)?;
        let row = self.group_row(group_id)?;
        self.store_group(row)
    }

    /// Takes back what was said for a day.
    ///
    /// # Errors
    /// [`Error::Missing`] if nothing was.
    pub fn remove_timetable_line(
        &mut self,
        permit: &Permit<'tx, Manage, Group>,
        from: Date,
    ) -> Result<(), Error> {
        let (school, group) = (self.school(), permit.resource().0);
        let removed = db!(self.conn, c => diesel::delete(group_timetable::table.find((school, group, from)))
            .execute(c))?;
        if removed == 0 {
            return Err(Error::Missing);
        }
        match self.timetable_of(group)?.as_slice() {
            [] => self.save_gone("timetable", group.uuid(), &[Scope::Group(group)])?,
            _ => self.save("timetable", group.uuid(), &[Scope::Group(group)], &json!({"removed": from}))?,
        }
        let row = self.group_row(group)?;
        self.store_group(row)?;
        Ok(())
    }
}
