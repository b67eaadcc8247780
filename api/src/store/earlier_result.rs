//! Results of the statutory check brought in: from another school, or from before the records here. Those taken away
//! stay on record.

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Manage, resource::EarlierResults},
    id::{EarlierResultId, PupilId, SchoolId, StaffId},
    statutory::CheckResult,
    time::Instant,
};
use serde_json::json;

use super::{Error, Permit, Tx, conn::db, schema::earlier_statutory_result, statutory_result::result_of};

plumbline_core::vocabulary! {
    /// Where a result that was brought in comes from.
    pub enum ResultSource as "earlier_result_source" {
        /// Another school.
        AnotherSchool = "another_school",
        /// This school, before the records here.
        BeforeRecords = "before_records",
    }
}

/// A result brought in.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = earlier_statutory_result, treat_none_as_default_value = false)]
pub struct EarlierResultRow {
    /// The school.
    pub school_id: SchoolId,
    /// Its id.
    pub id: EarlierResultId,
    /// The pupil.
    pub pupil_id: PupilId,
    /// The calendar year of the check.
    pub year: i32,
    /// The term's code.
    pub term: String,
    /// The mark.
    pub mark: Option<i16>,
    /// The code in its place.
    pub code: Option<String>,
    /// Where it comes from.
    pub source: ResultSource,
    /// Who brought it in.
    pub entered_by: StaffId,
    /// When.
    pub at: Instant,
    /// Who took it away.
    pub removed_by: Option<StaffId>,
    /// When.
    pub removed_at: Option<Instant>,
    /// Its version.
    pub v: i64,
}

impl EarlierResultRow {
    /// The result.
    ///
    /// # Errors
    /// If the row is damaged.
    pub fn result(&self) -> Result<CheckResult, Error> {
        result_of(self.mark, self.code.as_deref())?.ok_or_else(|| Error::Damaged("no result".into()))
    }
}

impl<'tx> Tx<'tx> {
    /// What was brought in of a pupil, by year. The reading is of the pupil.
    ///
    /// # Errors
    /// If the store fails.
    pub fn earlier_results<A>(
        &mut self,
        permit: &Permit<'tx, A, EarlierResults>,
    ) -> Result<Vec<EarlierResultRow>, Error> {
        let pupil = permit.resource().0;
        self.about("pupil", pupil.uuid());
        self.brought_in(Some(pupil))
    }

    /// What was brought in of one pupil or of all, by year.
    pub(super) fn brought_in(&mut self, pupil: Option<PupilId>) -> Result<Vec<EarlierResultRow>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => {
            let query = earlier_statutory_result::table
                .filter(earlier_statutory_result::school_id.eq(school))
                .filter(earlier_statutory_result::removed_at.is_null())
                .order((earlier_statutory_result::year, earlier_statutory_result::id))
                .select(EarlierResultRow::as_select())
                .into_boxed();
            match pupil {
                Some(pupil) => query.filter(earlier_statutory_result::pupil_id.eq(pupil)).load(c),
                None => query.load(c),
            }
        })?)
    }

    /// Brings a result in.
    ///
    /// # Errors
    /// If the store fails.
    pub fn bring_in_result(
        &mut self,
        permit: &Permit<'tx, Manage, EarlierResults>,
        (year, term): (i32, &str),
        result: &CheckResult,
        source: ResultSource,
    ) -> Result<EarlierResultRow, Error> {
        let row = EarlierResultRow {
            school_id: self.school(),
            id: self.new_id(),
            pupil_id: permit.resource().0,
            year,
            term: term.to_owned(),
            mark: result.mark().map(i16::from),
            code: result.code().map(str::to_owned),
            source,
            entered_by: self.actor.staff,
            at: self.now(),
            removed_by: None,
            removed_at: None,
            v: self.version,
        };
        self.about("pupil", row.pupil_id.uuid());
        db!(self.conn, c => diesel::insert_into(earlier_statutory_result::table).values(&row).execute(c))?;
        let body = json!({"pupil_id": row.pupil_id, "year": year, "term": term});
        self.save("earlier_statutory_result", row.id.uuid(), &[], &body)?;
        Ok(row)
    }

    /// Takes a result away that was brought in; it stays on record.
    ///
    /// # Errors
    /// [`Error::Missing`] if it is not the pupil's, or gone already.
    pub fn remove_earlier_result(
        &mut self,
        permit: &Permit<'tx, Manage, EarlierResults>,
        id: EarlierResultId,
    ) -> Result<(), Error> {
        let (school, staff, now) = (self.school(), self.actor.staff, self.now());
        let found = self.earlier_results(permit)?.into_iter().any(|row| row.id == id);
        if !found {
            return Err(Error::Missing);
        }
        db!(self.conn, c => diesel::update(earlier_statutory_result::table.find((school, id)))
            .set((
                earlier_statutory_result::removed_by.eq(Some(staff)),
                earlier_statutory_result::removed_at.eq(Some(now)),
            ))
            .execute(c))?;
        self.save_gone("earlier_statutory_result", id.uuid(), &[])
    }
}
