//! How a group answered for each correspondence.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use plumbline_core::{
    access::resource::Group,
    check::Outcome,
    id::{CheckItemId, ItemId, PupilId, ResponseId},
    time::Date,
};

use super::{Error, Permit, Tx, conn::db, schema::response};

/// How the members of a group answered for one correspondence.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Answers that count.
    pub asked: usize,
    /// Those that were not right.
    pub wrong: usize,
    /// Pupils who gave one.
    pub pupils: usize,
}

impl<'tx> Tx<'tx> {
    /// How pupils answered for each correspondence between two days, both included, answers carried
    /// in too. In a small
    /// group, or where few answered, a count is somebody's own answer: it may weigh what a lesson
    /// goes back to, and is shown only to readers of the pupils' checks and from the rule pack's
    /// smallest group on.
    ///
    /// # Errors
    /// If the store fails.
    pub fn group_tallies<A>(
        &mut self,
        _permit: &Permit<'tx, A, Group>,
        members: &[PupilId],
        (since, until): (Date, Date),
    ) -> Result<BTreeMap<ItemId, Tally>, Error> {
        let school = self.school();
        let asks = self.gpcs_asked()?;
        // What a correction of any day replaced does not count.
        let replaced: Vec<ResponseId> = db!(self.conn, c => response::table
            .filter(response::school_id.eq(school))
            .filter(response::pupil_id.eq_any(members))
            .filter(response::corrects.is_not_null())
            .select(response::corrects.assume_not_null())
            .load(c))?;
        let rows: Vec<(ResponseId, CheckItemId, PupilId, Outcome)> = db!(self.conn, c => response::table
            .filter(response::school_id.eq(school))
            .filter(response::pupil_id.eq_any(members))
            .filter(response::on_date.between(since, until))
            .select((response::id, response::item_id, response::pupil_id, response::outcome))
            .load(c))?;
        let mut out: BTreeMap<ItemId, Tally> = BTreeMap::new();
        let mut who: BTreeSet<(ItemId, PupilId)> = BTreeSet::new();
        let mut count = |gpc: ItemId, pupil: PupilId, outcome: Outcome| {
            let tally = out.entry(gpc).or_default();
            tally.asked += 1;
            tally.pupils += usize::from(who.insert((gpc, pupil)));
            tally.wrong += usize::from(outcome != Outcome::Right);
        };
        for (id, item, pupil, outcome) in rows {
            let counts = outcome != Outcome::NotOffered && !replaced.contains(&id);
            if let Some(gpc) = asks.get(&item).filter(|_| counts) {
                count(*gpc, pupil, outcome);
            }
        }
        for row in self.carried_of(members, Some((since, until)))? {
            for (gpc, outcome) in row.by_gpc()? {
                count(gpc, row.pupil_id, outcome);
            }
        }
        Ok(out)
    }
}
