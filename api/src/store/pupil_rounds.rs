//! What rounds of checks hold of one pupil, moved with the record.

use diesel::prelude::*;
use plumbline_core::id::{ExemptionId, PupilId, SittingId};
use serde::{Deserialize, Serialize};

use super::{
    Error, Tx,
    conn::db,
    schema::{exemption, sitting},
};

/// Sittings and exemptions of one pupil.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct InRounds {
    pub(super) sittings: Vec<SittingId>,
    exemptions: Vec<ExemptionId>,
}

impl Tx<'_> {
    pub(super) fn in_rounds(&mut self, id: PupilId) -> Result<InRounds, Error> {
        let school = self.school();
        let sittings = db!(self.conn, c => sitting::table
            .filter(sitting::school_id.eq(school))
            .filter(sitting::pupil_id.eq(id))
            .order(sitting::id)
            .select(sitting::id)
            .load(c))?;
        let exemptions = db!(self.conn, c => exemption::table
            .filter(exemption::school_id.eq(school))
            .filter(exemption::pupil_id.eq(id))
            .order(exemption::id)
            .select(exemption::id)
            .load(c))?;
        Ok(InRounds { sittings, exemptions })
    }

    /// Makes sittings and exemptions a pupil's.
    pub(super) fn move_in_rounds(&mut self, of: &InRounds, to: PupilId) -> Result<(), Error> {
        let school = self.school();
        db!(self.conn, c => diesel::update(sitting::table
            .filter(sitting::school_id.eq(school))
            .filter(sitting::id.eq_any(&of.sittings)))
            .set(sitting::pupil_id.eq(to))
            .execute(c))?;
        db!(self.conn, c => diesel::update(exemption::table
            .filter(exemption::school_id.eq(school))
            .filter(exemption::id.eq_any(&of.exemptions)))
            .set(exemption::pupil_id.eq(to))
            .execute(c))?;
        Ok(())
    }
}
