//! The school's own row.

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::{OwnSessions, SchoolProfile},
    },
    id::SchoolId,
};
use serde_json::json;
use uuid::Uuid;

use super::{
    Error, Permit, Tx,
    change::{AnyId, Scope},
    conn::db,
    schema::school,
};

/// A school.
#[derive(Clone, Debug, Queryable, Selectable)]
#[diesel(table_name = school)]
pub struct SchoolRow {
    /// Its id.
    pub id: SchoolId,
    /// Its name.
    pub name: String,
    /// Its rule pack.
    pub rule_pack: String,
    /// Its time zone.
    pub time_zone: String,
    /// Version of this row.
    pub v: i64,
}

impl<'tx> Tx<'tx> {
    /// The school.
    ///
    /// # Errors
    /// If the store fails.
    pub fn school_profile(&mut self, _permit: &Permit<'tx, Read, SchoolProfile>) -> Result<SchoolRow, Error> {
        self.school_row()
    }

    /// Which history of the school this is, and its version as this transaction sees it.
    ///
    /// # Errors
    /// If the store fails.
    pub fn head(&mut self, _permit: &Permit<'tx, Read, OwnSessions>) -> Result<(Uuid, i64), Error> {
        let (id, version) = (self.school(), self.version);
        let epoch: AnyId = db!(self.conn, c => school::table.find(id).select(school::epoch).first(c))?;
        Ok((epoch.uuid(), version))
    }

    pub(super) fn school_row(&mut self) -> Result<SchoolRow, Error> {
        let id = self.school();
        Ok(db!(self.conn, c => school::table.find(id).select(SchoolRow::as_select()).first(c))?)
    }

    /// Changes name and time zone.
    ///
    /// # Errors
    /// [`Error::Conflict`] if the row is no longer at `base_v`.
    pub fn update_school(
        &mut self,
        _permit: &Permit<'tx, Manage, SchoolProfile>,
        name: Option<&str>,
        time_zone: Option<&str>,
        base_v: i64,
    ) -> Result<SchoolRow, Error> {
        let old = self.school_row()?;
        if old.v != base_v {
            return Err(Error::Conflict);
        }
        let row = SchoolRow {
            name: name.map_or(old.name, str::to_owned),
            time_zone: time_zone.map_or(old.time_zone, str::to_owned),
            v: self.version,
            ..old
        };
        db!(self.conn, c => diesel::update(school::table.find(row.id))
            .set((school::name.eq(&row.name), school::time_zone.eq(&row.time_zone), school::v.eq(row.v)))
            .execute(c))?;
        self.save(
            "school",
            row.id.uuid(),
            &[Scope::School],
            &json!({"name": row.name, "time_zone": row.time_zone}),
        )?;
        Ok(row)
    }
}
