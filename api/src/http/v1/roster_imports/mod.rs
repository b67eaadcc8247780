//! Roster imports from a file: preview, answers, confirm.

pub mod answer;
pub mod confirm;
pub mod create;
pub mod get;
pub mod list;
pub mod undo;

use std::collections::BTreeMap;

use plumbline_core::{
    access::{act::Manage, resource::Roster},
    id::{PupilId, RosterImportId},
    roster::{
        Absent, Field, Finding, Gone, Match, Plan, Repeat, Row, Why,
        file::{
            Answers, Column, Context, Format, Question, Reading, Sheet, Withheld, headings, read, withhold,
        },
        plan,
    },
    time::{Date, Instant},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    http::{problem::Problem, reply::etag},
    store::{ImportRow, ImportStatus, Permit, Tx},
};

/// Takes out of a file what the school does not record, before it is kept; whether that was anything.
fn keep_out<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Manage, Roster>,
    sheet: &mut Sheet,
    answers: &Answers,
) -> Result<bool, Problem> {
    let (rules, on) = (tx.rules()?, tx.optional_keys(permit)?);
    let headings = headings(rules, &tx.file_headings(permit)?);
    Ok(withhold(sheet, answers, &headings, rules, &on))
}

/// What a file says, with the answers so far.
fn reading<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Manage, Roster>,
    sheet: &Sheet,
    answers: &Answers,
) -> Result<Reading, Problem> {
    let (rules, today) = (tx.rules()?, tx.today());
    let headings = headings(rules, &tx.file_headings(permit)?);
    let year = match answers.year {
        Some(year) => year,
        None => tx.school_year_of(today)?,
    };
    let on = &tx.optional_keys(permit)?;
    Ok(read(sheet, answers, Context { rules, headings: &headings, today, year, on }))
}

/// The same, and what it would change of the roster.
fn preview<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Manage, Roster>,
    sheet: &Sheet,
    answers: &Answers,
) -> Result<(Reading, Plan), Problem> {
    let reading = reading(tx, permit, sheet, answers)?;
    let plan = plan_of(tx, permit, &reading, answers)?;
    Ok((reading, plan))
}

/// What a file would change of the roster, as it is in the year the file is for.
fn plan_of<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Manage, Roster>,
    reading: &Reading,
    answers: &Answers,
) -> Result<Plan, Problem> {
    let (mut pupils, classes) = tx.roster_rows(permit, reading.year)?;
    pupils
        .iter_mut()
        .flat_map(|pupil| std::iter::once(&mut pupil.row).chain(&mut pupil.once))
        .for_each(Row::clean);
    let decisions = tx.decisions(permit)?;
    Ok(plan(reading, answers, (&pupils, &decisions), &classes, tx.rules()?))
}

/// A field a file would change.
#[derive(Serialize, Deserialize, ToSchema)]
pub struct FieldChange {
    /// The field.
    pub field: Field,
    /// What the school holds; nothing yet where null.
    pub old: Option<String>,
    /// What the file says.
    pub new: Option<String>,
}

/// An optional field a file would change; codes of its values.
#[derive(Serialize, Deserialize, ToSchema)]
pub struct OptionalFieldChange {
    /// The field's key.
    pub field: String,
    /// What is recorded; nothing yet where null.
    pub old: Option<String>,
    /// What the file says.
    pub new: Option<String>,
}

/// A pupil a file would change.
#[derive(Serialize, Deserialize, ToSchema)]
pub struct ChangeBody {
    /// Line in the file.
    pub line: u64,
    /// The pupil.
    pub pupil_id: PupilId,
    /// The name the pupil is called by.
    pub name: String,
    /// The class, as the school has it.
    pub class_name: Option<String>,
    /// What the row is known by.
    pub matched_by: Why,
    /// Fields that differ.
    pub fields: Vec<FieldChange>,
    /// Optional fields that differ.
    pub optional_fields: Vec<OptionalFieldChange>,
}

/// A pupil a file would add.
#[derive(Serialize, Deserialize, ToSchema)]
pub struct CreatedBody {
    /// Line in the file.
    pub line: u64,
    /// The name, as it would be shown.
    pub name: String,
    /// The class, as spelled in the file.
    pub class_name: Option<String>,
    /// The date of birth, as it was read.
    pub date_of_birth: Option<Date>,
    /// The year group, given or by date of birth.
    pub year_group: Option<String>,
    /// What the file says of optional fields: codes by the fields' keys.
    pub optional_fields: BTreeMap<String, String>,
}

/// A pupil of the school who is not in the file.
#[derive(Serialize, Deserialize, ToSchema)]
pub struct MissingBody {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The name the pupil is called by.
    pub name: String,
    /// The class.
    pub class_name: Option<String>,
}

