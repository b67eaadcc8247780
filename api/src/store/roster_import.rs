//! Roster imports: what a file was read as, what it would change, and doing it.

use std::collections::{BTreeMap, BTreeSet};

use super::{
    Error, Permit, Tx,
    conn::db,
    pupil::{NewPupil, PupilChange, PupilRow},
    schema::{file_heading, pupil, pupil_year, roster_import},
};
use diesel::prelude::*;
use plumbline_core::{
    access::{act::Manage, resource::Roster},
    id::{ClassId, PupilId, RosterImportId, SchoolId, StaffId},
    roster::{
        Existing, Field, Plan, Row, Summary, Upn, Verdict, class_key,
        file::{Answers, Beside, Columns, Headings, Sheet, heading_key},
    },
    text::Name,
    time::{Date, Instant},
};

plumbline_core::vocabulary! {
    /// How far a roster import is.
    pub enum ImportStatus {
        /// Shown, nothing written.
        Preview = "preview",
        /// Carried out.
        Confirmed = "confirmed",
        /// Carried out and taken back.
        Undone = "undone",
        /// Never carried out, and its rows are no longer kept.
        Expired = "expired",
    }
}

/// A roster import.
#[derive(Clone, Debug)]
pub struct ImportRow {
    /// Its id.
    pub id: RosterImportId,
    /// How far it is.
    pub status: ImportStatus,
    /// The file.
    pub sheet: Sheet,
    /// What was answered.
    pub answers: Answers,
    /// What it would change, as last shown.
    pub plan: Plan,
    /// Until when its rows are kept; gone where none.
    pub kept_until: Option<Instant>,
    /// Its version.
    pub v: i64,
}

/// What is left of the columns that hold anybody, once they have had their time: nothing.
#[derive(AsChangeset, Default)]
#[diesel(table_name = roster_import, treat_none_as_null = true)]
pub(in crate::store) struct RowsGone {
    readings: serde_json::Value,
    plan: serde_json::Value,
    answers: serde_json::Value,
    before: Option<serde_json::Value>,
    kept_until: Option<Instant>,
}

#[derive(Insertable)]
#[diesel(table_name = roster_import, treat_none_as_default_value = false)]
struct ImportInsert<'a> {
    school_id: SchoolId,
    id: RosterImportId,
    status: ImportStatus,
    encoding: &'a str,
    readings: serde_json::Value,
    answers: serde_json::Value,
    plan: serde_json::Value,
    summary: serde_json::Value,
    created_by: StaffId,
    created_at: Instant,
    kept_until: Option<Instant>,
    v: i64,
}

impl<'tx> Tx<'tx> {
    /// What the school holds by name, as rows to compare a file for a school year with, and its class
    /// names. Year groups and classes are those of that year: of today where the year has begun.
    ///
    /// # Errors
    /// If the store fails.
    pub fn roster_rows<A>(
        &mut self,
        _permit: &Permit<'tx, A, Roster>,
        year: i32,
    ) -> Result<(Vec<Existing>, Vec<String>), Error> {
        let (school, on) = (self.school(), self.day_in_year(year)?);
        let pupils: Vec<PupilRow> = db!(self.conn, c => pupil::table
            .filter(pupil::school_id.eq(school))
            .order((pupil::search_key, pupil::id))
            .select(PupilRow::as_select())
            .load(c))?;
        let classes = self.class_names(on)?;
        let years: Vec<(PupilId, String)> = db!(self.conn, c => pupil_year::table
            .filter(pupil_year::school_id.eq(school))
            .filter(pupil_year::year.le(year))
            .order(pupil_year::year)
            .select((pupil_year::pupil_id, pupil_year::year_group))
            .load(c))?;
        let years: BTreeMap<PupilId, String> = years.into_iter().collect();
        let (upns, mut values) = (self.upns()?, self.values_on(on)?);
        let mut once = self.once()?;
        let existing = pupils
            .into_iter()
            .map(|row| {
                let (class, year) = (classes.get(&row.id), years.get(&row.id));
                let left = row.left_on.is_some_and(|last| last < on);
                let once = once.remove(&row.id).unwrap_or_default();
                let mut held = known(&row, upns.get(&row.id), class, year)?;
                held.optional = values.remove(&row.id).unwrap_or_default();
                Ok(Existing { id: row.id, row: held, left, once })
            })
            .collect::<Result<_, Error>>()?;
        let names = self.classes_by_key()?.into_values().map(|row| row.name).collect();
        Ok((existing, names))
    }

    /// What the school took headings for.
    ///
    /// # Errors
    /// If the store fails.
    pub fn file_headings(&mut self, _permit: &Permit<'tx, Manage, Roster>) -> Result<Headings, Error> {
        self.chosen_headings()
    }

