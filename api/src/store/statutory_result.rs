//! Results of the statutory check. Nothing is overwritten: each entry is a row, and of a pupil's rows in a window the
//! latest is in force.

use std::collections::BTreeMap;

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::{Manage, Read, Record},
        resource::{StatutoryFigures, StatutoryResult},
    },
    id::{PupilId, SchoolId, StaffId, StatutoryResultId, StatutoryWindowId},
    statutory::{CheckResult, Entry},
    time::{Date, Instant},
};
use serde_json::json;

use super::{Error, Permit, Tx, conn::db, schema::statutory_result};

/// An entry.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = statutory_result, treat_none_as_default_value = false)]
pub struct StatutoryResultRow {
    /// The school.
    pub school_id: SchoolId,
    /// Its id.
    pub id: StatutoryResultId,
    /// The window.
    pub window_id: StatutoryWindowId,
    /// The pupil.
    pub pupil_id: PupilId,
    /// The mark.
    pub mark: Option<i16>,
    /// The code in its place. Neither: what was entered is taken back.
    pub code: Option<String>,
    /// The day of the check.
    pub on_date: Option<Date>,
    /// Who gave it.
    pub taken_by: Option<StaffId>,
    /// Why it was not taken.
    pub reason: Option<String>,
    /// Who entered this.
    pub entered_by: StaffId,
    /// When.
    pub at: Instant,
    /// Why it was changed after it was submitted.
    pub amended_for: Option<String>,
    /// One line on that.
    pub note: Option<String>,
    /// Its version.
    pub v: i64,
}

impl StatutoryResultRow {
    /// The result; none where it was taken back.
    ///
    /// # Errors
    /// If the row is damaged.
    pub fn result(&self) -> Result<Option<CheckResult>, Error> {
        result_of(self.mark, self.code.as_deref())
    }
}

/// A result as stored in two columns.
pub(super) fn result_of(mark: Option<i16>, code: Option<&str>) -> Result<Option<CheckResult>, Error> {
    match (mark, code) {
        (Some(mark), None) => {
            let mark = u8::try_from(mark).map_err(|_| Error::Damaged("statutory mark".into()))?;
            Ok(Some(CheckResult::Mark(mark)))
        }
        (None, Some(code)) => Ok(Some(CheckResult::Code(code.to_owned()))),
        (None, None) => Ok(None),
        (Some(_), Some(_)) => Err(Error::Damaged("a mark and a code".into())),
    }
}

/// Why a submitted result is changed.
#[derive(Clone, Debug)]
pub struct Amending {
    /// The reason's code.
    pub reason: String,
    /// One line.
    pub note: String,
}

impl<'tx> Tx<'tx> {
    /// The entries in force in some windows, by window and pupil, those taken back left out.
    pub(super) fn results_in_force(
        &mut self,
        windows: &[StatutoryWindowId],
    ) -> Result<BTreeMap<(StatutoryWindowId, PupilId), StatutoryResultRow>, Error> {
        let school = self.school();
        let rows: Vec<StatutoryResultRow> = db!(self.conn, c => statutory_result::table
            .filter(statutory_result::school_id.eq(school))
            .filter(statutory_result::window_id.eq_any(windows))
            .order((statutory_result::v, statutory_result::id))
            .select(StatutoryResultRow::as_select())
            .load(c))?;
        let mut last: BTreeMap<(StatutoryWindowId, PupilId), StatutoryResultRow> =
            rows.into_iter().map(|row| ((row.window_id, row.pupil_id), row)).collect();
        last.retain(|_, row| row.mark.is_some() || row.code.is_some());
        Ok(last)
    }

    /// The entry in force of a pupil in a window.
    ///
    /// # Errors
    /// If the store fails.
    pub fn statutory_result<A>(
        &mut self,
        permit: &Permit<'tx, A, StatutoryResult>,
    ) -> Result<Option<StatutoryResultRow>, Error> {
        let last = self.entries_of(permit.resource())?.pop();
        Ok(last.filter(|row| row.mark.is_some() || row.code.is_some()))
    }

    /// Everything that was entered of a pupil in a window, earliest first. The reading is of the pupil.
    ///
    /// # Errors
    /// If the store fails.
    pub fn statutory_history(
        &mut self,
        permit: &Permit<'tx, Read, StatutoryResult>,
        _whole: &Permit<'tx, Read, StatutoryFigures>,
    ) -> Result<Vec<StatutoryResultRow>, Error> {
        self.about("pupil", permit.resource().pupil.uuid());
        self.entries_of(permit.resource())
    }

    fn entries_of(&mut self, of: &StatutoryResult) -> Result<Vec<StatutoryResultRow>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => statutory_result::table
            .filter(statutory_result::school_id.eq(school))
            .filter(statutory_result::window_id.eq(of.window))
            .filter(statutory_result::pupil_id.eq(of.pupil))
            .order((statutory_result::v, statutory_result::id))
            .select(StatutoryResultRow::as_select())
            .load(c))?)
    }

    /// Enters a result before the window is submitted.
    ///
    /// # Errors
    /// If the store fails.
    pub fn enter_statutory_result(
        &mut self,
        permit: &Permit<'tx, Record, StatutoryResult>,
        entry: &Entry,
        taken_by: Option<StaffId>,
    ) -> Result<StatutoryResultRow, Error> {
        self.append_result(permit.resource(), Some(entry), taken_by, None)
    }

    /// Takes back what was entered, before the window is submitted.
    ///
    /// # Errors
    /// If the store fails.
    pub fn take_back_statutory_result(
        &mut self,
        permit: &Permit<'tx, Record, StatutoryResult>,
    ) -> Result<(), Error> {
        self.about("pupil", permit.resource().pupil.uuid());
        self.append_result(permit.resource(), None, None, None).map(|_| ())
    }

    /// Changes a result after the window was submitted.
    ///
    /// # Errors
    /// If the store fails.
    pub fn amend_statutory_result(
        &mut self,
        permit: &Permit<'tx, Manage, StatutoryResult>,
        entry: &Entry,
        taken_by: Option<StaffId>,
        amending: &Amending,
    ) -> Result<StatutoryResultRow, Error> {
        self.about("pupil", permit.resource().pupil.uuid());
        self.append_result(permit.resource(), Some(entry), taken_by, Some(amending))
    }

    fn append_result(
        &mut self,
        of: &StatutoryResult,
        entry: Option<&Entry>,
        taken_by: Option<StaffId>,
        amending: Option<&Amending>,
    ) -> Result<StatutoryResultRow, Error> {
        let result = entry.map(|entry| &entry.result);
        let row = StatutoryResultRow {
            school_id: self.school(),
            id: self.new_id(),
            window_id: of.window,
            pupil_id: of.pupil,
            mark: result.and_then(CheckResult::mark).map(i16::from),
            code: result.and_then(CheckResult::code).map(str::to_owned),
            on_date: entry.and_then(|entry| entry.on),
            taken_by,
            reason: entry.and_then(|entry| entry.reason.clone()),
            entered_by: self.actor.staff,
            at: self.now(),
            amended_for: amending.map(|amending| amending.reason.clone()),
            note: amending.map(|amending| amending.note.clone()),
            v: self.version,
        };
        db!(self.conn, c => diesel::insert_into(statutory_result::table).values(&row).execute(c))?;
        // The rows are their own history; what is noted here says that there is one, and nothing of the result.
        let body = json!({"window_id": row.window_id, "pupil_id": row.pupil_id});
        self.save("statutory_result", row.id.uuid(), &[], &body)?;
        Ok(row)
    }
}
