//! Until when there are lessons on record.

use std::collections::BTreeSet;

use diesel::{dsl::max, prelude::*};
use plumbline_core::{access::resource::Group, id::GroupId, time::Date};

use super::{
    Error, Permit, Tx,
    conn::db,
    schema::{catch_up, lesson_record},
};

impl<'tx> Tx<'tx> {
    /// The last day from a day on with a lesson of the group, or catch-up in it, on record.
    ///
    /// # Errors
    /// If the store fails.
    pub fn last_taught<A>(
        &mut self,
        permit: &Permit<'tx, A, Group>,
        since: Date,
    ) -> Result<Option<Date>, Error> {
        let (school, group) = (self.school(), permit.resource().0);
        let catch_up: Option<Date> = db!(self.conn, c => catch_up::table
            .filter(catch_up::school_id.eq(school))
            .filter(catch_up::group_id.eq(group))
            .filter(catch_up::on_date.ge(since))
            .filter(catch_up::deleted_at.is_null())
            .select(max(catch_up::on_date))
            .first(c))?;
        Ok(self.last_lesson_of(&[group].into(), since)?.max(catch_up))
    }

    /// The last day from a day on with a lesson of one of these groups on record.
    pub(super) fn last_lesson_of(
        &mut self,
        groups: &BTreeSet<GroupId>,
        since: Date,
    ) -> Result<Option<Date>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => lesson_record::table
            .filter(lesson_record::school_id.eq(school))
            .filter(lesson_record::group_id.eq_any(groups))
            .filter(lesson_record::on_date.ge(since))
            .filter(lesson_record::deleted_at.is_null())
            .select(max(lesson_record::on_date))
            .first(c))?)
    }
}
