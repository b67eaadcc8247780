//! The statutory check: its windows, and thresholds as they were published.

use std::collections::BTreeMap;

use diesel::{dsl::exists, prelude::*, select};
use plumbline_core::{
    access::{
        act::{Manage, Publish, Read},
        resource::{StatutoryChecks, StatutoryFigures, StatutoryWindow},
    },
    id::{SchoolId, StaffId, StatutoryWindowId},
    statutory::{Thresholds, WindowDays},
    time::{Date, Instant},
};
use serde_json::{Value, json};

use super::{
    Error, Permit, Tx,
    conn::db,
    schema::{statutory_result, statutory_threshold, statutory_window},
};

/// A window at the school.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = statutory_window, treat_none_as_default_value = false)]
pub struct StatutoryWindowRow {
    /// The school.
    pub school_id: SchoolId,
    /// Its id.
    pub id: StatutoryWindowId,
    /// The calendar year.
    pub year: i32,
    /// The term's code.
    pub term: String,
    /// First day.
    pub opens_on: Date,
    /// Last day.
    pub closes_on: Date,
    /// Last day for those who were away.
    pub absentees_until: Option<Date>,
    /// Codes of the year groups checked.
    pub year_groups: Value,
    /// Who opened it.
    pub opened_by: StaffId,
    /// When.
    pub opened_at: Instant,
    /// Who submitted its results; locked from then on.
    pub submitted_by: Option<StaffId>,
    /// When.
    pub submitted_at: Option<Instant>,
    /// Its version.
    pub v: i64,
}

impl StatutoryWindowRow {
    /// Its days.
    pub const fn days(&self) -> WindowDays {
        WindowDays {
            opens_on: self.opens_on,
            closes_on: self.closes_on,
            absentees_until: self.absentees_until,
        }
    }

    /// Codes of the year groups checked.
    ///
    /// # Errors
    /// If the row is damaged.
    pub fn checked(&self) -> Result<Vec<String>, Error> {
        Ok(serde_json::from_value(self.year_groups.clone())?)
    }
}

/// A threshold as it was entered once.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = statutory_threshold, treat_none_as_default_value = false)]
pub struct StatutoryThresholdRow {
    /// The school.
    pub school_id: SchoolId,
    /// The calendar year.
    pub year: i32,
    /// The version of this entry; the latest of a year counts.
    pub v: i64,
    /// The least mark that meets it.
    pub threshold: i16,
    /// Since when it is known.
    pub published_on: Date,
    /// Who entered it.
    pub entered_by: StaffId,
    /// When.
    pub at: Instant,
}

impl<'tx> Tx<'tx> {
    /// The school's windows, latest first.
    ///
    /// # Errors
    /// If the store fails.
    pub fn statutory_windows(
        &mut self,
        _permit: &Permit<'tx, Read, StatutoryChecks>,
    ) -> Result<Vec<StatutoryWindowRow>, Error> {
        self.windows_of_school()
    }

