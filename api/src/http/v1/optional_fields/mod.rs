//! Optional fields of pupils: which there are, which the school records and what for.

pub mod list;
pub mod switch_off;
pub mod switch_on;

use plumbline_core::{
    id::StaffId,
    rules::{OptionalField, OptionalValue},
    time::{Date, Instant},
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::{
        problem::{Code, Problem},
        reply::etag,
    },
    store::{OptionalFieldRow, Tx},
};

/// A value of an optional field.
#[derive(Serialize, ToSchema)]
pub struct OptionalValueBody {
    /// As stored and sent.
    pub code: String,
    /// As shown.
    pub name: String,
    /// Whether it says that the school asked and does not know. That is no "no"; nor is it the same as
    /// nothing being recorded, which is no value at all.
    pub unknown: bool,
}

/// That a field is switched on.
#[derive(Serialize, ToSchema)]
pub struct SwitchedOn {
    /// What it is recorded for.
    pub purpose: String,
    /// When that is to be looked at again.
    pub review_on: Date,
    /// Whether that day has come.
    pub review_due: bool,
    /// Who said so.
    pub switched_on_by: StaffId,
    /// When.
    pub switched_on_at: Instant,
    /// To send as If-Match with a change or when switching off.
    pub etag: String,
}

/// An optional field.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "field": "sex", "name": "Sex",
    "values": [{"code": "F", "name": "Female", "unknown": false}, {"code": "M", "name": "Male", "unknown": false},
               {"code": "U", "name": "Not known", "unknown": true}],
    "on": {"purpose": "Report of gaps to the governors", "review_on": "2027-07-31", "review_due": false,
           "switched_on_by": "0199f2c4-0000-7000-8000-000000000002",
           "switched_on_at": "2026-11-25T10:00:00.000000Z", "etag": "\"v12\""}
}))]
pub struct OptionalFieldBody {
    /// Its key.
    pub field: String,
    /// As shown.
    pub name: String,
    /// What it can say.
    pub values: Vec<OptionalValueBody>,
    /// What it is recorded for; null while it is off, and then nothing of it is held.
    pub on: Option<SwitchedOn>,
}

impl From<&OptionalValue> for OptionalValueBody {
    fn from(value: &OptionalValue) -> Self {
        Self { code: value.code.clone(), name: value.name.clone(), unknown: value.unknown }
    }
}

impl OptionalFieldBody {
    /// A field of the rule pack, and what makes it on.
    pub fn new(field: &OptionalField, on: Option<OptionalFieldRow>, today: Date) -> Self {
        let on = on.map(|row| SwitchedOn {
            purpose: row.purpose,
            review_on: row.review_on,
            review_due: row.review_on <= today,
            switched_on_by: row.switched_on_by,
            switched_on_at: row.switched_on_at,
            etag: etag(row.v),
        });
        let values = field.values.iter().map(OptionalValueBody::from).collect();
        Self { field: field.field.clone(), name: field.name.clone(), values, on }
    }
}

/// A field of the school's rule pack.
///
/// # Errors
/// `not_found`, naming those there are.
pub fn known(tx: &Tx<'_>, field: &str) -> Result<&'static OptionalField, Problem> {
    let rules = tx.rules()?;
    rules.optional_field(field).ok_or_else(|| {
        let known: Vec<_> = rules.optional_fields.fields.iter().map(|known| known.field.as_str()).collect();
        Problem::saying(Code::NotFound, format!("the optional fields are {}", known.join(", ")))
    })
}

/// The refusal to take a value of a field that is off.
pub fn is_off(field: &str) -> Problem {
    let detail = format!(
        "{field} is off: the lead says first what it is recorded for, at PUT /optional-fields/{field}"
    );
    Problem::saying(Code::Conflict, detail)
}
