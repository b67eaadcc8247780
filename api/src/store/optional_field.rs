//! The optional fields a school has switched on, and switching them off with all that is held of them.

use std::collections::BTreeSet;

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::Manage,
        resource::{OptionalFields, Roster},
    },
    id::{SchoolId, StaffId},
    time::{Date, Instant},
};
use serde_json::json;

use super::{Error, Permit, Tx, conn::db, schema::optional_field};

/// An optional field that is switched on.
#[derive(Clone, Debug, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = optional_field, treat_none_as_default_value = false)]
pub struct OptionalFieldRow {
    /// The school.
    pub school_id: SchoolId,
    /// The rule pack's key.
    pub field: String,
    /// What it is recorded for.
    pub purpose: String,
    /// When that is to be looked at again.
    pub review_on: Date,
    /// Who said so.
    pub switched_on_by: StaffId,
    /// When.
    pub switched_on_at: Instant,
    /// Version of this row.
    pub v: i64,
}

impl<'tx> Tx<'tx> {
    /// The fields that are on, by key.
    ///
    /// # Errors
    /// If the store fails.
    pub fn optional_fields<A>(
        &mut self,
        _permit: &Permit<'tx, A, OptionalFields>,
    ) -> Result<Vec<OptionalFieldRow>, Error> {
        self.fields_on()
    }

    pub(super) fn fields_on(&mut self) -> Result<Vec<OptionalFieldRow>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => optional_field::table
            .filter(optional_field::school_id.eq(school))
            .order(optional_field::field)
            .select(OptionalFieldRow::as_select())
            .load(c))?)
    }

    /// One field that is on; none where it is off.
    ///
    /// # Errors
    /// If the store fails.
    pub fn optional_field<A>(
        &mut self,
        _permit: &Permit<'tx, A, OptionalFields>,
        field: &str,
    ) -> Result<Option<OptionalFieldRow>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => optional_field::table
            .find((school, field))
            .select(OptionalFieldRow::as_select())
            .first(c)
            .optional())?)
    }

    /// The keys of the fields that are on, for whoever works on the roster.
    ///
    /// # Errors
    /// If the store fails.
    pub fn optional_keys<A>(&mut self, _permit: &Permit<'tx, A, Roster>) -> Result<BTreeSet<String>, Error> {
        self.keys_on()
    }

    pub(super) fn keys_on(&mut self) -> Result<BTreeSet<String>, Error> {
        Ok(self.fields_on()?.into_iter().map(|row| row.field).collect())
    }

    /// Switches a field on, or says anew what one that is on is for.
    ///
    /// # Errors
    /// If the store fails.
    pub fn switch_on(
        &mut self,
        _permit: &Permit<'tx, Manage, OptionalFields>,
        field: &str,
        purpose: &str,
        review_on: Date,
    ) -> Result<OptionalFieldRow, Error> {
        let row = OptionalFieldRow {
            school_id: self.school(),
            field: field.to_owned(),
            purpose: purpose.to_owned(),
            review_on,
            switched_on_by: self.actor.staff,
            switched_on_at: self.now(),
            v: self.version,
        };
        db!(self.conn, c => diesel::insert_into(optional_field::table)
            .values(&row)
            .on_conflict((optional_field::school_id, optional_field::field))
            .do_update()
            .set(&row)
            .execute(c))?;
        let body = json!({"field": field, "purpose": purpose, "review_on": review_on});
        self.save("optional_field", row.school_id.uuid(), &[], &body)?;
        Ok(row)
    }

    /// How many pupils something is recorded of in a field.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pupils_with(
        &mut self,
        _permit: &Permit<'tx, Manage, OptionalFields>,
        field: &str,
    ) -> Result<usize, Error> {
        self.count_said(field)
    }

    /// Switches a field off and removes every value of it, from whatever holds one: pupils, records that
    /// were merged, pupil files, snapshots and the ledger of releases. Its history keeps how many pupils that were, as
    /// [`Self::pupils_with`] says, and no value.
    ///
    /// # Errors
    /// If the store fails.
    pub fn switch_off(
        &mut self,
        _permit: &Permit<'tx, Manage, OptionalFields>,
        field: &str,
        pupils: usize,
    ) -> Result<(), Error> {
        let school = self.school();
        self.remove_said(field)?;
        self.remove_said_of_merged(field)?;
        db!(self.conn, c => diesel::delete(optional_field::table.find((school, field))).execute(c))?;
        self.remove_said_of_files(field)?;
        self.remove_said_of_reports(field)?;
        self.save("optional_field", school.uuid(), &[], &json!({"field": field, "removed_of": pupils}))
    }
}