/// A pupil a file says has left.
#[derive(Serialize, Deserialize, ToSchema)]
pub struct GoneBody {
    /// Line in the file.
    pub line: u64,
    /// The pupil.
    pub pupil_id: PupilId,
    /// The name the pupil is called by.
    pub name: String,
    /// What the row is known by.
    pub matched_by: Why,
    /// The class the pupil leaves; the school where null.
    pub class_name: Option<String>,
}

/// Somebody a row may be about.
#[derive(Serialize, Deserialize, ToSchema)]
pub struct CandidateBody {
    /// The pupil.
    pub pupil_id: PupilId,
    /// Why.
    pub matched_by: Why,
    /// The name the pupil is called by.
    pub name: String,
    /// The school's reference.
    pub pupil_ref: Option<String>,
    /// Date of birth.
    pub date_of_birth: Option<Date>,
    /// The class.
    pub class_name: Option<String>,
}

/// A row that waits for a person to say whom it is about.
#[derive(Serialize, Deserialize, ToSchema)]
pub struct HeldBody {
    /// Line in the file.
    pub line: u64,
    /// The name in the file.
    pub name: String,
    /// Whom it may be about.
    pub candidates: Vec<CandidateBody>,
}

/// What a file was read as and what it would change.
#[derive(Serialize, Deserialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000009", "status": "preview",
    "kept_until": "2026-12-09T10:00:00.000000Z", "etag": "\"v12\"",
    "format": "text", "format_version": null, "changes_only": false, "encoding": "UTF-8",
    "delimiter": ",", "sheet": null, "other_sheets": [], "header_line": 1, "columns": [{"column": "A", "heading": "Forename", "field": "given_name", "optional_field": null}],
    "withheld": [{"column": "G", "heading": "SEN", "field": "sen", "why": "this school does not record it, so that nothing of the column was kept; once it is switched on, send the file again"}],
    "not_carried": ["upn"], "year": 2026, "questions": [], "answers": {}, "rows": 201, "unchanged": 0,
    "created": [{"line": 2, "name": "Zo Bell", "class_name": "Alder", "date_of_birth": "2020-05-31", "year_group": "year_1", "optional_fields": {}}], "updated": [], "completed": [], "held": [],
    "repeats": [], "left_out": [], "new_classes": ["Alder"], "attention": [], "absent": 0, "missing": [], "gone": [], "leavers": 0,
    "rejected": [{"line": 7, "record": 6, "cell": "F7", "field": "date_of_birth", "suggest": null,
                  "message": "\"31/13/2020\" is not a date; write 2019-05-31 or 31/05/2019"}]
}))]
pub struct ImportBody {
    /// Its id.
    pub id: RosterImportId,
    /// How far it is.
    pub status: ImportStatus,
    /// Until when the rows of the file are kept: until then it can be answered and confirmed, or taken
    /// back. Null once it is taken back.
    pub kept_until: Option<Instant>,
    /// To send as If-Match with answers.
    pub etag: String,
    /// What the file is, by its content.
    pub format: Format,
    /// The version of the format, where the file tells.
    pub format_version: Option<String>,
    /// Whether the file holds some of the school's pupils only, as a delta and a transfer file do:
    /// nobody is missing from it.
    pub changes_only: bool,
    /// The encoding a text file was read in.
    pub encoding: Option<String>,
    /// What separates cells in a text file.
    pub delimiter: Option<String>,
    /// The sheet of a workbook that was read.
    pub sheet: Option<String>,
    /// Its other sheets, which were not.
    pub other_sheets: Vec<String>,
    /// The header's line; 0 where none was found.
    pub header_line: u64,
    /// The columns and what each is read as.
    pub columns: Vec<Column>,
    /// Columns of optional fields that are off: nothing of them was kept.
    pub withheld: Vec<Withheld>,
    /// Fields the file does not carry: what the school holds of them stays.
    pub not_carried: Vec<Field>,
    /// The school year the year groups are of, by the calendar year it starts in.
    pub year: i32,
    /// What must be answered before the import can be confirmed.
    pub questions: Vec<Question>,
    /// What was answered.
    pub answers: Answers,
    /// Rows in the file, without the header and empty lines.
    pub rows: usize,
    /// Pupils to add.
    pub created: Vec<CreatedBody>,
    /// Pupils of whom the file says something else than the school holds.
    pub updated: Vec<ChangeBody>,
    /// Pupils of whom the file only says more.
    pub completed: Vec<ChangeBody>,
    /// Rows that say what the school holds already.
    pub unchanged: usize,
    /// Rows left out until somebody says whom they are about.
    pub held: Vec<HeldBody>,
    /// Rows that say the same as an earlier one.
    pub repeats: Vec<Repeat>,
    /// Lines somebody left out.
    pub left_out: Vec<u64>,
    /// Classes to add.
    pub new_classes: Vec<String>,
    /// Rows that are left out, and why.
    pub rejected: Vec<Finding>,
    /// What somebody should look at, and what stands in no way.
    pub attention: Vec<Finding>,
    /// How many pupils of the school are not in the file. Nothing becomes of them, unless their number is
    /// given as `leavers`.
    pub absent: usize,
    /// Who they are.
    pub missing: Vec<MissingBody>,
    /// Pupils the file says have left. Nothing becomes of them either.
    pub gone: Vec<GoneBody>,
    /// How many of both leave the school or a class, because somebody gave their number.
    pub leavers: usize,
}

