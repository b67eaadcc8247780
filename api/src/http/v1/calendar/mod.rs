//! School years, half terms, closures, teaching days.

pub mod add_closure;
pub mod closures;
pub mod days;
pub mod export;
pub mod import;
pub mod remove_closure;
pub mod save_year;
pub mod years;

use std::collections::BTreeSet;

use plumbline_core::{
    access::{act::Manage, resource::Calendar},
    calendar::{self, ClosedFor, ClosureKind, DayPart},
    id::{ClassId, ClosureId, GroupId, HalfTermId},
    print::written,
    time::{Date, Instant},
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::problem::{Code, FieldError, Problem},
    store::{ClosureRow, Error, Permit, RecordedDays, Tx, YearSaved},
};

/// A half term.
#[derive(Serialize, ToSchema)]
pub struct HalfTermBody {
    /// Its id.
    pub id: HalfTermId,
    /// As shown.
    pub name: String,
    /// First day.
    pub starts_on: Date,
    /// Last day.
    pub ends_on: Date,
}

/// A school year.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "year": 2026, "starts_on": "2026-09-01", "ends_on": "2027-08-31", "etag": "\"v12\"",
    "half_terms": [{"id": "0199f2c4-0000-7000-8000-000000000004", "name": "Autumn 1",
                    "starts_on": "2026-09-01", "ends_on": "2026-10-23"}]
}))]
pub struct YearBody {
    /// The calendar year it starts in.
    pub year: i32,
    /// First day.
    pub starts_on: Date,
    /// Last day.
    pub ends_on: Date,
    /// Half terms, in order.
    pub half_terms: Vec<HalfTermBody>,
    /// To send as If-Match when saving it again.
    pub etag: String,
}

impl From<YearSaved> for YearBody {
    fn from(saved: YearSaved) -> Self {
        let half_term = |term: plumbline_core::calendar::HalfTerm| HalfTermBody {
            id: term.id,
            name: term.name.into(),
            starts_on: term.starts_on,
            ends_on: term.ends_on,
        };
        Self {
            year: saved.year.year,
            starts_on: saved.year.starts_on,
            ends_on: saved.year.ends_on,
            half_terms: saved.year.half_terms.into_iter().map(half_term).collect(),
            etag: crate::http::reply::etag(saved.v),
        }
    }
}

/// Days without lessons.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000005", "from": "2026-11-12", "until": "2026-11-13", "kind": "closure",
    "reason": "weather", "part": "whole", "year_groups": null, "class_ids": null, "taken_back_at": null
}))]
pub struct ClosureBody {
    /// Its id.
    pub id: ClosureId,
    /// First day.
    pub from: Date,
    /// Last day.
    pub until: Date,
    /// Staff training, shut, or away together.
    pub kind: ClosureKind,
    /// Why: a code of the rule pack.
    pub reason: Option<String>,
    /// How much of each day.
    pub part: DayPart,
    /// Codes of the year groups, where it is for some only.
    pub year_groups: Option<BTreeSet<String>>,
    /// The classes, where it is for some only.
    pub class_ids: Option<BTreeSet<ClassId>>,
    /// When it was taken back; null while it stands.
    pub taken_back_at: Option<Instant>,
}

/// A group with lessons on record of days that are closed.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "group_id": "0199f2c4-0000-7000-8000-000000000008", "name": "Alder", "days": ["2026-11-12"]
}))]
pub struct RecordedGroup {
    /// The group.
    pub group_id: GroupId,
    /// Its name.
    pub name: String,
    /// The days. Their records stay.
    pub days: Vec<Date>,
}

impl From<RecordedDays> for RecordedGroup {
    fn from(found: RecordedDays) -> Self {
        Self { group_id: found.group, name: found.name, days: found.days.into_iter().collect() }
    }
}

/// How many days of a group are named.
const DAYS_NAMED: usize = 10;

/// The groups with lessons on record of days that another calendar would close for them or for who was there.
///
/// # Errors
/// `conflict`, with each group and its days, unless it is said that they may be closed all the same.
fn recorded<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Manage, Calendar>,
    after: &calendar::Calendar,
    with_records: bool,
) -> Result<Vec<RecordedGroup>, Problem> {
    let found = tx.recorded_and_closed(permit, after)?;
    if found.is_empty() || with_records {
        return Ok(found.into_iter().map(RecordedGroup::from).collect());
    }
    let line = |one: &RecordedDays| {
        let days: Vec<String> = one.days.iter().map(ToString::to_string).collect();
        let days = written(&format!("lessons of {} are on record", one.name), &days, DAYS_NAMED);
        let message = format!("{days}. Say true to close the days all the same; the records stay");
        FieldError { field: "with_records".into(), message }
    };
    Err(Problem::fields(found.iter().map(line)).with_code(Code::Conflict))
}

impl TryFrom<ClosureRow> for ClosureBody {
    type Error = Error;

    fn try_from(row: ClosureRow) -> Result<Self, Error> {
        let plan = row.plan()?;
        let (year_groups, class_ids) = match plan.whom {
            ClosedFor::School => (None, None),
            ClosedFor::YearGroups(codes) => (Some(codes), None),
            ClosedFor::Classes(ids) => (None, Some(ids)),
        };
        Ok(Self {
            id: row.id,
            from: plan.from,
            until: plan.until,
            kind: plan.kind,
            reason: row.reason,
            part: plan.part,
            year_groups,
            class_ids,
            taken_back_at: row.taken_back_at,
        })
    }
}

/// The code of the year group that a label means.
fn code_of(tx: &Tx<'_>, field: &str, label: &str) -> Result<String, Problem> {
    let rules = tx.rules()?;
    match rules.year_group_by_label(label) {
        Some(found) => Ok(found.code.clone()),
        None => {
            let known: Vec<_> = rules.year_groups.iter().map(|year| year.code.as_str()).collect();
            Err(Problem::field(field, format!("give one of: {}", known.join(", "))))
        }
    }
}

/// A question about days is bounded.
pub(super) fn check_days(from: Date, to: Date) -> Result<(), Problem> {
    if to < from || to.signed_duration_since(from).num_days() > 400 {
        return Err(Problem::field("to", "must be the first day or up to 400 days later"));
    }
    Ok(())
}
