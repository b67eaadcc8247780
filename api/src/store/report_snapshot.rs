//! The pupils of a report, frozen as they were on its day.

use std::collections::BTreeMap;

use chrono::Datelike as _;
use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::SchoolReport,
    },
    calendar::HalfTerm,
    id::{PupilId, ReportReleaseId, ReportSnapshotId, SchoolId, StaffId},
    report::{self, Basis, Cohort, Definitions, Line, OfCheck, PastTable, PupilSays, met},
    rules::MeasureOf,
    time::{Date, Instant},
};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use sha2::{Digest as _, Sha256};

use super::{
    Error, Permit, Tx,
    conn::db,
    schema::{pupil, report_release, report_snapshot},
};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = report_snapshot, treat_none_as_default_value = false)]
struct Row {
    school_id: SchoolId,
    id: ReportSnapshotId,
    as_of: Date,
    half_term: String,
    basis: Value,
    lines: Value,
    created_by: StaffId,
    created_at: Instant,
    kept_until: Instant,
    checks: Option<Value>,
}

/// What the pupils' lines rest on, as it was on that day.
#[derive(Serialize, Deserialize)]
struct Frozen {
    half_term_from: Date,
    basis: Basis,
    definitions: Definitions,
}

/// A snapshot without its pupils.
#[derive(Clone, Debug, Queryable)]
pub struct SnapshotHead {
    /// Its id.
    pub id: ReportSnapshotId,
    /// As of which day.
    pub as_of: Date,
    /// The half term's name.
    pub half_term: String,
    /// Who made it.
    pub created_by: StaffId,
    /// When.
    pub created_at: Instant,
    /// Until when its pupils are kept.
    pub kept_until: Instant,
}

/// A snapshot.
#[derive(Clone, Debug)]
pub struct Snapshot {
    /// All but what follows.
    pub head: SnapshotHead,
    /// Its pupils, under pseudonyms.
    pub cohort: Cohort,
}

impl Row {
    fn into_snapshot(self) -> Result<Snapshot, Error> {
        let Frozen { half_term_from, basis, mut definitions } = serde_json::from_value(self.basis)?;
        let lines = serde_json::from_value(self.lines)?;
        let checks: Option<Vec<OfCheck>> = self.checks.map(serde_json::from_value).transpose()?;
        if checks.is_none() {
            definitions.measures.retain(|measure| measure.of != MeasureOf::Statutory);
        }
        let checks = checks.unwrap_or_default();
        let cohort = Cohort { as_of: self.as_of, half_term_from, basis, definitions, lines, checks };
        let head = SnapshotHead {
            id: self.id,
            as_of: self.as_of,
            half_term: self.half_term,
            created_by: self.created_by,
            created_at: self.created_at,
            kept_until: self.kept_until,
        };
        Ok(Snapshot { head, cohort })
    }
}

/// The pupil's name in reports: the same in all of one school, so that groups can be told to be nearly the same. No
/// secret: who has the store has the way back. 53 bits, so that every reader of JSON keeps it whole.
pub(super) fn pseudonym(school: SchoolId, pupil: PupilId) -> u64 {
    let digest = Sha256::new()
        .chain_update(b"report")
        .chain_update(school.uuid().as_bytes())
        .chain_update(pupil.uuid().as_bytes())
        .finalize();
    digest.iter().take(8).fold(0, |number: u64, byte| number << 8 | u64::from(*byte)) >> 11
}

impl<'tx> Tx<'tx> {
    /// Freezes the pupils on roll on a day with what is known of them then.
    ///
    /// # Errors
    /// If the store fails.
    pub fn take_snapshot(
        &mut self,
        permit: &Permit<'tx, Manage, SchoolReport>,
        half_term: &HalfTerm,
        as_of: Date,
    ) -> Result<Snapshot, Error> {
        let rules = self.rules()?;
        let facts = self.report_facts(permit, half_term, as_of)?;
        let lessons_had = facts.lessons();
        let (born, said) = (self.terms_of_birth()?, self.fields_told(as_of)?);
        let (checks, expects) = (self.checks_held(as_of, &born)?, self.gpcs_expected(as_of, facts.records)?);
        let secure = &rules.attainment.secure;
        let line = |(id, pupil): (&PupilId, _)| {
            let lessons = lessons_had.get(id).copied().unwrap_or_default();
            let says = PupilSays { facts: pupil, expects: expects.get(id), lessons };
            let measures = rules.reports.measures.iter();
            Line {
                pupil: pseudonym(self.actor.school, *id),
                year_group: pupil.year_group.clone(),
                class: pupil.class.clone(),
                term_of_birth: born.get(id).cloned(),
                fields: said.get(id).cloned().unwrap_or_default(),
                met: measures.filter_map(|one| Some((one.code.clone(), met(one, &says, secure)?))).collect(),
                secure: Some(report::secure(pupil, secure)),
            }
        };
        let mut lines: Vec<Line> = facts.pupils.iter().map(line).collect();
        // By pseudonym, so that no place in the list says who it is.
        lines.sort_by_key(|line| line.pupil);
        let leaving = rules.cautions.iter().filter(|caution| !caution.internal);
        let basis = Basis {
            school: self.school_row()?.name,
            half_term: half_term.name.to_string(),
            secure_means: secure.into(),
            versions: facts.versions,
            cautions: leaving.map(|caution| caution.text.clone()).collect(),
        };
        let definitions = Definitions::of(rules);
        let frozen = Frozen { half_term_from: half_term.starts_on, basis, definitions };
        let row = Row {
            school_id: self.school(),
            id: self.new_id(),
            as_of,
            half_term: frozen.basis.half_term.clone(),
            basis: serde_json::to_value(&frozen)?,
            lines: serde_json::to_value(&lines)?,
            created_by: self.actor.staff,
            created_at: self.now(),
            kept_until: self.in_days(rules.reports.kept_days),
            checks: Some(serde_json::to_value(&checks)?),
        };
        db!(self.conn, c => diesel::insert_into(report_snapshot::table).values(&row).execute(c))?;
        self.about("report_snapshot", row.id.uuid());
        row.into_snapshot()
    }

