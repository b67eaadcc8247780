//! Proposals of teaching groups. They tell what pupils have to learn, so none is read, or kept, beyond its
//! time.

use std::collections::BTreeSet;

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::GroupProposals,
    },
    grouping::{Asked, Figures, Proposal},
    id::{GroupId, GroupProposalId, PupilId, SchoolId, SequenceId, StaffId, VersionId},
    rules::GroupingRule,
    time::{Date, Instant},
};
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::{
    Error, Permit, Stood, Tx,
    conn::db,
    schema::{group_proposal, sequence_version},
};

/// How many proposals a school keeps; the oldest go first.
const KEPT: i64 = 20;

#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = group_proposal, treat_none_as_default_value = false)]
struct Row {
    school_id: SchoolId,
    id: GroupProposalId,
    version_id: VersionId,
    as_of: Date,
    asked: Value,
    stood: Value,
    result: Value,
    figures: Value,
    created_by: StaffId,
    created_at: Instant,
    kept_until: Instant,
    accepted: Option<Value>,
}

/// What was proposed, and by which weights.
#[derive(Serialize, Deserialize)]
struct Kept {
    proposal: Proposal,
    weights: GroupingRule,
}

/// From which day on which groups are as proposed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Accepted {
    /// The first day.
    pub on: Date,
    /// The groups, in the order asked.
    pub groups: Vec<GroupId>,
}

/// A proposal to be kept.
#[derive(Clone, Debug)]
pub struct NewGroupProposal {
    /// What was asked.
    pub asked: Asked,
    /// The day whose records counted.
    pub as_of: Date,
    /// The version of the sequence in force that day.
    pub version: VersionId,
    /// How groups and members stood.
    pub stood: Stood,
    /// What was proposed.
    pub proposal: Proposal,
    /// By which weights.
    pub weights: GroupingRule,
}

/// A proposal without what was asked and what is proposed: nothing of any pupil.
#[derive(Clone, Debug)]
pub struct GroupProposalHead {
    /// Its id.
    pub id: GroupProposalId,
    /// The sequence.
    pub sequence: SequenceId,
    /// The version of it that counted.
    pub version: VersionId,
    /// The day whose records counted.
    pub as_of: Date,
    /// Its figures.
    pub figures: Figures,
    /// Who asked.
    pub created_by: StaffId,
    /// When.
    pub created_at: Instant,
    /// Until when it is kept.
    pub kept_until: Instant,
    /// The day it was accepted for, if it was.
    pub accepted: Option<Accepted>,
}

/// A proposal.
#[derive(Clone, Debug)]
pub struct GroupProposal {
    /// All but what follows.
    pub head: GroupProposalHead,
    /// What was asked.
    pub asked: Asked,
    /// What is proposed.
    pub proposal: Proposal,
    /// By which weights.
    pub weights: GroupingRule,
    pub(super) stood: Stood,
}

impl GroupProposal {
    /// Everybody it places.
    pub fn placed(&self) -> impl Iterator<Item = PupilId> {
        self.proposal.groups.iter().flat_map(|group| &group.pupils).map(|one| one.id)
    }

    /// Groups there are that it fills or empties.
    pub fn groups_touched(&self) -> BTreeSet<GroupId> {
        self.asked.groups_touched()
    }

    fn from_row(row: Row) -> Result<Self, Error> {
        let Kept { proposal, weights } = serde_json::from_value(row.result)?;
        let asked: Asked = serde_json::from_value(row.asked)?;
        Ok(Self {
            head: GroupProposalHead {
                id: row.id,
                sequence: asked.sequence_id,
                version: row.version_id,
                as_of: row.as_of,
                figures: serde_json::from_value(row.figures)?,
                created_by: row.created_by,
                created_at: row.created_at,
                kept_until: row.kept_until,
                accepted: row.accepted.map(serde_json::from_value).transpose()?,
            },
            asked,
            proposal,
            weights,
            stood: serde_json::from_value(row.stood)?,
        })
    }
}

