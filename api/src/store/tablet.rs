//! Tablets: browsers on devices that work with the school's records. A replica is one person on one of them.

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::{Manage, Read, Record},
        resource::{Replica, Tablets},
    },
    id::{ReplicaId, SchoolId, StaffId, TabletId},
    text::Name,
    time::{Date, Instant},
};
use serde_json::json;

use super::{
    Error, Permit, ReplicaRow, Tx,
    conn::db,
    schema::{replica, session, staff, tablet},
};

/// A tablet.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = tablet, treat_none_as_default_value = false)]
pub struct TabletRow {
    school_id: SchoolId,
    /// Its id, which the browser made.
    pub id: TabletId,
    /// What staff call it.
    pub name: String,
    /// Who added it.
    pub added_by: StaffId,
    /// When.
    pub added_at: Instant,
    /// Who revoked it.
    pub revoked_by: Option<StaffId>,
    /// Since when nothing on it opens anything.
    pub revoked_at: Option<Instant>,
    /// Version of this row.
    pub v: i64,
}

/// One person on a tablet.
#[derive(Clone, Debug, Queryable)]
pub struct ReplicaLine {
    /// The replica.
    pub id: ReplicaId,
    /// The tablet.
    pub tablet: TabletId,
    /// The person.
    pub staff: StaffId,
    /// That person's name.
    pub name: String,
    /// The number of the last operation that was answered.
    pub last_n: i64,
    /// The last day it was heard of.
    pub last_seen_on: Date,
}

impl<'tx> Tx<'tx> {
    /// Every tablet, the ones in use first, by name.
    ///
    /// # Errors
    /// If the store fails.
    pub fn tablets(&mut self, _permit: &Permit<'tx, Read, Tablets>) -> Result<Vec<TabletRow>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => tablet::table
            .filter(tablet::school_id.eq(school))
            .order((tablet::revoked_at.is_not_null(), tablet::name, tablet::id))
            .select(TabletRow::as_select())
            .load(c))?)
    }

    /// Who works on which tablet, the one heard of last first.
    ///
    /// # Errors
    /// If the store fails.
    pub fn replicas(&mut self, _permit: &Permit<'tx, Read, Tablets>) -> Result<Vec<ReplicaLine>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => replica::table
            .inner_join(staff::table.on(staff::school_id.eq(replica::school_id).and(staff::id.eq(replica::staff_id))))
            .filter(replica::school_id.eq(school))
            .order((replica::last_seen_on.desc(), staff::name, replica::id))
            .select((replica::id, replica::tablet_id, replica::staff_id, staff::name, replica::last_n, replica::last_seen_on))
            .load(c))?)
    }

    /// A tablet.
    ///
    /// # Errors
    /// [`Error::Missing`] if the school has none of this id.
    pub fn tablet<A>(&mut self, _permit: &Permit<'tx, A, Tablets>, id: TabletId) -> Result<TabletRow, Error> {
        self.tablet_row(id)
    }

    /// Adds a tablet; one that is there stays as it is.
    ///
    /// # Errors
    /// If the store fails.
    pub fn add_tablet(
        &mut self,
        permit: &Permit<'tx, Record, Tablets>,
        id: TabletId,
        name: &Name,
    ) -> Result<TabletRow, Error> {
        match self.tablet(permit, id) {
            Err(Error::Missing) => {}
            known => return known,
        }
        let row = TabletRow {
            school_id: self.school(),
            id,
            name: name.to_string(),
            added_by: self.actor.staff,
            added_at: self.now(),
            revoked_by: None,
            revoked_at: None,
            v: self.version,
        };
        db!(self.conn, c => diesel::insert_into(tablet::table).values(&row).execute(c))?;
        self.save_tablet(&row, None)?;
        Ok(row)
    }

    /// Calls a tablet something else.
    ///
    /// # Errors
    /// [`Error::Missing`] if the school has none of this id.
    pub fn rename_tablet(
        &mut self,
        permit: &Permit<'tx, Manage, Tablets>,
        id: TabletId,
        name: &Name,
    ) -> Result<TabletRow, Error> {
        let row = TabletRow { name: name.to_string(), v: self.version, ..self.tablet(permit, id)? };
        self.write_tablet(&row, None)?;
        Ok(row)
    }

    /// Revokes a tablet: nothing on it opens anything from now on. One that was revoked stays as it is.
    ///
    /// # Errors
    /// [`Error::Missing`] if the school has none of this id.
    pub fn revoke_tablet(
        &mut self,
        permit: &Permit<'tx, Manage, Tablets>,
        id: TabletId,
        reason: Option<&str>,
    ) -> Result<TabletRow, Error> {
        let old = self.tablet(permit, id)?;
        if old.revoked_at.is_some() {
            return Ok(old);
        }
        let (revoked_by, revoked_at) = (Some(self.actor.staff), Some(self.now()));
        let row = TabletRow { revoked_by, revoked_at, v: self.version, ..old };
        self.write_tablet(&row, reason)?;
        Ok(row)
    }

    /// Says which tablet this sign-in is on, for good: one that could walk off would open things after its tablet was
    /// revoked.
    ///
    /// # Errors
    /// [`Error::Missing`] if the school has none of this id; [`Error::TabletRevoked`] if it was revoked;
    /// [`Error::Conflict`] if the sign-in is another tablet's.
    pub fn bind_session(&mut self, permit: &Permit<'tx, Record, Tablets>, id: TabletId) -> Result<(), Error> {
        let row = self.tablet(permit, id)?;
        self.bind(&row)
    }

    /// The same of a tablet the actor has a replica on, with a role or without: what is left there still comes in.
    ///
    /// # Errors
    /// As [`Self::bind_session`].
    pub fn bind_session_of(
        &mut self,
        _permit: &Permit<'tx, Record, Replica>,
        of: &ReplicaRow,
    ) -> Result<(), Error> {
        let row = self.tablet_row(of.tablet_id)?;
        self.bind(&row)
    }

    fn bind(&mut self, row: &TabletRow) -> Result<(), Error> {
        if row.revoked_at.is_some() {
            return Err(Error::TabletRevoked);
        }
        let Some(signed_in) = self.actor.session else { return Ok(()) };
        let key = (self.school(), signed_in);
        let bound = db!(self.conn, c => diesel::update(session::table.find(key)
            .filter(session::tablet_id.is_null().or(session::tablet_id.eq(row.id))))
            .set(session::tablet_id.eq(Some(row.id)))
            .execute(c))?;
        if bound == 0 { Err(Error::Conflict) } else { Ok(()) }
    }

    fn tablet_row(&mut self, id: TabletId) -> Result<TabletRow, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => tablet::table.find((school, id)).select(TabletRow::as_select()).first(c))?)
    }

    fn write_tablet(&mut self, row: &TabletRow, reason: Option<&str>) -> Result<(), Error> {
        db!(self.conn, c => diesel::update(tablet::table.find((row.school_id, row.id)))
            .set((
                tablet::name.eq(&row.name),
                tablet::revoked_by.eq(row.revoked_by),
                tablet::revoked_at.eq(row.revoked_at),
                tablet::v.eq(row.v),
            ))
            .execute(c))?;
        self.save_tablet(row, reason)
    }

    /// In no scope: no device holds what others are called.
    fn save_tablet(&mut self, row: &TabletRow, reason: Option<&str>) -> Result<(), Error> {
        let body = json!({"name": row.name, "revoked_at": row.revoked_at, "reason": reason});
        self.save("tablet", row.id.uuid(), &[], &body)
    }
}
