//! The server at work on a proposal that somebody was permitted to ask for.

use diesel::prelude::*;
use plumbline_core::{
    id::{ProposalId, SchoolId, StaffId},
    sequence::ProposalStatus,
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

const UNFINISHED: [ProposalStatus; 2] = [ProposalStatus::Queued, ProposalStatus::Running];

impl Store {
    /// Takes a waiting proposal on; false if it does not wait any more.
    ///
    /// # Errors
    /// If the store fails.
    pub fn begin_proposal(&self, school: SchoolId, id: ProposalId) -> Result<bool, Error> {
        let clock = self.clock();
        self.transact(move |mut conn| {
            let begun = db!(conn, c => diesel::update(sequence_proposal::table.find((school, id))
                .filter(sequence_proposal::status.eq(ProposalStatus::Queued)))
                .set((
                    sequence_proposal::status.eq(ProposalStatus::Running),
                    sequence_proposal::alive_at.eq(clock.now()),
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
            let kept = db!(conn, c => diesel::update(sequence_proposal::table.find((school, id))
                .filter(sequence_proposal::status.eq_any(UNFINISHED)))
                .set((sequence_proposal::step.eq(step), sequence_proposal::alive_at.eq(clock.now())))
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
    now: plumbline_core::time::Instant,
) -> Result<Option<StaffId>, Error> {
    let (status, result, problem) = match end {
        ProposalEnd::Done(result) => (ProposalStatus::Done, Some(result), None),
        ProposalEnd::Failed(why) => (ProposalStatus::Failed, None, Some(why)),
    };
    Ok(db!(*conn, c => diesel::update(sequence_proposal::table.find((school, id))
        .filter(sequence_proposal::status.eq_any(UNFINISHED)))
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
