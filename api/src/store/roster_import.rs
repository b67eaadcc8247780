//! Roster imports: what a file was read as, what it would change, and doing it.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Manage, resource::Roster},
    id::{ClassId, PupilId, RosterImportId, SchoolId, StaffId},
    roster::{Existing, Field, Finding, Plan, Row, class_key},
    text::Name,
    time::{Date, Instant},
};
use serde::{Deserialize, Serialize};

use super::{
    Error, Permit, Tx,
    conn::db,
    pupil::{NewPupil, PupilChange, PupilRow},
    schema::{pupil, pupil_year, roster_import},
};

plumbline_core::vocabulary! {
    /// How far a roster import is.
    pub enum ImportStatus {
        /// Shown, nothing written.
        Preview = "preview",
        /// Carried out.
        Confirmed = "confirmed",
    }
}

/// What a file was read as.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reading {
    /// Rows that were understood.
    pub rows: Vec<Row>,
    /// Rows that were not, and why.
    pub rejected: Vec<Finding>,
}

/// A roster import.
#[derive(Clone, Debug)]
pub struct ImportRow {
    /// Its id.
    pub id: RosterImportId,
    /// How far it is.
    pub status: ImportStatus,
    /// The encoding the file was read in.
    pub encoding: String,
    /// What the file was read as.
    pub reading: Reading,
    /// What it would change, as last shown.
    pub plan: Plan,
    /// Its version.
    pub v: i64,
}

#[derive(Insertable)]
#[diesel(table_name = roster_import, treat_none_as_default_value = false)]
struct ImportInsert<'a> {
    school_id: SchoolId,
    id: RosterImportId,
    status: ImportStatus,
    encoding: &'a str,
    readings: serde_json::Value,
    plan: serde_json::Value,
    created_by: StaffId,
    created_at: Instant,
    v: i64,
}

impl<'tx> Tx<'tx> {
    /// What the school holds, as rows to compare a file with, and its class names.
    ///
    /// # Errors
    /// If the store fails.
    pub fn roster_rows(
        &mut self,
        _permit: &Permit<'tx, Manage, Roster>,
    ) -> Result<(Vec<Existing>, Vec<String>), Error> {
        let (school, today) = (self.school(), self.today());
        let year = self.calendar()?.year_of(today).map_or(i32::MAX, |year| year.year);
        let pupils: Vec<PupilRow> = db!(self.conn, c => pupil::table
            .filter(pupil::school_id.eq(school))
            .select(PupilRow::as_select())
            .load(c))?;
        let classes = self.class_names(today)?;
        let years: Vec<(PupilId, String)> = db!(self.conn, c => pupil_year::table
            .filter(pupil_year::school_id.eq(school))
            .filter(pupil_year::year.le(year))
            .order(pupil_year::year)
            .select((pupil_year::pupil_id, pupil_year::year_group))
            .load(c))?;
        let years: BTreeMap<PupilId, String> = years.into_iter().collect();
        let existing = pupils
            .into_iter()
            .map(|row| existing(&row, classes.get(&row.id), years.get(&row.id), today))
            .collect::<Result<_, _>>()?;
        let names = self.classes_by_key()?.into_values().map(|row| row.name).collect();
        Ok((existing, names))
    }

    /// Keeps a preview.
    ///
    /// # Errors
    /// If the store fails.
    pub fn add_import(
        &mut self,
        _permit: &Permit<'tx, Manage, Roster>,
        encoding: &str,
        reading: Reading,
        plan: Plan,
    ) -> Result<ImportRow, Error> {
        let insert = ImportInsert {
            school_id: self.school(),
            id: self.new_id(),
            status: ImportStatus::Preview,
            encoding,
            readings: serde_json::to_value(&reading)?,
            plan: serde_json::to_value(&plan)?,
            created_by: self.actor.staff,
            created_at: self.now(),
            v: self.version,
        };
        db!(self.conn, c => diesel::insert_into(roster_import::table).values(&insert).execute(c))?;
        self.about("roster_import", insert.id.uuid());
        Ok(ImportRow {
            id: insert.id,
            status: insert.status,
            encoding: encoding.to_owned(),
            reading,
            plan,
            v: insert.v,
        })
    }

