//! The optional fields of one pupil.

pub mod get;
pub mod set;

use plumbline_core::{
    id::{PupilId, StaffId},
    roster::optional::{Said, stretches, value_on},
    rules::OptionalField,
    time::{Date, Instant},
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::{problem::Problem, reply::Reply},
    store::{PupilFieldsView, Tx},
};

/// Days of one value.
#[derive(Serialize, ToSchema)]
pub struct FieldDays {
    /// The first.
    pub from: Date,
    /// The last; null where none is known.
    pub until: Option<Date>,
    /// The value's code.
    pub value: String,
}

/// A word as it was entered.
#[derive(Serialize, ToSchema)]
pub struct FieldWord {
    /// The day it counts from.
    pub from: Date,
    /// The value's code; null where it takes back what was recorded.
    pub value: Option<String>,
    /// Who entered it.
    pub entered_by: StaffId,
    /// When.
    pub entered_at: Instant,
}

/// One optional field of a pupil.
#[derive(Serialize, ToSchema)]
pub struct PupilFieldBody {
    /// Its key.
    pub field: String,
    /// As shown.
    pub name: String,
    /// The value's code on the day asked for. Null means that nothing is recorded: not "no", and not
    /// "unknown", which is a value of its own.
    pub value: Option<String>,
    /// The value as shown.
    pub value_name: Option<String>,
    /// The days of each value; days between are not recorded.
    pub days: Vec<FieldDays>,
    /// Every word as entered, earliest first. A later one counts from its day on, whatever was said before.
    pub words: Vec<FieldWord>,
}

/// The optional fields of a pupil that are switched on.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "pupil_id": "0199f2c4-0000-7000-8000-000000000007", "on": "2026-11-25",
    "fields": [{"field": "sex", "name": "Sex", "value": "F", "value_name": "Female",
                "days": [{"from": "2026-09-01", "until": null, "value": "F"}],
                "words": [{"from": "2026-09-01", "value": "F", "entered_by": "0199f2c4-0000-7000-8000-000000000002",
                           "entered_at": "2026-11-25T10:00:00.000000Z"}]}]
}))]
pub struct PupilFieldsBody {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The day of `value`.
    pub on: Date,
    /// The fields that are on, in the rule pack's order.
    pub fields: Vec<PupilFieldBody>,
}

impl PupilFieldBody {
    fn new(field: &OptionalField, said: &[Said], on: Date) -> Self {
        let value = value_on(said, on);
        let days = stretches(said).into_iter();
        let word = |one: &Said| FieldWord {
            from: one.from,
            value: one.value.clone(),
            entered_by: one.entered_by,
            entered_at: one.at,
        };
        Self {
            field: field.field.clone(),
            name: field.name.clone(),
            value: value.map(str::to_owned),
            value_name: value.and_then(|code| field.value(code)).map(|value| value.name.clone()),
            days: days
                .map(|s| FieldDays { from: s.from, until: s.until, value: s.value.to_owned() })
                .collect(),
            words: said.iter().map(word).collect(),
        }
    }
}

/// A pupil's fields as of a day, with the pupil's version.
fn shown(tx: &Tx<'_>, id: PupilId, view: &PupilFieldsView, on: Date) -> Result<Reply, Problem> {
    let known = tx.rules()?.optional_fields.fields.iter();
    let fields = known.filter(|known| view.on.iter().any(|row| row.field == known.field));
    let said = |field: &OptionalField| view.said.get(&field.field).map(Vec::as_slice).unwrap_or_default();
    let fields = fields.map(|field| PupilFieldBody::new(field, said(field), on)).collect();
    Ok(Reply::ok(&PupilFieldsBody { pupil_id: id, on, fields })?.version(view.v))
}
