//! Sequence proposals as their school sees them. The server works them off through
//! [`super::gate`], because nobody need be signed in by then.

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::SequenceProposals,
    },
    id::{ProposalId, SchoolId, StaffId},
    sequence::{INTERRUPTED, ProposalStatus, silent_before},
    time::Instant,
};

use super::{Error, Permit, Tx, conn::db, schema::sequence_proposal};

/// A proposal without its result.
#[derive(Clone, Debug, Queryable, Selectable)]
#[diesel(table_name = sequence_proposal)]
pub struct ProposalRow {
    /// Its id.
    pub id: ProposalId,
    /// How it stands.
    pub status: ProposalStatus,
    /// What it must keep to.
    pub constraints: serde_json::Value,
    /// Who asked.
    pub created_by: StaffId,
    /// When.
    pub created_at: Instant,
    /// The step being filled, from 1; 0 before the first.
    pub step: i32,
    /// When its server last said so.
    pub alive_at: Instant,
    /// When it ended.
    pub finished_at: Option<Instant>,
    /// Why there is no result.
    pub problem: Option<String>,
}

#[derive(Insertable)]
#[diesel(table_name = sequence_proposal, treat_none_as_default_value = false)]
struct ProposalInsert {
    school_id: SchoolId,
    id: ProposalId,
    status: ProposalStatus,
    constraints: serde_json::Value,
    created_by: StaffId,
    created_at: Instant,
    step: i32,
    alive_at: Instant,
    finished_at: Option<Instant>,
    result: Option<serde_json::Value>,
    problem: Option<String>,
}

/// How many proposals a school keeps; the oldest go first.
const KEPT: i64 = 20;

impl ProposalRow {
    /// As it stands now: one whose server is gone has failed.
    fn standing(mut self, now: Instant) -> Self {
        let status = self.status.standing(self.alive_at, now);
        if status != self.status {
            (self.status, self.problem) = (status, Some(INTERRUPTED.to_owned()));
            self.finished_at = Some(self.alive_at);
        }
        self
    }
}

impl<'tx> Tx<'tx> {
    /// The school's proposals, the latest first.
    ///
    /// # Errors
    /// If the store fails.
    pub fn proposals(
        &mut self,
        _permit: &Permit<'tx, Read, SequenceProposals>,
    ) -> Result<Vec<ProposalRow>, Error> {
        let (school, now) = (self.school(), self.now());
        let rows: Vec<ProposalRow> = db!(self.conn, c => sequence_proposal::table
            .filter(sequence_proposal::school_id.eq(school))
            .order(sequence_proposal::id.desc())
            .select(ProposalRow::as_select())
            .load(c))?;
        Ok(rows.into_iter().map(|row| row.standing(now)).collect())
    }

    /// One proposal, and its result where it has one.
    ///
    /// # Errors
    /// [`Error::Missing`] if there is none.
    pub fn proposal(
        &mut self,
        _permit: &Permit<'tx, Read, SequenceProposals>,
        id: ProposalId,
    ) -> Result<(ProposalRow, Option<serde_json::Value>), Error> {
        let (school, now) = (self.school(), self.now());
        let (row, result): (ProposalRow, Option<serde_json::Value>) = db!(self.conn, c => sequence_proposal::table
                .find((school, id))
                .select((ProposalRow::as_select(), sequence_proposal::result))
                .first(c))?;
        Ok((row.standing(now), result))
    }

    /// Adds a proposal that waits for its turn; the oldest make room.
    ///
    /// # Errors
    /// [`Error::Busy`] while another one of the school is not over.
    pub fn add_proposal(
        &mut self,
        _permit: &Permit<'tx, Manage, SequenceProposals>,
        constraints: serde_json::Value,
    ) -> Result<ProposalRow, Error> {
        self.give_up_silent()?;
        let (school, now) = (self.school(), self.now());
        let under_way: i64 = db!(self.conn, c => sequence_proposal::table
            .filter(sequence_proposal::school_id.eq(school))
            .filter(sequence_proposal::status.eq_any(ProposalStatus::UNFINISHED))
            .count()
            .get_result(c))?;
        if under_way > 0 {
            return Err(Error::Busy);
        }
        let oldest: Vec<ProposalId> = db!(self.conn, c => sequence_proposal::table
            .filter(sequence_proposal::school_id.eq(school))
            .order(sequence_proposal::id.desc())
            .offset(KEPT - 1)
            .limit(KEPT)
            .select(sequence_proposal::id)
            .load(c))?;
        db!(self.conn, c => diesel::delete(sequence_proposal::table
            .filter(sequence_proposal::school_id.eq(school))
            .filter(sequence_proposal::id.eq_any(&oldest)))
            .execute(c))?;
        let insert = ProposalInsert {
            school_id: school,
            id: self.new_id(),
            status: ProposalStatus::Queued,
            constraints,
            created_by: self.actor.staff,
            created_at: now,
            step: 0,
            alive_at: now,
            finished_at: None,
            result: None,
            problem: None,
        };
        db!(self.conn, c => diesel::insert_into(sequence_proposal::table).values(&insert).execute(c))?;
        self.about("sequence_proposal", insert.id.uuid());
        Ok(ProposalRow {
            id: insert.id,
            status: insert.status,
            constraints: insert.constraints,
            created_by: insert.created_by,
            created_at: now,
            step: 0,
            alive_at: now,
            finished_at: None,
            problem: None,
        })
    }

    /// Writes down what [`ProposalRow::standing`] says, so that a server which comes back late
    /// finds its work given up.
    fn give_up_silent(&mut self) -> Result<(), Error> {
        let (school, now) = (self.school(), self.now());
        db!(self.conn, c => diesel::update(sequence_proposal::table
            .filter(sequence_proposal::school_id.eq(school))
            .filter(sequence_proposal::status.eq_any(ProposalStatus::UNFINISHED))
            .filter(sequence_proposal::alive_at.lt(silent_before(now))))
            .set((
                sequence_proposal::status.eq(ProposalStatus::Failed),
                sequence_proposal::problem.eq(Some(INTERRUPTED)),
                sequence_proposal::finished_at.eq(Some(now)),
            ))
            .execute(c))?;
        Ok(())
    }

    /// Gives a proposal up. One given up before stays so.
    ///
    /// # Errors
    /// [`Error::Missing`] if there is none, [`Error::Conflict`] if it has ended otherwise.
    pub fn cancel_proposal(
        &mut self,
        _permit: &Permit<'tx, Manage, SequenceProposals>,
        id: ProposalId,
    ) -> Result<(), Error> {
        self.give_up_silent()?;
        self.about("sequence_proposal", id.uuid());
        let (school, now) = (self.school(), self.now());
        let status: ProposalStatus = db!(self.conn, c => sequence_proposal::table
            .find((school, id))
            .select(sequence_proposal::status)
            .first(c))?;
        match status {
            ProposalStatus::Cancelled => Ok(()),
            ProposalStatus::Done | ProposalStatus::Failed => Err(Error::Conflict),
            ProposalStatus::Queued | ProposalStatus::Running => {
                db!(self.conn, c => diesel::update(sequence_proposal::table.find((school, id)))
                    .set((
                        sequence_proposal::status.eq(ProposalStatus::Cancelled),
                        sequence_proposal::finished_at.eq(Some(now)),
                    ))
                    .execute(c))?;
                Ok(())
            }
        }
    }
}
