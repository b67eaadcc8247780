//! School years, half terms, closures, teaching days.

pub mod add_closure;
pub mod closures;
pub mod days;
pub mod remove_closure;
pub mod save_year;
pub mod years;

use plumbline_core::{
    calendar::ClosureKind,
    id::{ClosureId, HalfTermId},
    time::Date,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::store::{ClosureRow, YearSaved};

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

/// A day without lessons.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"id": "0199f2c4-0000-7000-8000-000000000005", "on": "2026-11-12", "kind": "closure", "reason": "weather"}))]
pub struct ClosureBody {
    /// Its id.
    pub id: ClosureId,
    /// The day.
    pub on: Date,
    /// Staff training, or shut.
    pub kind: ClosureKind,
    /// Why: a code of the rule pack.
    pub reason: Option<String>,
}

impl From<ClosureRow> for ClosureBody {
    fn from(row: ClosureRow) -> Self {
        Self { id: row.id, on: row.on_date, kind: row.kind, reason: row.reason }
    }
}
