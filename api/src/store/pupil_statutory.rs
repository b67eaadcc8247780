//! Results of the statutory check of a pupil, moved from one record of a child to another.

use std::collections::BTreeMap;

use diesel::prelude::*;
use plumbline_core::id::{EarlierResultId, PupilId, StatutoryResultId, StatutoryWindowId};
use serde::{Deserialize, Serialize};

use super::{
    Error, Tx,
    conn::db,
    schema::{earlier_statutory_result, statutory_result},
};

/// Of which entries and results brought in a pupil has.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct StatutoryOf {
    entries: BTreeMap<StatutoryResultId, StatutoryWindowId>,
    earlier: Vec<EarlierResultId>,
}

/// The mark and the code of an entry.
type InForce = (Option<i16>, Option<String>);

impl Tx<'_> {
    pub(super) fn statutory_of(&mut self, pupil: PupilId) -> Result<StatutoryOf, Error> {
        let school = self.school();
        let entries: Vec<(StatutoryResultId, StatutoryWindowId)> = db!(self.conn, c => statutory_result::table
            .filter(statutory_result::school_id.eq(school))
            .filter(statutory_result::pupil_id.eq(pupil))
            .select((statutory_result::id, statutory_result::window_id))
            .load(c))?;
        let earlier = db!(self.conn, c => earlier_statutory_result::table
            .filter(earlier_statutory_result::school_id.eq(school))
            .filter(earlier_statutory_result::pupil_id.eq(pupil))
            .order(earlier_statutory_result::id)
            .select(earlier_statutory_result::id)
            .load(c))?;
        Ok(StatutoryOf { entries: entries.into_iter().collect(), earlier })
    }

    /// Whether both have a result in force in one window, and not the same: nobody but an adult says which holds.
    pub(super) fn results_differ(&mut self, one: &StatutoryOf, other: &StatutoryOf) -> Result<bool, Error> {
        let (mine, theirs) = (self.in_force_of(one)?, self.in_force_of(other)?);
        Ok(mine.iter().any(|(window, result)| theirs.get(window).is_some_and(|other| other != result)))
    }

    fn in_force_of(&mut self, of: &StatutoryOf) -> Result<BTreeMap<StatutoryWindowId, InForce>, Error> {
        let school = self.school();
        let rows: Vec<(StatutoryWindowId, Option<i16>, Option<String>)> = db!(self.conn, c => statutory_result::table
                .filter(statutory_result::school_id.eq(school))
                .filter(statutory_result::id.eq_any(of.entries.keys()))
                .order((statutory_result::v, statutory_result::id))
                .select((statutory_result::window_id, statutory_result::mark, statutory_result::code))
                .load(c))?;
        let mut last: BTreeMap<_, _> =
            rows.into_iter().map(|(window, mark, code)| (window, (mark, code))).collect();
        last.retain(|_, (mark, code)| mark.is_some() || code.is_some());
        Ok(last)
    }

    pub(super) fn move_statutory(&mut self, of: &StatutoryOf, to: PupilId) -> Result<(), Error> {
        let school = self.school();
        db!(self.conn, c => diesel::update(statutory_result::table
            .filter(statutory_result::school_id.eq(school))
            .filter(statutory_result::id.eq_any(of.entries.keys())))
            .set(statutory_result::pupil_id.eq(to))
            .execute(c))?;
        db!(self.conn, c => diesel::update(earlier_statutory_result::table
            .filter(earlier_statutory_result::school_id.eq(school))
            .filter(earlier_statutory_result::id.eq_any(&of.earlier)))
            .set(earlier_statutory_result::pupil_id.eq(to))
            .execute(c))?;
        Ok(())
    }
}

impl StatutoryOf {
    /// Whether something was entered since in a window this one had a result in.
    pub(super) fn went_on(&self, left: &Self, now: &Self) -> bool {
        let since = now.entries.iter().filter(|(id, _)| !left.entries.contains_key(id));
        let mine: Vec<&StatutoryWindowId> = self.entries.values().collect();
        since.into_iter().any(|(_, window)| mine.contains(&window))
    }
}