    pub(super) fn windows_of_school(&mut self) -> Result<Vec<StatutoryWindowRow>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => statutory_window::table
            .filter(statutory_window::school_id.eq(school))
            .order((statutory_window::opens_on.desc(), statutory_window::id.desc()))
            .select(StatutoryWindowRow::as_select())
            .load(c))?)
    }

    /// One window. The reading is of it.
    ///
    /// # Errors
    /// If the store fails.
    pub fn statutory_window<A>(
        &mut self,
        permit: &Permit<'tx, A, StatutoryWindow>,
    ) -> Result<StatutoryWindowRow, Error> {
        let id = permit.resource().0;
        self.about("statutory_window", id.uuid());
        self.window_row(id)
    }

    pub(super) fn window_row(&mut self, id: StatutoryWindowId) -> Result<StatutoryWindowRow, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => statutory_window::table
            .find((school, id))
            .select(StatutoryWindowRow::as_select())
            .first(c))?)
    }

    /// Opens a window.
    ///
    /// # Errors
    /// [`Error::Conflict`] if the school has one of this year and term.
    pub fn open_statutory_window(
        &mut self,
        _permit: &Permit<'tx, Manage, StatutoryChecks>,
        (year, term): (i32, &str),
        days: &WindowDays,
        year_groups: &[String],
    ) -> Result<StatutoryWindowRow, Error> {
        let row = StatutoryWindowRow {
            school_id: self.school(),
            id: self.new_id(),
            year,
            term: term.to_owned(),
            opens_on: days.opens_on,
            closes_on: days.closes_on,
            absentees_until: days.absentees_until,
            year_groups: json!(year_groups),
            opened_by: self.actor.staff,
            opened_at: self.now(),
            submitted_by: None,
            submitted_at: None,
            v: self.version,
        };
        self.about("statutory_window", row.id.uuid());
        db!(self.conn, c => diesel::insert_into(statutory_window::table).values(&row).execute(c))?;
        self.save_window(&row)?;
        Ok(row)
    }

    /// Removes a window in which nothing was ever entered.
    ///
    /// # Errors
    /// [`Error::Conflict`] if something was.
    pub fn remove_statutory_window(
        &mut self,
        permit: &Permit<'tx, Manage, StatutoryWindow>,
    ) -> Result<(), Error> {
        let (school, id) = (self.school(), permit.resource().0);
        let entered: bool = db!(self.conn, c => select(exists(statutory_result::table
            .filter(statutory_result::school_id.eq(school))
            .filter(statutory_result::window_id.eq(id))))
            .get_result(c))?;
        if entered {
            return Err(Error::Conflict);
        }
        db!(self.conn, c => diesel::delete(statutory_window::table.find((school, id))).execute(c))?;
        self.save_gone("statutory_window", id.uuid(), &[])
    }

    /// Submits the results of a window, which locks them.
    ///
    /// # Errors
    /// If the store fails.
    pub fn submit_statutory_window(
        &mut self,
        permit: &Permit<'tx, Publish, StatutoryWindow>,
    ) -> Result<StatutoryWindowRow, Error> {
        let mut row = self.statutory_window(permit)?;
        row.submitted_by = Some(self.actor.staff);
        row.submitted_at = Some(self.now());
        row.v = self.version;
        db!(self.conn, c => diesel::update(statutory_window::table.find((row.school_id, row.id)))
            .set((
                statutory_window::submitted_by.eq(row.submitted_by),
                statutory_window::submitted_at.eq(row.submitted_at),
                statutory_window::v.eq(row.v),
            ))
            .execute(c))?;
        self.save_window(&row)?;
        Ok(row)
    }

    fn save_window(&mut self, row: &StatutoryWindowRow) -> Result<(), Error> {
        let body = json!({"year": row.year, "term": row.term, "opens_on": row.opens_on, "closes_on": row.closes_on,
                          "absentees_until": row.absentees_until, "submitted": row.submitted_at.is_some()});
        self.save("statutory_window", row.id.uuid(), &[], &body)
    }

    /// Thresholds as they were entered, earliest first: all of them, changed ones too.
    ///
    /// # Errors
    /// If the store fails.
    pub fn statutory_thresholds(
        &mut self,
        _permit: &Permit<'tx, Read, StatutoryFigures>,
    ) -> Result<Vec<StatutoryThresholdRow>, Error> {
        self.threshold_rows()
    }

    fn threshold_rows(&mut self) -> Result<Vec<StatutoryThresholdRow>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => statutory_threshold::table
            .filter(statutory_threshold::school_id.eq(school))
            .order((statutory_threshold::year, statutory_threshold::v))
            .select(StatutoryThresholdRow::as_select())
            .load(c))?)
    }

    /// The version of the threshold the school entered last for a year.
    ///
    /// # Errors
    /// If the store fails.
    pub fn threshold_version(
        &mut self,
        _permit: &Permit<'tx, Manage, StatutoryChecks>,
        year: i32,
    ) -> Result<Option<i64>, Error> {
        Ok(self.threshold_rows()?.into_iter().rfind(|row| row.year == year).map(|row| row.v))
    }

    /// Enters what has to be reached in a year, now that it is published. What was entered before stays on record.
    ///
    /// # Errors
    /// If the store fails.
    pub fn enter_threshold(
        &mut self,
        _permit: &Permit<'tx, Manage, StatutoryChecks>,
        year: i32,
        threshold: u8,
        published_on: Date,
    ) -> Result<StatutoryThresholdRow, Error> {
        let row = StatutoryThresholdRow {
            school_id: self.school(),
            year,
            v: self.version,
            threshold: threshold.into(),
            published_on,
            entered_by: self.actor.staff,
            at: self.now(),
        };
        db!(self.conn, c => diesel::insert_into(statutory_threshold::table).values(&row).execute(c))?;
        let body = json!({"year": year, "threshold": threshold, "published_on": published_on});
        let school = self.school().uuid();
        self.save("statutory_threshold", school, &[], &body)?;
        Ok(row)
    }

    /// What has to be reached, by year, as known now.
    pub(super) fn thresholds(&mut self) -> Result<Thresholds<'static>, Error> {
        let mut entered: BTreeMap<i32, u8> = BTreeMap::new();
        for row in self.threshold_rows()? {
            let least = u8::try_from(row.threshold).map_err(|_| Error::Damaged("threshold".into()))?;
            entered.insert(row.year, least);
        }
        Ok(Thresholds::new(&self.rules()?.statutory_check, entered))
    }

    /// What has to be reached in a window's year, as known now; to be asked beside results only.
    ///
    /// # Errors
    /// If the store fails.
    pub fn threshold_of(
        &mut self,
        _permit: &Permit<'tx, Read, StatutoryWindow>,
        window: &StatutoryWindowRow,
    ) -> Result<Option<u8>, Error> {
        Ok(self.thresholds()?.of(window.year))
    }
}
