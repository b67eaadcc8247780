//! What is no longer kept of the change log: that records left a scope or are gone, once no device that is still in
//! use can lack it. A device that was away for longer reads its scopes anew.

use diesel::{dsl::max, prelude::*};
use plumbline_core::{id::SchoolId, time::Instant};

use crate::store::{
    Error, Store,
    change::ChangeKind,
    conn::db,
    schema::{change, history, school},
};

/// Days for which departures are kept: more than a school year with its holidays.
const KEPT_DAYS: i64 = 400;

impl Store {
    /// Drops departures from before their time, of all schools; how many that were.
    ///
    /// # Errors
    /// If the store fails; what was dropped before stays dropped.
    pub fn drop_old_departures(&self) -> Result<usize, Error> {
        let before = self.clock().now().plus_seconds(-KEPT_DAYS * 86_400);
        self.schools()?.into_iter().map(|(id, _)| self.drop_departures(id, before)).sum()
    }

    /// The same of one school. The floor rises first: whoever reads from below it reads anew.
    fn drop_departures(&self, id: SchoolId, before: Instant) -> Result<usize, Error> {
        self.transact(move |mut conn| {
            let last: Option<i64> = db!(conn, c => history::table
                .filter(history::school_id.eq(id))
                .filter(history::at.lt(before))
                .select(max(history::v))
                .first(c))?;
            let Some(last) = last else { return Ok(0) };
            let raised = db!(conn, c => diesel::update(school::table.find(id).filter(school::floor.lt(last)))
                .set(school::floor.eq(last))
                .execute(c))?;
            if raised == 0 {
                return Ok(0);
            }
            Ok(db!(conn, c => diesel::delete(change::table
                .filter(change::school_id.eq(id))
                .filter(change::kind.ne(ChangeKind::Put))
                .filter(change::v.le(last)))
                .execute(c))?)
        })
    }
}