    pub(super) fn chosen_headings(&mut self) -> Result<Headings, Error> {
        let school = self.school();
        let rows: Vec<(String, Option<Field>)> = db!(self.conn, c => file_heading::table
            .filter(file_heading::school_id.eq(school))
            .select((file_heading::heading_key, file_heading::field))
            .load(c))?;
        Ok(rows.into_iter().collect())
    }

    /// Keeps a preview.
    ///
    /// # Errors
    /// If the store fails.
    pub fn add_import(
        &mut self,
        _permit: &Permit<'tx, Manage, Roster>,
        sheet: Sheet,
        plan: Plan,
    ) -> Result<ImportRow, Error> {
        let answers = Answers::default();
        let insert = ImportInsert {
            school_id: self.school(),
            id: self.new_id(),
            status: ImportStatus::Preview,
            encoding: sheet.encoding.as_deref().unwrap_or_default(),
            readings: serde_json::to_value(&sheet)?,
            answers: serde_json::to_value(&answers)?,
            plan: serde_json::to_value(&plan)?,
            summary: serde_json::to_value(Summary::of(&sheet, &plan))?,
            created_by: self.actor.staff,
            created_at: self.now(),
            kept_until: Some(self.in_days(self.rules()?.pupil_files.preview_days)),
            v: self.version,
        };
        db!(self.conn, c => diesel::insert_into(roster_import::table).values(&insert).execute(c))?;
        let (id, status, kept_until, v) = (insert.id, insert.status, insert.kept_until, insert.v);
        self.about("roster_import", id.uuid());
        Ok(ImportRow { id, status, sheet, answers, plan, kept_until, v })
    }

    /// An import; it is the subject of the audit log's entry.
    ///
    /// # Errors
    /// [`Error::Missing`] if there is none, [`Error::NotKept`] if its rows are gone or due to go.
    pub fn import(
        &mut self,
        _permit: &Permit<'tx, Manage, Roster>,
        id: RosterImportId,
    ) -> Result<ImportRow, Error> {
        type Json = serde_json::Value;
        let (school, now) = (self.school(), self.now());
        self.about("roster_import", id.uuid());
        let kept_until: Option<Instant> = db!(self.conn, c => roster_import::table
            .find((school, id))
            .select(roster_import::kept_until)
            .first(c))?;
        if kept_until.is_none_or(|until| until <= now) {
            return Err(Error::NotKept);
        }
        let (status, sheet, answers, plan, v): (ImportStatus, Json, Json, Json, i64) = db!(self.conn, c => roster_import::table
                .find((school, id))
                .select((
                    roster_import::status,
                    roster_import::readings,
                    roster_import::answers,
                    roster_import::plan,
                    roster_import::v,
                ))
                .first(c))?;
        Ok(ImportRow {
            id,
            status,
            sheet: serde_json::from_value(sheet)?,
            answers: serde_json::from_value(answers)?,
            plan: serde_json::from_value(plan)?,
            kept_until,
            v,
        })
    }

    /// Keeps what was answered and what the file would change by it.
    ///
    /// # Errors
    /// If the store fails.
    pub fn answer_import(
        &mut self,
        _permit: &Permit<'tx, Manage, Roster>,
        import: &mut ImportRow,
    ) -> Result<(), Error> {
        let (school, version) = (self.school(), self.version);
        let (answers, plan) = (serde_json::to_value(&import.answers)?, serde_json::to_value(&import.plan)?);
        let summary = serde_json::to_value(Summary::of(&import.sheet, &import.plan))?;
        db!(self.conn, c => diesel::update(roster_import::table.find((school, import.id)))
            .set((
                roster_import::answers.eq(&answers),
                roster_import::plan.eq(&plan),
                roster_import::summary.eq(&summary),
                roster_import::v.eq(version),
            ))
            .execute(c))?;
        self.about("roster_import", import.id.uuid());
        import.v = version;
        Ok(())
    }

