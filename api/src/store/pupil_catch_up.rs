//! The catch-up records that name a pupil, moved from one record of a child to another, and as they
//! stand in the way of undos.

use std::collections::BTreeSet;

use diesel::prelude::*;
use plumbline_core::{
    id::{CatchUpId, GroupId, PupilId},
    time::Date,
};

use super::{
    Error, Tx,
    conn::db,
    schema::{catch_up, catch_up_pupil},
};

impl Tx<'_> {
    /// The records that name a pupil, deleted ones too.
    pub(super) fn catch_ups_naming(&mut self, pupil: PupilId) -> Result<Vec<CatchUpId>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => catch_up_pupil::table
            .filter(catch_up_pupil::school_id.eq(school))
            .filter(catch_up_pupil::pupil_id.eq(pupil))
            .order(catch_up_pupil::catch_up_id)
            .select(catch_up_pupil::catch_up_id)
            .load(c))?)
    }

    /// Makes some records name one pupil in place of another, who is named in all of them. Those in
    /// `keep` name the other too.
    pub(super) fn rename_in_catch_ups(
        &mut self,
        ids: &[CatchUpId],
        [from, to]: [PupilId; 2],
        keep: &[CatchUpId],
    ) -> Result<(), Error> {
        let school = self.school();
        let known: BTreeSet<CatchUpId> = self.catch_ups_naming(to)?.into_iter().collect();
        let new: Vec<_> = ids.iter().filter(|id| !known.contains(id)).map(|id| (*id, to)).collect();
        self.add_to_catch_ups(&new)?;
        let gone: Vec<CatchUpId> = ids.iter().copied().filter(|id| !keep.contains(id)).collect();
        db!(self.conn, c => diesel::delete(catch_up_pupil::table
            .filter(catch_up_pupil::school_id.eq(school))
            .filter(catch_up_pupil::pupil_id.eq(from))
            .filter(catch_up_pupil::catch_up_id.eq_any(&gone)))
            .execute(c))?;
        Ok(())
    }

    /// Who was caught up on a day or later, and in which group, by records changed after a version.
    pub(super) fn caught_up_from(
        &mut self,
        first: Date,
        after: i64,
    ) -> Result<Vec<(GroupId, PupilId)>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => catch_up_pupil::table
            .inner_join(catch_up::table.on(catch_up::school_id.eq(catch_up_pupil::school_id)
                .and(catch_up::id.eq(catch_up_pupil::catch_up_id))))
            .filter(catch_up_pupil::school_id.eq(school))
            .filter(catch_up::on_date.ge(first))
            .filter(catch_up::v.gt(after))
            .filter(catch_up::deleted_at.is_null())
            .select((catch_up::group_id, catch_up_pupil::pupil_id))
            .load(c))?)
    }
}
