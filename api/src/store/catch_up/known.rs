//! What an id stands for that a device gave a catch-up record.

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Record, resource::GroupDay},
    id::CatchUpId,
};

use super::{CatchUpRow, Of, SavedCatchUp};
use crate::store::{Error, Permit, Tx, conn::db, schema::catch_up};

/// What an id stands for that a device gave a record.
#[derive(Clone, Debug)]
pub enum KnownCatchUp {
    /// A record of the group and day asked about.
    Here(SavedCatchUp),
    /// A record of another group or day.
    Elsewhere,
    /// One of the group and day that was deleted.
    Deleted,
}

impl<'tx> Tx<'tx> {
    /// What is under an id: a record of the group and day, one of another, or what was deleted.
    ///
    /// # Errors
    /// If the store fails.
    pub fn catch_up_known(
        &mut self,
        permit: &Permit<'tx, Record, GroupDay>,
        id: CatchUpId,
    ) -> Result<Option<KnownCatchUp>, Error> {
        let (school, day) = (self.school(), *permit.resource());
        let row: Option<CatchUpRow> = db!(self.conn, c => catch_up::table
            .find((school, id))
            .select(CatchUpRow::as_select())
            .first(c)
            .optional())?;
        let Some(row) = row else { return Ok(None) };
        if (row.group_id, row.on_date) != (day.group, day.on) {
            return Ok(Some(KnownCatchUp::Elsewhere));
        }
        let saved = self.catch_ups(Of::Ids(&[id]))?.pop();
        Ok(Some(saved.map_or(KnownCatchUp::Deleted, KnownCatchUp::Here)))
    }
}