impl<'tx> Tx<'tx> {
    /// Keeps a proposal for the days the rule pack says; the oldest make room.
    ///
    /// # Errors
    /// If the store fails.
    pub fn add_group_proposal(
        &mut self,
        _permit: &Permit<'tx, Manage, GroupProposals>,
        new: &NewGroupProposal,
    ) -> Result<GroupProposal, Error> {
        let school = self.school();
        let oldest: Vec<GroupProposalId> = db!(self.conn, c => group_proposal::table
            .filter(group_proposal::school_id.eq(school))
            .order(group_proposal::id.desc())
            .offset(KEPT - 1)
            .limit(KEPT)
            .select(group_proposal::id)
            .load(c))?;
        db!(self.conn, c => diesel::delete(group_proposal::table
            .filter(group_proposal::school_id.eq(school))
            .filter(group_proposal::id.eq_any(&oldest)))
            .execute(c))?;
        let kept = Kept { proposal: new.proposal.clone(), weights: new.weights.clone() };
        let row = Row {
            school_id: school,
            id: self.new_id(),
            version_id: new.version,
            as_of: new.as_of,
            asked: serde_json::to_value(&new.asked)?,
            stood: serde_json::to_value(&new.stood)?,
            result: serde_json::to_value(&kept)?,
            figures: serde_json::to_value(new.proposal.figures())?,
            created_by: self.actor.staff,
            created_at: self.now(),
            kept_until: self.in_days(new.weights.kept_days),
            accepted: None,
        };
        db!(self.conn, c => diesel::insert_into(group_proposal::table).values(&row).execute(c))?;
        self.about("group_proposal", row.id.uuid());
        GroupProposal::from_row(row)
    }

    /// The school's proposals, the latest first.
    ///
    /// # Errors
    /// If the store fails.
    pub fn group_proposals(
        &mut self,
        _permit: &Permit<'tx, Read, GroupProposals>,
    ) -> Result<Vec<GroupProposalHead>, Error> {
        let (school, now) = (self.school(), self.now());
        type Found =
            (GroupProposalId, SequenceId, VersionId, Date, Value, StaffId, Instant, Instant, Option<Value>);
        let rows: Vec<Found> = db!(self.conn, c => group_proposal::table
            .inner_join(sequence_version::table.on(sequence_version::school_id.eq(group_proposal::school_id)
                .and(sequence_version::id.eq(group_proposal::version_id))))
            .filter(group_proposal::school_id.eq(school))
            .filter(group_proposal::kept_until.gt(now))
            .order(group_proposal::id.desc())
            .select((
                group_proposal::id,
                sequence_version::sequence_id,
                group_proposal::version_id,
                group_proposal::as_of,
                group_proposal::figures,
                group_proposal::created_by,
                group_proposal::created_at,
                group_proposal::kept_until,
                group_proposal::accepted,
            ))
            .load(c))?;
        let head =
            |(id, sequence, version, as_of, figures, created_by, created_at, kept_until, accepted): Found| {
                Ok(GroupProposalHead {
                    id,
                    sequence,
                    version,
                    as_of,
                    figures: serde_json::from_value(figures)?,
                    created_by,
                    created_at,
                    kept_until,
                    accepted: accepted.map(serde_json::from_value).transpose()?,
                })
            };
        rows.into_iter().map(head).collect()
    }

    /// One proposal. Its reading is logged.
    ///
    /// # Errors
    /// [`Error::Missing`] if there is none, or its time is over.
    pub fn group_proposal<A>(
        &mut self,
        _permit: &Permit<'tx, A, GroupProposals>,
        id: GroupProposalId,
    ) -> Result<GroupProposal, Error> {
        let (school, now) = (self.school(), self.now());
        self.about("group_proposal", id.uuid());
        let row: Row = db!(self.conn, c => group_proposal::table
            .find((school, id))
            .filter(group_proposal::kept_until.gt(now))
            .select(Row::as_select())
            .first(c))?;
        GroupProposal::from_row(row)
    }

    /// Drops a proposal. Groups made of it stay.
    ///
    /// # Errors
    /// [`Error::Missing`] if there is none.
    pub fn remove_group_proposal(
        &mut self,
        _permit: &Permit<'tx, Manage, GroupProposals>,
        id: GroupProposalId,
    ) -> Result<(), Error> {
        let (school, now) = (self.school(), self.now());
        self.about("group_proposal", id.uuid());
        let gone = db!(self.conn, c => diesel::delete(group_proposal::table
            .find((school, id))
            .filter(group_proposal::kept_until.gt(now)))
            .execute(c))?;
        if gone == 0 { Err(Error::Missing) } else { Ok(()) }
    }
}
