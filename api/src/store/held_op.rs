//! What revoked tablets still sent. It is taken by nobody but the lead, one by one, or discarded; what is discarded
//! is gone, and does not come back when it is sent again.

use std::collections::BTreeMap;

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Manage, resource::HeldOps},
    id::{OpId, ReplicaId, SchoolId, StaffId, TabletId},
    rules,
    time::Instant,
};
use serde_json::Value;

use super::{
    Error, Permit, Store, Tx, Who, audit,
    conn::{Conn, db},
    schema::{held_op, op, replica, school, staff, tablet},
    tx::live,
};

/// One operation that is held.
#[derive(Clone, Debug, Queryable)]
pub struct HeldOpRow {
    /// The operation.
    pub id: OpId,
    /// The replica that sent it.
    pub replica: ReplicaId,
    /// Its number there.
    pub n: i64,
    /// The tablet.
    pub tablet: TabletId,
    /// What the tablet is called.
    pub tablet_name: String,
    /// Whose work it is.
    pub staff: StaffId,
    /// That person's name.
    pub staff_name: String,
    /// The operation as it was sent.
    pub body: Value,
    /// When it came.
    pub held_at: Instant,
}

/// An operation as a tablet sent it.
#[derive(Clone, Debug)]
pub struct Sent {
    /// The operation.
    pub id: OpId,
    /// Its number on its replica.
    pub n: i64,
    /// The whole of it.
    pub body: Value,
}

#[derive(Insertable)]
#[diesel(table_name = held_op, treat_none_as_default_value = false)]
struct HeldInsert<'a> {
    school_id: SchoolId,
    replica_id: ReplicaId,
    n: i64,
    op_id: OpId,
    body: &'a Value,
    held_at: Instant,
    kept_until: Instant,
    bytes: i64,
}

/// What became of what a revoked tablet sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Held {
    /// It is held, or was done before.
    All,
    /// There was no room for some of it.
    Some,
    /// A number stands for another operation here: the tablet's count was copied or set back. Nothing is held.
    Reused,
}

impl Store {
    /// Keeps what a revoked tablet sent for the lead; what is kept already stays. The sign-in opens nothing else
    /// any more, so this is no transaction of an actor.
    ///
    /// # Errors
    /// [`Error::Missing`] unless the replica is this person's and its tablet revoked; [`Error::SignedOut`].
    pub fn hold_ops(&self, who: Who, from: ReplicaId, sent: Vec<Sent>) -> Result<Held, Error> {
        let clock = self.clock();
        self.transact(move |mut conn| -> Result<Held, Error> {
            let now = clock.now();
            let last_n = may_be_held(&mut conn, who, from, now)?;
            let (school_id, replica_id) = (who.school, from);
            let held: Vec<i64> = db!(conn, c => held_op::table
                .filter(held_op::school_id.eq(school_id))
                .filter(held_op::replica_id.eq(replica_id))
                .filter(held_op::body.is_not_null())
                .select(held_op::bytes)
                .load(c))?;
            let numbers: Vec<i64> = sent.iter().map(|op| op.n).collect();
            let here: Vec<(i64, OpId)> = db!(conn, c => held_op::table
                .filter(held_op::school_id.eq(school_id))
                .filter(held_op::replica_id.eq(replica_id))
                .filter(held_op::n.eq_any(&numbers))
                .select((held_op::n, held_op::op_id))
                .load(c))?;
            let answered: Vec<(i64, OpId)> = db!(conn, c => op::table
                .filter(op::school_id.eq(school_id))
                .filter(op::replica_id.eq(replica_id))
                .filter(op::n.eq_any(&numbers))
                .select((op::n, op::op_id))
                .load(c))?;
            let known: BTreeMap<i64, OpId> = here.into_iter().chain(answered).collect();
            let reused = |one: &Sent| match known.get(&one.n) {
                Some(id) => *id != one.id,
                None => one.n <= last_n,
            };
            if sent.iter().any(reused) {
                return Ok(Held::Reused);
            }
            let pack: String =
                db!(conn, c => school::table.find(school_id).select(school::rule_pack).first(c))?;
            let rule = &rules::pack(&pack).map_err(|error| Error::Damaged(error.to_string()))?.tablets;
            let (most, most_bytes) =
                (rule.held_ops_most as usize, i64::from(rule.held_ops_kilobytes_most) * 1_000);
            let kept_until = now.plus_seconds(i64::from(rule.held_ops_days) * 86_400);
            // What was done already, and answered to nobody, is done.
            let new: Vec<&Sent> = sent.iter().filter(|op| !known.contains_key(&op.n)).collect();
            let (mut ops, mut bytes) = (held.len(), held.iter().sum::<i64>());
            let mut some_left = false;
            // What came twice at once is held once.
            for Sent { id, n, body } in new {
                let long = i64::try_from(serde_json::to_vec(body)?.len()).unwrap_or(i64::MAX);
                (ops, bytes) = (ops + 1, bytes.saturating_add(long));
                some_left = ops > most || bytes > most_bytes;
                if some_left {
                    break;
                }
                let row = HeldInsert {
                    school_id,
                    replica_id,
                    n: *n,
                    op_id: *id,
                    body,
                    held_at: now,
                    kept_until,
                    bytes: long,
                };
                db!(conn, c => diesel::insert_into(held_op::table).values(&row).on_conflict_do_nothing().execute(c))?;
            }
            audit::note(
                &mut conn,
                who.school,
                now,
                "held_op.keep",
                who.staff,
                Some(("replica", from.uuid())),
            )?;
            Ok(if some_left { Held::Some } else { Held::All })
        })
    }

