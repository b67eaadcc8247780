//! Until when there are lessons on record.

use std::collections::BTreeSet;

use diesel::{dsl::max, prelude::*};
use plumbline_core::{access::resource::Group, id::GroupId, time::Date};

use super::{Error, Permit, Tx, conn::db, schema::lesson_record};

impl<'tx> Tx<'tx> {
    /// The last day from a day on with a lesson of the group on record.
    ///
    /// # Errors
    /// If the store fails.
    pub fn last_lesson<A>(
        &mut self,
        permit: &Permit<'tx, A, Group>,
        since: Date,
    ) -> Result<Option<Date>, Error> {
        self.last_lesson_of(&[permit.resource().0].into(), since)
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
