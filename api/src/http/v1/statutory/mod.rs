//! The statutory check: windows, results, and what they come to. No operation that takes results answers with a
//! threshold, an outcome or anything counted of marks, and none takes words.

pub mod add_earlier;
pub mod amend;
pub mod enter;
pub mod enter_threshold;
pub mod export;
pub mod get_window;
pub mod history;
pub mod letters;
pub mod list_earlier;
pub mod list_windows;
pub mod near_threshold;
pub mod open_window;
pub mod outcomes;
pub mod remove_earlier;
pub mod remove_window;
pub mod submit;
pub mod summary;
pub mod take_back;
pub mod thresholds;

use plumbline_core::{
    id::{PupilId, StaffId, StatutoryWindowId},
    rules::RulePack,
    statutory::{EntryError, WindowError},
    time::{Date, Instant},
};
use serde::Serialize;
use utoipa::ToSchema;

use super::pupils::{PupilLine, lines};
use crate::{
    http::problem::{Code, Problem},
    store::{StatutoryPupil, StatutoryResultRow, StatutoryWindowRow},
};

/// A year group, to be named.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct NamedYear {
    /// Its code.
    pub code: String,
    /// As shown.
    pub name: String,
}

impl NamedYear {
    fn of(code: &str, rules: &RulePack) -> Self {
        let name = rules.year_group(code).map_or(code, |year| &year.name);
        Self { code: code.to_owned(), name: name.to_owned() }
    }
}

/// A window of the statutory check.
#[derive(Debug, Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000041", "year": 2026, "term": "summer", "term_name": "Summer term",
    "opens_on": "2026-06-08", "closes_on": "2026-06-12", "absentees_until": "2026-06-19",
    "year_groups": [{"code": "year_1", "name": "Year 1"}], "submitted_by": null, "submitted_at": null
}))]
pub struct StatutoryWindowBody {
    /// Its id.
    pub id: StatutoryWindowId,
    /// The calendar year.
    pub year: i32,
    /// The term's code.
    pub term: String,
    /// The term, as shown.
    pub term_name: String,
    /// First day.
    pub opens_on: Date,
    /// Last day.
    pub closes_on: Date,
    /// Last day for pupils who were away.
    pub absentees_until: Option<Date>,
    /// The year groups checked.
    pub year_groups: Vec<NamedYear>,
    /// Who submitted its results; they are locked from then on.
    pub submitted_by: Option<StaffId>,
    /// When.
    pub submitted_at: Option<Instant>,
}

impl StatutoryWindowBody {
    fn new(row: &StatutoryWindowRow, rules: &RulePack) -> Result<Self, Problem> {
        let checked = row.checked()?;
        Ok(Self {
            id: row.id,
            year: row.year,
            term: row.term.clone(),
            term_name: rules.statutory_check.term_label(&row.term).to_owned(),
            opens_on: row.opens_on,
            closes_on: row.closes_on,
            absentees_until: row.absentees_until,
            year_groups: checked.iter().map(|code| NamedYear::of(code, rules)).collect(),
            submitted_by: row.submitted_by,
            submitted_at: row.submitted_at,
        })
    }
}

/// The check's name with the window's, for a heading.
fn heading(row: &StatutoryWindowRow, rules: &RulePack) -> String {
    let rule = &rules.statutory_check;
    format!("{}, {} {}", rule.name, rule.term_label(&row.term), row.year)
}

/// Pupils of a window by name, namesakes told apart, with what is known of each.
fn named(pupils: Vec<StatutoryPupil>) -> Vec<(PupilLine, StatutoryPupil)> {
    let shown = lines(pupils.iter().map(|pupil| (pupil.row.clone(), pupil.class.clone())).collect());
    shown.into_iter().zip(pupils).collect()
}

/// Refuses to enter anything in a window that was submitted.
fn unlocked(window: &StatutoryWindowRow) -> Result<(), Problem> {
    if window.submitted_at.is_none() {
        return Ok(());
    }
    let detail =
        "the results of this window were submitted and are locked: a change is an amendment, with a reason";
    Err(Problem::saying(Code::Conflict, detail))
}

/// Refuses an entry that replaces another than the one there is; `me` enters it.
fn same_entry(
    current: Option<&StatutoryResultRow>,
    replaces: Option<i64>,
    me: StaffId,
) -> Result<(), Problem> {
    let by = |row: &StatutoryResultRow| if row.entered_by == me { "you have" } else { "another adult has" };
    let message = match (current, replaces) {
        (current, replaces) if current.map(|row| row.v) == replaces => return Ok(()),
        (Some(row), None) => {
            let by = by(row);
            format!("{by} entered a result for this pupil: look at it; to replace it send its version")
        }
        (Some(row), Some(_)) => {
            format!("{} changed this result since you read it: look at it first", by(row))
        }
        (None, _) => "there is no result to replace any more: it was taken back".to_owned(),
    };
    Err(Problem::field("replaces", message).with_code(Code::Conflict))
}

impl From<EntryError> for Problem {
    fn from(error: EntryError) -> Self {
        Self::field(error.field(), error)
    }
}

impl From<WindowError> for Problem {
    fn from(error: WindowError) -> Self {
        Self::field(error.field(), error)
    }
}

/// An entry that was taken, to be replaced by its version.
#[derive(Debug, Serialize, ToSchema)]
#[schema(example = json!({"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "version": 812}))]
pub struct EnteredResult {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The version of the entry: what `replaces` is to say if it is changed.
    pub version: i64,
}

impl From<&StatutoryResultRow> for EnteredResult {
    fn from(row: &StatutoryResultRow) -> Self {
        Self { pupil_id: row.pupil_id, version: row.v }
    }
}