    /// Terms of birth as told, of those pupils of whom they are known.
    fn terms_of_birth(&mut self) -> Result<BTreeMap<PupilId, String>, Error> {
        let (school, rules) = (self.school(), self.rules()?);
        let rows: Vec<(PupilId, Option<Date>)> = db!(self.conn, c => pupil::table
            .filter(pupil::school_id.eq(school))
            .select((pupil::id, pupil::date_of_birth))
            .load(c))?;
        let told = |born: Date| Some(rules.reports.term_of(born.month())?.coded.label.clone());
        Ok(rows.into_iter().filter_map(|(id, born)| Some((id, told(born?)?))).collect())
    }

    /// What is recorded in optional fields as of a day, as told.
    pub(super) fn fields_told(
        &mut self,
        as_of: Date,
    ) -> Result<BTreeMap<PupilId, BTreeMap<String, String>>, Error> {
        let fields = &self.rules()?.optional_fields.fields;
        let told = |field: &str, code: &str| {
            let known = fields.iter().find(|one| one.field == field)?;
            known.values.iter().find(|value| value.code == code).map(|value| value.name.clone())
        };
        let told_of = |values: BTreeMap<String, String>| {
            values
                .into_iter()
                .filter_map(|(field, code)| Some((field.clone(), told(&field, &code)?)))
                .collect()
        };
        Ok(self.values_on(as_of)?.into_iter().map(|(id, values)| (id, told_of(values))).collect())
    }

    /// Drops what pupils' lines in snapshots, and the ledger of releases, say of an optional field.
    pub(super) fn remove_said_of_reports(&mut self, field: &str) -> Result<(), Error> {
        let school = self.school();
        let snapshots: Vec<(ReportSnapshotId, Value, Option<Value>)> = db!(self.conn, c => report_snapshot::table
            .filter(report_snapshot::school_id.eq(school))
            .select((report_snapshot::id, report_snapshot::lines, report_snapshot::checks))
            .load(c))?;
        for (id, lines, checks) in snapshots {
            let mut lines: Vec<Line> = serde_json::from_value(lines)?;
            let mut checks: Option<Vec<OfCheck>> = checks.map(serde_json::from_value).transpose()?;
            let of_checks = checks.iter_mut().flatten().flat_map(|check| &mut check.lines);
            for line in lines.iter_mut().chain(of_checks) {
                line.fields.remove(field);
            }
            let (lines, checks) =
                (serde_json::to_value(&lines)?, checks.as_ref().map(serde_json::to_value).transpose()?);
            db!(self.conn, c => diesel::update(report_snapshot::table.find((school, id)))
                .set((report_snapshot::lines.eq(&lines), report_snapshot::checks.eq(&checks)))
                .execute(c))?;
        }
        let releases: Vec<(ReportReleaseId, Value)> = db!(self.conn, c => report_release::table
            .filter(report_release::school_id.eq(school))
            .select((report_release::id, report_release::ledger))
            .load(c))?;
        for (id, ledger) in releases {
            let mut ledger: Vec<PastTable> = serde_json::from_value(ledger)?;
            ledger.iter_mut().for_each(|table| table.forget(field));
            let ledger = serde_json::to_value(&ledger)?;
            db!(self.conn, c => diesel::update(report_release::table.find((school, id)))
                .set(report_release::ledger.eq(&ledger))
                .execute(c))?;
        }
        Ok(())
    }

    /// The school's snapshots, the latest first, without any pupil.
    ///
    /// # Errors
    /// If the store fails.
    pub fn snapshots(
        &mut self,
        _permit: &Permit<'tx, Read, SchoolReport>,
    ) -> Result<Vec<SnapshotHead>, Error> {
        let (school, now) = (self.school(), self.now());
        Ok(db!(self.conn, c => report_snapshot::table
            .filter(report_snapshot::school_id.eq(school))
            .filter(report_snapshot::kept_until.gt(now))
            .order(report_snapshot::id.desc())
            .select((
                report_snapshot::id,
                report_snapshot::as_of,
                report_snapshot::half_term,
                report_snapshot::created_by,
                report_snapshot::created_at,
                report_snapshot::kept_until,
            ))
            .load(c))?)
    }

    /// A snapshot. Its reading is logged.
    ///
    /// # Errors
    /// [`Error::Missing`] if there is none, or its time is over.
    pub fn report_snapshot<A>(
        &mut self,
        _permit: &Permit<'tx, A, SchoolReport>,
        id: ReportSnapshotId,
    ) -> Result<Snapshot, Error> {
        let (school, now) = (self.school(), self.now());
        self.about("report_snapshot", id.uuid());
        let row: Row = db!(self.conn, c => report_snapshot::table
            .find((school, id))
            .filter(report_snapshot::kept_until.gt(now))
            .select(Row::as_select())
            .first(c))?;
        row.into_snapshot()
    }
}