    /// Drops what came from tablets and has had its time, of all schools: answers that no tablet asked for again, and
    /// what revoked ones sent; how many that were.
    ///
    /// # Errors
    /// If the store fails; what was dropped before stays dropped.
    pub fn drop_old_ops(&self) -> Result<usize, Error> {
        let clock = self.clock();
        self.transact(move |mut conn| -> Result<_, Error> {
            let now = clock.now();
            let answers = db!(conn, c => diesel::delete(op::table.filter(op::kept_until.le(now))).execute(c))?;
            let held = db!(conn, c => diesel::delete(held_op::table.filter(held_op::kept_until.le(now))).execute(c))?;
            Ok(answers + held)
        })
    }
}

/// Whether the sign-in goes on, and the replica is this person's on a tablet that was revoked; the number of its last
/// operation that was answered.
fn may_be_held(conn: &mut Conn<'_>, who: Who, from: ReplicaId, now: Instant) -> Result<i64, Error> {
    live(conn, who, now)?;
    let (revoked, last_n): (Option<Instant>, i64) = db!(*conn, c => replica::table
        .inner_join(tablet::table.on(tablet::school_id.eq(replica::school_id).and(tablet::id.eq(replica::tablet_id))))
        .filter(replica::school_id.eq(who.school))
        .filter(replica::id.eq(from))
        .filter(replica::staff_id.eq(who.staff))
        .select((tablet::revoked_at, replica::last_n))
        .first(c))?;
    revoked.map(|_| last_n).ok_or(Error::Missing)
}

impl<'tx> Tx<'tx> {
    /// What is held, what came first first, after the one of a key: when it came, of which replica, and its number.
    ///
    /// # Errors
    /// If the store fails.
    pub fn held_ops<A>(
        &mut self,
        _permit: &Permit<'tx, A, HeldOps>,
        after: Option<(Instant, ReplicaId, i64)>,
        limit: i64,
    ) -> Result<Vec<HeldOpRow>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => {
            let query = held_op::table
                .inner_join(replica::table.on(replica::school_id.eq(held_op::school_id).and(replica::id.eq(held_op::replica_id))))
                .inner_join(tablet::table.on(tablet::school_id.eq(replica::school_id).and(tablet::id.eq(replica::tablet_id))))
                .inner_join(staff::table.on(staff::school_id.eq(held_op::school_id).and(staff::id.eq(replica::staff_id))))
                .filter(held_op::school_id.eq(school))
                .filter(held_op::body.is_not_null())
                .order((held_op::held_at, held_op::replica_id, held_op::n))
                .limit(limit)
                .select((
                    held_op::op_id,
                    held_op::replica_id,
                    held_op::n,
                    tablet::id,
                    tablet::name,
                    staff::id,
                    staff::name,
                    held_op::body.assume_not_null(),
                    held_op::held_at,
                ));
            match after {
                None => query.load::<HeldOpRow>(c),
                Some((at, replica, n)) => query
                    .filter(held_op::held_at.gt(at)
                        .or(held_op::held_at.eq(at).and(held_op::replica_id.gt(replica)))
                        .or(held_op::held_at.eq(at).and(held_op::replica_id.eq(replica)).and(held_op::n.gt(n))))
                    .load::<HeldOpRow>(c),
            }
        })?)
    }

    /// Holds an operation no longer.
    ///
    /// # Errors
    /// [`Error::Missing`] if none of this number is held of the replica.
    pub fn drop_held_op(
        &mut self,
        _permit: &Permit<'tx, Manage, HeldOps>,
        (replica, n): (ReplicaId, i64),
    ) -> Result<(), Error> {
        let school = self.school();
        let held = held_op::table.find((school, replica, n)).filter(held_op::body.is_not_null());
        let dropped: Option<OpId> = db!(self.conn, c => diesel::update(held)
            .set(held_op::body.eq(None::<Value>))
            .returning(held_op::op_id)
            .get_result(c)
            .optional())?;
        self.about("held_op", dropped.ok_or(Error::Missing)?.uuid());
        Ok(())
    }
}
