//! The server at work on a proposal that somebody was permitted to ask for.

use diesel::prelude::*;
use plumbline_core::{
    id::{ProposalId, SchoolId, StaffId},
    sequence::{ProposalStatus, silent_before},
    time::Instant,
};

use crate::store::{
    Error, Store, audit,
    conn::{Conn, db},
    schema::sequence_proposal,
};

/// How a proposal ended, other than by being cancelled.
#[derive(Clone, Debug)]
pub enum ProposalEnd {
    /// With a result.
    Done(serde_json::Value),
    /// Without one, and why.
    Failed(String),
}

impl Store {
    /// Takes a waiting proposal on; false if it does not wait any more. What was silent for too long
    /// has failed, here and below, and stays so.
    ///
    /// # Errors
    /// If the store fails.
    pub fn begin_proposal(&self, school: SchoolId, id: ProposalId) -> Result<bool, Error> {
        let clock = self.clock();
        self.transact(move |mut conn| {
            let now = clock.now();
            let begun = db!(conn, c => diesel::update(sequence_proposal::table.find((school, id))
                .filter(sequence_proposal::status.eq(ProposalStatus::Queued))
                .filter(sequence_proposal::alive_at.ge(silent_before(now))))
                .set((
                    sequence_proposal::status.eq(ProposalStatus::Running),
                    sequence_proposal::alive_at.eq(now),
                ))
                .execute(c))?;
            Ok(begun == 1)
        })
    }

    /// Says that this server still has a proposal in hand, and at which step; false if it was
    /// given up meanwhile.
    ///
    /// # Errors
    /// If the store fails.
    pub fn keep_proposal(&self, school: SchoolId, id: ProposalId, step: i32) -> Result<bool, Error> {
        let clock = self.clock();
        self.transact(move |mut conn| {
            let now = clock.now();
            let kept = db!(conn, c => diesel::update(sequence_proposal::table.find((school, id))
                .filter(sequence_proposal::status.eq_any(ProposalStatus::UNFINISHED))
                .filter(sequence_proposal::alive_at.ge(silent_before(now))))
                .set((sequence_proposal::step.eq(step), sequence_proposal::alive_at.eq(now)))
                .execute(c))?;
            Ok(kept == 1)
        })
    }

    /// Writes down how a proposal ended, in the name of whoever asked for it. One given up
    /// meanwhile stays so.
    ///
    /// # Errors
    /// If the store fails.
    pub fn end_proposal(&self, school: SchoolId, id: ProposalId, end: ProposalEnd) -> Result<(), Error> {
        let clock = self.clock();
        self.transact(move |mut conn| {
            let Some(asked_by) = save_end(&mut conn, school, id, &end, clock.now())? else { return Ok(()) };
            let subject = Some(("sequence_proposal", id.uuid()));
            audit::note(&mut conn, school, clock.now(), "sequence_proposal.end", asked_by, subject)
        })
    }
}

/// Who asked for the proposal; none if it was over already.
fn save_end(
    conn: &mut Conn<'_>,
    school: SchoolId,
    id: ProposalId,
    end: &ProposalEnd,
    now: Instant,
) -> Result<Option<StaffId>, Error> {
    let (status, result, problem) = match end {
        ProposalEnd::Done(result) => (ProposalStatus::Done, Some(result), None),
        ProposalEnd::Failed(why) => (ProposalStatus::Failed, None, Some(why)),
    };
    Ok(db!(*conn, c => diesel::update(sequence_proposal::table.find((school, id))
        .filter(sequence_proposal::status.eq_any(ProposalStatus::UNFINISHED))
        .filter(sequence_proposal::alive_at.ge(silent_before(now))))
        .set((
            sequence_proposal::status.eq(status),
            sequence_proposal::result.eq(result),
            sequence_proposal::problem.eq(problem),
            sequence_proposal::finished_at.eq(Some(now)),
        ))
        .returning(sequence_proposal::created_by)
        .get_result(c)
        .optional())?)
}

#[cfg(test)]
mod tests {
    use plumbline_core::time::Date;

    use super::*;
    use crate::{
        clock::Clock,
        store::{Place, gate::tests::larchfield},
    };

    fn at(day: u32) -> Clock {
        Clock::starting(Date::from_ymd_opt(2026, 11, day).unwrap())
    }

    /// A proposal of a store, queued on the 25th, the day of the first clock.
    fn queued(store: &Store) -> (SchoolId, ProposalId) {
        let now = store.clock().now();
        let (school, staff) = larchfield(store);
        let id = ProposalId::from_uuid(uuid::Uuid::from_u128(7));
        let add = move |mut conn: Conn<'_>| -> Result<(), Error> {
            db!(conn, c => diesel::insert_into(sequence_proposal::table).values((
                sequence_proposal::school_id.eq(school),
                sequence_proposal::id.eq(id),
                sequence_proposal::status.eq(ProposalStatus::Queued),
                sequence_proposal::constraints.eq(serde_json::json!({})),
                sequence_proposal::created_by.eq(staff),
                sequence_proposal::created_at.eq(now),
                sequence_proposal::step.eq(0),
                sequence_proposal::alive_at.eq(now),
            )).execute(c))?;
            Ok(())
        };
        store.transact(add).unwrap();
        (school, id)
    }

    fn status(store: &Store, school: SchoolId, id: ProposalId) -> ProposalStatus {
        let read = |mut conn: Conn<'_>| -> Result<ProposalStatus, Error> {
            let row = sequence_proposal::table.find((school, id)).select(sequence_proposal::status);
            Ok(db!(conn, c => row.first(c))?)
        };
        store.snapshot(read).unwrap()
    }

    #[test]
    fn what_was_silent_for_too_long_is_not_taken_up_again() {
        let folder = tempfile::tempdir().unwrap();
        let place = Place::Sqlite(folder.path().join("store.db").display().to_string());
        Store::migrate(&place).unwrap();
        let (on_time, late) =
            (Store::open(&place, at(25), 1).unwrap(), Store::open(&place, at(26), 1).unwrap());
        let (school, id) = queued(&on_time);
        let done = || ProposalEnd::Done(serde_json::json!({}));
        assert!(!late.begin_proposal(school, id).unwrap());
        assert!(on_time.begin_proposal(school, id).unwrap());
        assert!(!late.keep_proposal(school, id, 3).unwrap());
        late.end_proposal(school, id, done()).unwrap();
        assert_eq!(status(&on_time, school, id), ProposalStatus::Running);
        assert!(on_time.keep_proposal(school, id, 3).unwrap());
        on_time.end_proposal(school, id, done()).unwrap();
        assert_eq!(status(&on_time, school, id), ProposalStatus::Done);
    }
}