impl ImportBody {
    /// An import with what its file says.
    pub fn new(row: ImportRow, reading: Reading) -> Self {
        let ImportRow { id, status, sheet, answers, plan, kept_until, v } = row;
        let mut lines: std::collections::BTreeSet<u64> = reading.rows.iter().map(|row| row.line).collect();
        lines.extend(reading.rejected.iter().map(|finding| finding.line));
        let Plan { created, updated, completed, unchanged, held, repeats, left_out, .. } = plan;
        Self {
            id,
            status,
            kept_until,
            etag: etag(v),
            format: sheet.format,
            format_version: sheet.version,
            changes_only: sheet.changes_only,
            encoding: sheet.encoding,
            delimiter: sheet.delimiter.map(String::from),
            sheet: sheet.name,
            other_sheets: sheet.other_sheets,
            header_line: reading.header_line,
            columns: reading.columns.0,
            withheld: reading.withheld,
            not_carried: reading.not_carried,
            year: plan.year,
            questions: reading.questions,
            answers,
            rows: lines.len(),
            created: created.into_iter().map(CreatedBody::from).collect(),
            updated: updated.into_iter().map(ChangeBody::from).collect(),
            completed: completed.into_iter().map(ChangeBody::from).collect(),
            unchanged,
            held: held.into_iter().map(HeldBody::from).collect(),
            repeats,
            left_out,
            new_classes: plan.new_classes.into_iter().map(String::from).collect(),
            rejected: plan.rejected,
            attention: plan.attention,
            absent: plan.absent.len(),
            missing: plan.absent.into_iter().map(MissingBody::from).collect(),
            gone: plan.gone.into_iter().map(GoneBody::from).collect(),
            leavers: plan.leavers.len() + plan.class_leavers.len(),
        }
    }
}

impl From<Row> for CreatedBody {
    fn from(row: Row) -> Self {
        Self {
            line: row.line,
            name: row.shown_name(),
            class_name: row.class_name.map(String::from),
            date_of_birth: row.date_of_birth,
            year_group: row.year_group.or(row.cohort),
            optional_fields: row.optional,
        }
    }
}

impl From<Absent> for MissingBody {
    fn from(absent: Absent) -> Self {
        let Absent { pupil, name, class } = absent;
        Self { pupil_id: pupil, name, class_name: class.map(String::from) }
    }
}

impl From<Gone> for GoneBody {
    fn from(gone: Gone) -> Self {
        let Gone { line, pupil, why, name, class } = gone;
        Self { line, pupil_id: pupil, name, matched_by: why, class_name: class.map(String::from) }
    }
}

impl From<plumbline_core::roster::Change> for ChangeBody {
    fn from(change: plumbline_core::roster::Change) -> Self {
        let field = |field: &Field| FieldChange {
            field: *field,
            old: change.old.cell(*field),
            new: change.row.cell(*field),
        };
        let optional = |field: &String| OptionalFieldChange {
            field: field.clone(),
            old: change.old.optional.get(field).cloned(),
            new: change.row.optional.get(field).cloned(),
        };
        Self {
            line: change.row.line,
            pupil_id: change.pupil,
            name: change.old.shown_name(),
            class_name: change.old.class_name.as_ref().map(ToString::to_string),
            matched_by: change.why,
            fields: change.fields.iter().map(field).collect(),
            optional_fields: change.optional.iter().map(optional).collect(),
        }
    }
}

impl From<plumbline_core::roster::Held> for HeldBody {
    fn from(held: plumbline_core::roster::Held) -> Self {
        let candidate = |(one, old): (Match<PupilId>, Row)| CandidateBody {
            pupil_id: one.whom,
            matched_by: one.why,
            name: old.shown_name(),
            pupil_ref: old.pupil_ref,
            date_of_birth: old.date_of_birth,
            class_name: old.class_name.map(String::from),
        };
        Self {
            line: held.row.line,
            name: held.row.shown_name(),
            candidates: held.candidates.into_iter().zip(held.old).map(candidate).collect(),
        }
    }
}