    /// An import.
    ///
    /// # Errors
    /// [`Error::Missing`] if there is none.
    pub fn import(
        &mut self,
        _permit: &Permit<'tx, Manage, Roster>,
        id: RosterImportId,
    ) -> Result<ImportRow, Error> {
        let school = self.school();
        let (status, encoding, readings, plan, v): (
            ImportStatus,
            String,
            serde_json::Value,
            serde_json::Value,
            i64,
        ) = db!(self.conn, c => roster_import::table
                .find((school, id))
                .select((
                    roster_import::status,
                    roster_import::encoding,
                    roster_import::readings,
                    roster_import::plan,
                    roster_import::v,
                ))
                .first(c))?;
        let (reading, plan) = (serde_json::from_value(readings)?, serde_json::from_value(plan)?);
        Ok(ImportRow { id, status, encoding, reading, plan, v })
    }

    /// Carries a plan out from a day on: classes, then pupils. `year` is the school year
    /// the year groups of the file are for.
    ///
    /// # Errors
    /// [`Error::Conflict`] if a reference was taken meanwhile.
    pub fn carry_out(
        &mut self,
        _permit: &Permit<'tx, Manage, Roster>,
        import: &ImportRow,
        from: Date,
        year: i32,
    ) -> Result<(), Error> {
        self.about("roster_import", import.id.uuid());
        for name in &import.plan.new_classes {
            self.insert_class(name.as_str())?;
        }
        let classes = self.classes_by_key()?;
        let class_of = |name: &Name| classes.get(&class_key(name.as_str())).map(|row| row.id);
        for row in &import.plan.created {
            self.insert_pupil(&NewPupil {
                pupil_ref: row.pupil_ref.clone(),
                given_name: row.given_name.to_string(),
                family_name: row.family_name.as_ref().map(ToString::to_string),
                preferred_name: row.preferred_name.as_ref().map(ToString::to_string),
                label: None,
                date_of_birth: row.date_of_birth,
                year_group: row.year_group.clone().map(|code| (year, code)),
                class: row.class_name.as_ref().and_then(class_of),
                from,
            })?;
        }
        for change in &import.plan.updated {
            let class = change.row.class_name.as_ref().and_then(class_of);
            self.apply_pupil(change.pupil, &pupil_change(change, class, from, year))?;
        }
        let (school, now, version) = (self.school(), self.now(), self.version);
        db!(self.conn, c => diesel::update(roster_import::table.find((school, import.id)))
            .set((
                roster_import::status.eq(ImportStatus::Confirmed),
                roster_import::confirmed_at.eq(Some(now)),
                roster_import::v.eq(version),
            ))
            .execute(c))?;
        Ok(())
    }
}

/// Only the fields that differ are touched.
fn pupil_change(
    change: &plumbline_core::roster::Change,
    class: Option<ClassId>,
    from: Date,
    year: i32,
) -> PupilChange {
    let row = &change.row;
    let text = |name: &Option<Name>| Some(name.as_ref().map(ToString::to_string));
    let mut done = PupilChange::default();
    for field in &change.fields {
        match field {
            Field::PupilRef => done.pupil_ref = Some(row.pupil_ref.clone()),
            Field::GivenName => done.given_name = Some(row.given_name.to_string()),
            Field::FamilyName => done.family_name = text(&row.family_name),
            Field::PreferredName => done.preferred_name = text(&row.preferred_name),
            Field::DateOfBirth => done.date_of_birth = Some(row.date_of_birth),
            Field::YearGroup => done.year_group = row.year_group.clone().map(|code| (year, code)),
            Field::ClassName => done.classes = class.map(|class| (BTreeSet::from([class]), from)),
        }
    }
    done
}

fn existing(
    row: &PupilRow,
    class: Option<&String>,
    year: Option<&String>,
    today: Date,
) -> Result<Existing, Error> {
    let damaged = |error: plumbline_core::text::TextError| Error::Damaged(error.to_string());
    let name = |text: &Option<String>| text.as_deref().map(Name::new).transpose().map_err(damaged);
    Ok(Existing {
        id: row.id,
        row: Row {
            line: 0,
            pupil_ref: row.pupil_ref.clone(),
            given_name: Name::new(&row.given_name).map_err(damaged)?,
            family_name: name(&row.family_name)?,
            preferred_name: name(&row.preferred_name)?,
            date_of_birth: row.date_of_birth,
            year_group: year.cloned(),
            class_name: name(&class.cloned())?,
        },
        left: row.left_on.is_some_and(|last| last < today),
    })
}
