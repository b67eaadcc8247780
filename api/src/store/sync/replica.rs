//! Replicas: one person on one tablet.

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::Record,
        resource::{Replica, Replicas},
    },
    id::{ReplicaId, SchoolId, StaffId, TabletId},
    time::{Date, Instant},
};
use uuid::Uuid;

use crate::store::{
    Error, Permit, Tx,
    conn::db,
    schema::{replica, school, tablet},
};

/// One person on one tablet.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = replica, treat_none_as_default_value = false)]
pub struct ReplicaRow {
    school_id: SchoolId,
    /// Its id, made by the tablet.
    pub id: ReplicaId,
    /// The tablet.
    pub tablet_id: TabletId,
    /// The person.
    pub staff_id: StaffId,
    /// Number of the last operation that was answered.
    pub last_n: i64,
    /// What it was at the last verified backup.
    pub safe_n: i64,
    /// The last day it was there.
    pub last_seen_on: Date,
    added_at: Instant,
}

/// How a replica finds the school.
#[derive(Clone, Debug)]
pub struct Arrival {
    /// The replica.
    pub replica: ReplicaRow,
    /// Another after a backup was restored: what was read before is of another history.
    pub epoch: Uuid,
    /// Whether the tablet is revoked.
    pub revoked: bool,
    /// Whether something is to be written before anything is read: the first time on a day.
    pub due: bool,
}

impl<'tx> Tx<'tx> {
    /// Adds a person's replica on a tablet.
    ///
    /// # Errors
    /// [`Error::Conflict`] if the id is taken. Bind the sign-in to the tablet first.
    pub fn add_replica(
        &mut self,
        _permit: &Permit<'tx, Record, Replicas>,
        id: ReplicaId,
        tablet_id: TabletId,
    ) -> Result<ReplicaRow, Error> {
        let (school, staff_id) = (self.school(), self.actor.staff);
        if self.replica_found(id)?.is_some() {
            return Err(Error::Conflict);
        }
        let (today, now) = (self.today(), self.now());
        let row = ReplicaRow {
            school_id: school,
            id,
            tablet_id,
            staff_id,
            last_n: 0,
            safe_n: 0,
            last_seen_on: today,
            added_at: now,
        };
        db!(self.conn, c => diesel::insert_into(replica::table).values(&row).execute(c))?;
        self.about("tablet", tablet_id.uuid());
        Ok(row)
    }

    /// A replica with how it finds the school.
    ///
    /// # Errors
    /// If the store fails.
    pub fn arrival<A>(&mut self, permit: &Permit<'tx, A, Replica>) -> Result<Arrival, Error> {
        let (school, id) = (self.school(), permit.resource().0);
        let (replica, revoked_at): (ReplicaRow, Option<Instant>) = db!(self.conn, c => replica::table
            .inner_join(tablet::table.on(tablet::school_id.eq(replica::school_id)
                .and(tablet::id.eq(replica::tablet_id))))
            .filter(replica::school_id.eq(school))
            .filter(replica::id.eq(id))
            .select((ReplicaRow::as_select(), tablet::revoked_at))
            .first(c))?;
        let (places_on, epoch): (Option<Date>, plumbline_core::id::Id<()>) = db!(self.conn, c => school::table
            .find(school)
            .select((school::places_on, school::epoch))
            .first(c))?;
        let due = places_on != Some(self.today()) || replica.last_seen_on != self.today();
        Ok(Arrival { replica, epoch: epoch.uuid(), revoked: revoked_at.is_some(), due })
    }

    /// Writes down what a new day brings: who is where by now, and that the replica was there.
    ///
    /// # Errors
    /// If the store fails.
    pub fn arrive(&mut self, permit: &Permit<'tx, Record, Replica>) -> Result<(), Error> {
        let (school, id, today) = (self.school(), permit.resource().0, self.today());
        self.about("replica", id.uuid());
        db!(self.conn, c => diesel::update(replica::table.find((school, id)))
            .set(replica::last_seen_on.eq(today))
            .execute(c))?;
        if self.places_settled_on()? != Some(today) { self.settle_places() } else { Ok(()) }
    }

    /// The day as of which the change log says who is where.
    pub(in crate::store) fn places_settled_on(&mut self) -> Result<Option<Date>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => school::table.find(school).select(school::places_on).first(c))?)
    }

    pub(in crate::store) fn replica_found(&mut self, id: ReplicaId) -> Result<Option<ReplicaRow>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => replica::table
            .find((school, id))
            .select(ReplicaRow::as_select())
            .first(c)
            .optional())?)
    }
}
