//! One line on what helped a pupil to read. It stands here alone, in no history and in no copy for devices.

use diesel::{prelude::*, upsert::excluded};
use plumbline_core::{
    access::{act::Record, resource::PupilLearning},
    id::{PupilId, SchoolId, StaffId},
    text::Title,
    time::{Date, Instant},
};
use serde::{Deserialize, Serialize};

use super::{Error, Permit, Tx, conn::db, schema::what_helped};

/// The line on one pupil.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = what_helped, treat_none_as_default_value = false)]
pub struct WhatHelpedRow {
    /// The school.
    pub school_id: SchoolId,
    /// The pupil.
    pub pupil_id: PupilId,
    /// The line.
    pub text: String,
    /// The day it was written.
    pub on_date: Date,
    /// Who wrote it.
    pub written_by: StaffId,
    /// When.
    pub at: Instant,
    /// Its version.
    pub v: i64,
}

/// The same as it is kept for taking two records apart.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct Helped {
    text: String,
    on: Date,
    by: StaffId,
    at: Instant,
    pub(super) v: i64,
}

impl From<WhatHelpedRow> for Helped {
    fn from(row: WhatHelpedRow) -> Self {
        Self { text: row.text, on: row.on_date, by: row.written_by, at: row.at, v: row.v }
    }
}

impl<'tx> Tx<'tx> {
    /// The line on a pupil. The pupil is the subject.
    ///
    /// # Errors
    /// If the store fails.
    pub fn what_helped<A>(
        &mut self,
        permit: &Permit<'tx, A, PupilLearning>,
    ) -> Result<Option<WhatHelpedRow>, Error> {
        let pupil = permit.resource().0;
        self.about("pupil", pupil.uuid());
        Ok(self.what_helped_of(&[pupil])?.pop())
    }

    /// Writes the line on a pupil in the place of the one before; none removes it.
    ///
    /// # Errors
    /// If the store fails.
    pub fn write_what_helped(
        &mut self,
        permit: &Permit<'tx, Record, PupilLearning>,
        text: Option<&Title>,
    ) -> Result<Option<WhatHelpedRow>, Error> {
        let pupil = permit.resource().0;
        self.about("pupil", pupil.uuid());
        let line = text.map(|text| Helped {
            text: text.to_string(),
            on: self.today(),
            by: self.actor.staff,
            at: self.now(),
            v: self.version,
        });
        self.set_what_helped(pupil, line.as_ref())?;
        Ok(self.what_helped_of(&[pupil])?.pop())
    }

    pub(super) fn what_helped_of(&mut self, pupils: &[PupilId]) -> Result<Vec<WhatHelpedRow>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => what_helped::table
            .filter(what_helped::school_id.eq(school))
            .filter(what_helped::pupil_id.eq_any(pupils))
            .select(WhatHelpedRow::as_select())
            .load(c))?)
    }

    /// Makes the line on a pupil this one, or none.
    pub(super) fn set_what_helped(&mut self, pupil: PupilId, line: Option<&Helped>) -> Result<(), Error> {
        let school = self.school();
        let Some(line) = line else {
            db!(self.conn, c => diesel::delete(what_helped::table.find((school, pupil))).execute(c))?;
            return Ok(());
        };
        let row = WhatHelpedRow {
            school_id: school,
            pupil_id: pupil,
            text: line.text.clone(),
            on_date: line.on,
            written_by: line.by,
            at: line.at,
            v: line.v,
        };
        db!(self.conn, c => diesel::insert_into(what_helped::table)
            .values(&row)
            .on_conflict((what_helped::school_id, what_helped::pupil_id))
            .do_update()
            .set((
                what_helped::text.eq(excluded(what_helped::text)),
                what_helped::on_date.eq(excluded(what_helped::on_date)),
                what_helped::written_by.eq(excluded(what_helped::written_by)),
                what_helped::at.eq(excluded(what_helped::at)),
                what_helped::v.eq(excluded(what_helped::v)),
            ))
            .execute(c))?;
        Ok(())
    }
}
