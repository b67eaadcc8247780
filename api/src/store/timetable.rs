//! The weekly lessons of groups, from a day on.

use diesel::{prelude::*, upsert::excluded};
use plumbline_core::{
    access::{act::Manage, resource::Group},
    calendar::TimetableLine,
    id::{GroupId, SchoolId},
    time::Date,
};
use serde_json::json;

use super::{Error, GroupRow, Permit, Tx, change::Scope, conn::db, schema::group_timetable};

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

    pub(super) fn timetable_of(&mut self, group: GroupId) -> Result<Vec<TimetableLine>, Error> {
        let school = self.school();
        let rows: Vec<(Date, Option<serde_json::Value>)> = db!(self.conn, c => group_timetable::table
            .filter(group_timetable::school_id.eq(school))
            .filter(group_timetable::group_id.eq(group))
            .order(group_timetable::from_on)
            .select((group_timetable::from_on, group_timetable::slots))
            .load(c))?;
        let line = |(from, slots): (Date, Option<serde_json::Value>)| {
            Ok(TimetableLine { from, slots: slots.map(serde_json::from_value).transpose()? })
        };
        rows.into_iter().map(line).collect()
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
