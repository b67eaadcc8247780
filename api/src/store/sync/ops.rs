//! What replicas sent, by number: each is answered once.

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::Record,
        resource::{GroupDay, PupilSittings, Replica},
    },
    id::{OpId, ReplicaId, SchoolId},
    lesson,
    time::Instant,
};
use serde_json::Value;

use crate::store::{
    Error, Permit, Tx,
    change::{ChangeKind, Scope},
    conn::db,
    schema::{lesson_record, op, replica},
};

/// An operation to write down with its answer.
#[derive(Clone, Copy, Debug)]
pub struct NewOp<'a> {
    /// Its number.
    pub n: i64,
    /// Its id.
    pub op_id: OpId,
    /// Digest of what it said.
    pub sha256: [u8; 32],
    /// The answer.
    pub outcome: &'a Value,
    /// The version it made; 0 if it made none.
    pub v: i64,
}

#[derive(Insertable)]
#[diesel(table_name = op, treat_none_as_default_value = false)]
struct OpInsert<'a> {
    school_id: SchoolId,
    replica_id: ReplicaId,
    n: i64,
    op_id: OpId,
    sha256: Vec<u8>,
    outcome: &'a Value,
    v: i64,
    kept_until: Instant,
}

/// An operation that was answered.
#[derive(Clone, Debug, Queryable)]
pub struct AnsweredOp {
    /// Its number.
    pub n: i64,
    /// Its id.
    pub op_id: OpId,
    /// Digest of what it said.
    pub sha256: Vec<u8>,
    /// The answer.
    pub outcome: Value,
}

impl<'tx> Tx<'tx> {
    /// The operations of a replica from a number on whose answers are kept, in order.
    ///
    /// # Errors
    /// If the store fails.
    pub fn answered_ops(
        &mut self,
        permit: &Permit<'tx, Record, Replica>,
        from: i64,
    ) -> Result<Vec<AnsweredOp>, Error> {
        let (school, id) = (self.school(), permit.resource().0);
        Ok(db!(self.conn, c => op::table
            .filter(op::school_id.eq(school))
            .filter(op::replica_id.eq(id))
            .filter(op::n.ge(from))
            .order(op::n)
            .select((op::n, op::op_id, op::sha256, op::outcome))
            .load(c))?)
    }

    /// Writes down an operation and its answer.
    ///
    /// # Errors
    /// If the store fails.
    pub fn keep_op(&mut self, permit: &Permit<'tx, Record, Replica>, new: &NewOp<'_>) -> Result<(), Error> {
        let (school_id, replica_id) = (self.school(), permit.resource().0);
        let row = OpInsert {
            school_id,
            replica_id,
            n: new.n,
            op_id: new.op_id,
            sha256: new.sha256.to_vec(),
            outcome: new.outcome,
            v: new.v,
            kept_until: self.in_days(self.rules()?.tablets.answers_days),
        };
        db!(self.conn, c => diesel::insert_into(op::table).values(&row).execute(c))?;
        Ok(())
    }

    /// Writes down which operation of the replica is the last that was answered.
    ///
    /// # Errors
    /// If the store fails.
    pub fn answered_up_to(&mut self, permit: &Permit<'tx, Record, Replica>, n: i64) -> Result<(), Error> {
        let (school, id) = (self.school(), permit.resource().0);
        db!(self.conn, c => diesel::update(replica::table.find((school, id)))
            .set(replica::last_n.eq(n))
            .execute(c))?;
        Ok(())
    }

    /// Forgets the answers the replica has by now.
    ///
    /// # Errors
    /// If the store fails.
    pub fn forget_ops(&mut self, permit: &Permit<'tx, Record, Replica>, up_to: i64) -> Result<(), Error> {
        let (school, id) = (self.school(), permit.resource().0);
        db!(self.conn, c => diesel::delete(op::table
            .filter(op::school_id.eq(school))
            .filter(op::replica_id.eq(id))
            .filter(op::n.le(up_to)))
            .execute(c))?;
        Ok(())
    }

    /// Whether the replica itself made a version, in this transaction or by an operation whose answer it may not
    /// have yet: what it did next was done knowing of it.
    ///
    /// # Errors
    /// If the store fails.
    pub fn made_here(&mut self, permit: &Permit<'tx, Record, Replica>, v: i64) -> Result<bool, Error> {
        let (school, id) = (self.school(), permit.resource().0);
        let by_it: i64 = db!(self.conn, c => op::table
            .filter(op::school_id.eq(school))
            .filter(op::replica_id.eq(id))
            .filter(op::v.eq(v))
            .count()
            .get_result(c))?;
        Ok(by_it > 0)
    }

    /// Keeps what an operation said of a lesson where another change was there first. Whoever has the lesson is told.
    ///
    /// # Errors
    /// If the store fails.
    pub fn keep_superseded(
        &mut self,
        diary: &Permit<'tx, Record, GroupDay>,
        op: OpId,
        wanted: &lesson::Record,
    ) -> Result<(), Error> {
        self.about("lesson_record", wanted.id.uuid());
        self.save("superseded_lesson", op.uuid(), &[], wanted)?;
        let (school, v) = (self.school(), self.version);
        db!(self.conn, c => diesel::update(lesson_record::table.find((school, wanted.id)))
            .set(lesson_record::aside_v.eq(v))
            .execute(c))?;
        let scopes = [Scope::Group(diary.resource().group)];
        self.log("lesson_record", wanted.id.uuid(), &scopes, ChangeKind::Put)
    }

    /// Keeps an answer to an item that another adult's answer stands for.
    ///
    /// # Errors
    /// If the store fails.
    pub fn keep_superseded_answer(
        &mut self,
        sittings: &Permit<'tx, Record, PupilSittings>,
        op: OpId,
        said: &Value,
    ) -> Result<(), Error> {
        self.about("pupil", sittings.resource().pupil.uuid());
        self.save("superseded_answer", op.uuid(), &[], said)
    }
}