    /// Carries a plan out from a day of its school year on: classes, then pupils. What somebody
    /// said a column means is remembered, and of the file what it holds now.
    ///
    /// # Errors
    /// [`Error::Conflict`] if a reference or a UPN was taken meanwhile.
    pub fn carry_out(
        &mut self,
        _permit: &Permit<'tx, Manage, Roster>,
        import: &mut ImportRow,
        columns: &Columns,
        from: Date,
    ) -> Result<(), Error> {
        let year = import.plan.year;
        self.about("roster_import", import.id.uuid());
        self.remember_headings(import, columns)?;
        let mut before = self.before_import(&import.plan)?;
        for name in &import.plan.new_classes {
            before.classes.push(self.insert_class(name.as_str())?.id);
        }
        let classes = self.classes_by_key()?;
        let class_of = |name: &Name| classes.get(&class_key(name.as_str())).map(|row| row.id);
        let new = |row: &Row| NewPupil {
            pupil_ref: row.pupil_ref.clone(),
            upn: row.upn.clone(),
            given_name: row.given_name.as_ref().map(ToString::to_string).unwrap_or_default(),
            family_name: row.family_name.as_ref().map(ToString::to_string),
            preferred_name: row.preferred_name.as_ref().map(ToString::to_string),
            label: None,
            date_of_birth: row.date_of_birth,
            year_group: row.year_group.clone().or(row.cohort.clone()).map(|code| (year, code)),
            class: row.class_name.as_ref().and_then(class_of),
            from,
        };
        before.created = self.insert_pupils(&import.plan.created.iter().map(new).collect::<Vec<_>>())?;
        let made: BTreeMap<u64, PupilId> =
            import.plan.created.iter().map(|row| row.line).zip(before.created.iter().copied()).collect();
        for apart in &import.plan.apart {
            if let Some(created) = made.get(&apart.line) {
                self.insert_decision(Verdict::Different, [apart.pupil, *created], None)?;
            }
        }
        let changes = import.plan.updated.iter().chain(&import.plan.completed).map(|change| {
            let class = change.row.class_name.as_ref().and_then(class_of);
            (change.pupil, pupil_change(change, class, from, year))
        });
        self.apply_pupils(&changes.collect::<Vec<_>>())?;
        self.say_of_plan(&import.plan, &before.created, from)?;
        let leave = PupilChange { left_on: Some(from.pred_opt()), ..PupilChange::default() };
        let leavers = import.plan.leavers.iter().map(|leaver| (*leaver, leave.clone()));
        self.apply_pupils(&leavers.collect::<Vec<_>>())?;
        for (leaver, class) in &import.plan.class_leavers {
            let mut classes = self.classes_on(*leaver, from)?;
            classes.retain(|id| Some(*id) != class_of(class));
            let change = PupilChange { classes: Some((classes, from)), ..PupilChange::default() };
            self.apply_pupils(&[(*leaver, change)])?;
        }
        self.import_done(&mut before)?;
        let (before, sheet) = (serde_json::to_value(&before)?, serde_json::to_value(&import.sheet)?);
        let (school, now, version) = (self.school(), self.now(), self.version);
        import.kept_until = Some(self.in_days(self.rules()?.pupil_files.undo_days));
        (import.status, import.v) = (ImportStatus::Confirmed, version);
        db!(self.conn, c => diesel::update(roster_import::table.find((school, import.id)))
            .set((
                roster_import::status.eq(ImportStatus::Confirmed),
                roster_import::confirmed_at.eq(Some(now)),
                roster_import::kept_until.eq(import.kept_until),
                roster_import::before.eq(Some(&before)),
                roster_import::readings.eq(&sheet),
                roster_import::v.eq(version),
            ))
            .execute(c))?;
        Ok(())
    }

    fn remember_headings(&mut self, import: &ImportRow, columns: &Columns) -> Result<(), Error> {
        let school = self.school();
        for column in &columns.0 {
            let Some(field) = import.answers.column(&column.column) else { continue };
            let key = heading_key(&column.heading);
            db!(self.conn, c => diesel::insert_into(file_heading::table)
                .values((
                    file_heading::school_id.eq(school),
                    file_heading::heading_key.eq(&key),
                    file_heading::field.eq(field),
                ))
                .on_conflict((file_heading::school_id, file_heading::heading_key))
                .do_update()
                .set(file_heading::field.eq(field))
                .execute(c))?;
        }
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
            Field::Upn => done.upn = Some(row.upn.clone()),
            Field::GivenName => done.given_name = row.given_name.as_ref().map(ToString::to_string),
            Field::FamilyName => done.family_name = text(&row.family_name),
            Field::PreferredName => done.preferred_name = text(&row.preferred_name),
            Field::DateOfBirth => done.date_of_birth = Some(row.date_of_birth),
            Field::YearGroup => done.year_group = row.year_group.clone().map(|code| (year, code)),
            Field::ClassName => done.classes = class.map(|class| (BTreeSet::from([class]), from)),
        }
    }
    done
}

/// What the school holds of a pupil, as a row of a file.
pub(super) fn known(
    row: &PupilRow,
    upn: Option<&Upn>,
    class: Option<&String>,
    year: Option<&String>,
) -> Result<Row, Error> {
    let damaged = |error: plumbline_core::text::TextError| Error::Damaged(error.to_string());
    let name = |text: &Option<String>| text.as_deref().map(Name::new).transpose().map_err(damaged);
    Ok(Row {
        line: 0,
        record: 0,
        pupil_ref: row.pupil_ref.clone(),
        upn: upn.cloned(),
        given_name: name(&Some(row.given_name.clone()).filter(|name| !name.is_empty()))?,
        family_name: name(&row.family_name)?,
        preferred_name: name(&row.preferred_name)?,
        date_of_birth: row.date_of_birth,
        year_group: year.cloned(),
        cohort: None,
        class_name: name(&class.cloned())?,
        optional: BTreeMap::new(),
        beside: Beside::default(),
    })
}
