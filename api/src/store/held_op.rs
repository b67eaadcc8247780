//! What revoked tablets still sent. It is taken by nobody but the lead, one by one, or discarded; what is discarded
//! is gone.

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Manage, resource::HeldOps},
    id::{OpId, ReplicaId, SchoolId, StaffId, TabletId},
    time::Instant,
};
use serde_json::Value;

use super::{
    Error, Permit, Store, Tx, Who, audit,
    conn::{Conn, db},
    schema::{held_op, replica, session, staff, tablet},
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
}

impl Store {
    /// Keeps what a revoked tablet sent for the lead; what is kept already stays. The sign-in opens nothing else
    /// any more, so this is no transaction of an actor.
    ///
    /// # Errors
    /// [`Error::Missing`] unless the replica is this person's and its tablet revoked; [`Error::SignedOut`].
    pub fn hold_ops(&self, who: Who, from: ReplicaId, sent: Vec<Sent>) -> Result<(), Error> {
        let clock = self.clock();
        self.transact(move |mut conn| -> Result<(), Error> {
            let now = clock.now();
            may_be_held(&mut conn, who, from, now)?;
            let (school_id, replica_id) = (who.school, from);
            for Sent { id, n, body } in &sent {
                let row = HeldInsert { school_id, replica_id, n: *n, op_id: *id, body, held_at: now };
                db!(conn, c => diesel::insert_into(held_op::table).values(&row).on_conflict_do_nothing().execute(c))?;
            }
            audit::note(&mut conn, who.school, now, "held_op.keep", who.staff, Some(("replica", from.uuid())))
        })
    }
}

/// Whether the sign-in goes on, and the replica is this person's on a tablet that was revoked.
fn may_be_held(conn: &mut Conn<'_>, who: Who, from: ReplicaId, now: Instant) -> Result<(), Error> {
    let live: Option<(Option<Instant>, Instant, Option<Instant>)> = db!(*conn, c => session::table
        .inner_join(staff::table.on(staff::school_id.eq(session::school_id).and(staff::id.eq(session::staff_id))))
        .filter(session::school_id.eq(who.school))
        .filter(session::id.eq(who.session))
        .filter(session::staff_id.eq(who.staff))
        .select((session::ended_at, session::expires_at, staff::disabled_at))
        .first(c)
        .optional())?;
    if !matches!(live, Some((None, expires_at, None)) if expires_at > now) {
        return Err(Error::SignedOut);
    }
    let revoked: Option<Instant> = db!(*conn, c => replica::table
        .inner_join(tablet::table.on(tablet::school_id.eq(replica::school_id).and(tablet::id.eq(replica::tablet_id))))
        .filter(replica::school_id.eq(who.school))
        .filter(replica::id.eq(from))
        .filter(replica::staff_id.eq(who.staff))
        .select(tablet::revoked_at)
        .first(c))?;
    revoked.map(|_| ()).ok_or(Error::Missing)
}

impl<'tx> Tx<'tx> {
    /// Everything that is held, what came first first.
    ///
    /// # Errors
    /// If the store fails.
    pub fn held_ops<A>(&mut self, _permit: &Permit<'tx, A, HeldOps>) -> Result<Vec<HeldOpRow>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => held_op::table
            .inner_join(replica::table.on(replica::school_id.eq(held_op::school_id).and(replica::id.eq(held_op::replica_id))))
            .inner_join(tablet::table.on(tablet::school_id.eq(held_op::school_id).and(tablet::id.eq(replica::tablet_id))))
            .inner_join(staff::table.on(staff::school_id.eq(held_op::school_id).and(staff::id.eq(replica::staff_id))))
            .filter(held_op::school_id.eq(school))
            .order((held_op::held_at, held_op::replica_id, held_op::n))
            .select((
                held_op::op_id,
                held_op::replica_id,
                held_op::n,
                tablet::id,
                tablet::name,
                staff::id,
                staff::name,
                held_op::body,
                held_op::held_at,
            ))
            .load(c))?)
    }

    /// Holds an operation no longer.
    ///
    /// # Errors
    /// [`Error::Missing`] if none of this id is held.
    pub fn drop_held_op(&mut self, _permit: &Permit<'tx, Manage, HeldOps>, id: OpId) -> Result<(), Error> {
        let school = self.school();
        let dropped = db!(self.conn, c => diesel::delete(held_op::table
            .filter(held_op::school_id.eq(school))
            .filter(held_op::op_id.eq(id)))
            .execute(c))?;
        if dropped == 0 {
            return Err(Error::Missing);
        }
        self.about("held_op", id.uuid());
        Ok(())
    }
}
