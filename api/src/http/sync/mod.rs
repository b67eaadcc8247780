//! What pull and push say and do: the bodies of records, and each kind of operation. An operation drives the very
//! functions that the REST operation of the same thing drives.

pub mod bodies;
mod catch_ups;
mod lessons;
pub mod on_device;
mod outcome;
mod placements;
mod sittings;

use std::str::FromStr;

use plumbline_core::{
    access::{act::Record, resource::Replica},
    id::{Id, OpId, of_device},
};
use serde::{Deserialize, de::DeserializeOwned};
use serde_json::{Map, Value};
use utoipa::ToSchema;

pub use outcome::{Effect, OpOutcome};

use super::{
    body::parse,
    problem::{Code, Problem},
};
use crate::store::{Permit, Tx};

/// The form of records and operations that is spoken here.
const SCHEMA: u32 = 1;

/// Refuses a form that is not spoken here.
///
/// # Errors
/// `schema_too_old`, or `invalid` for one that is yet to come.
pub fn same_schema(schema: u32) -> Result<(), Problem> {
    match schema {
        SCHEMA => Ok(()),
        0 => Err(Problem::new(Code::SchemaTooOld)),
        _ => Err(Problem::field("schema", format!("must be {SCHEMA}"))),
    }
}

/// An operation.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Op {
    /// Its number: 1 for a replica's first, and one more for each.
    #[schema(minimum = 1)]
    pub n: i64,
    /// Made by the device, a UUID of version 7.
    #[serde(deserialize_with = "of_device")]
    pub op_id: OpId,
    /// What it does.
    #[serde(rename = "type")]
    #[schema(example = "lesson.record")]
    pub kind: String,
    /// The version of the record it was made knowing, as digits; null for something new.
    #[serde(default)]
    pub base_v: Option<String>,
    /// When it was made by the device's clock. It orders nothing.
    #[serde(default)]
    pub at: Option<String>,
    /// The device's time zone.
    #[serde(default)]
    pub tz: Option<String>,
    /// The body of the REST operation of the same thing, with the ids of its address.
    #[schema(value_type = Object)]
    pub set: Map<String, Value>,
}

impl Op {
    /// The version it was made knowing.
    fn base(&self) -> Result<Option<i64>, Problem> {
        let digits = |text: &String| {
            let plain = text.bytes().all(|byte| byte.is_ascii_digit()) && !text.starts_with('0');
            let v = text.parse().ok().filter(|v: &i64| plain && *v > 0);
            v.ok_or_else(|| Problem::field("base_v", "must be a version as it was answered, or null"))
        };
        self.base_v.as_ref().map(digits).transpose()
    }

    /// What it says.
    fn said(&self) -> Said {
        Said(self.set.clone())
    }
}

/// What an operation says, taken apart: the ids of the address, then the body.
struct Said(Map<String, Value>);

impl Said {
    /// An id, or another word that is read from text.
    fn take<T: FromStr>(&mut self, field: &str) -> Result<T, Problem> {
        self.take_if_there(field)?.ok_or_else(|| Problem::field(field, format!("missing field `{field}`")))
    }

    /// An id that a device made for something new: it sorts by time.
    fn take_made<K>(&mut self, field: &str) -> Result<Id<K>, Problem> {
        let id: Id<K> = self.take(field)?;
        if id.uuid().get_version_num() == 7 {
            return Ok(id);
        }
        Err(Problem::field(field, "must be a UUID of version 7"))
    }

    /// The same where it may be left out.
    fn take_if_there<T: FromStr>(&mut self, field: &str) -> Result<Option<T>, Problem> {
        match self.0.remove(field) {
            None | Some(Value::Null) => Ok(None),
            Some(Value::String(text)) => {
                text.parse().map(Some).map_err(|_| Problem::field(field, "is not what belongs here"))
            }
            Some(_) => Err(Problem::field(field, "must be text")),
        }
    }

    /// The rest, strictly.
    fn body<T: DeserializeOwned>(self) -> Result<T, Problem> {
        parse(&serde_json::to_vec(&self.0)?)
    }

    /// Refuses whatever else is said.
    fn nothing_else(self) -> Result<(), Problem> {
        match self.0.keys().next() {
            Some(field) => Err(Problem::field(field.clone(), format!("unknown field `{field}`"))),
            None => Ok(()),
        }
    }
}

type Apply = for<'tx> fn(&mut Tx<'tx>, &Permit<'tx, Record, Replica>, &Op) -> Result<Effect, Problem>;

/// The kinds of operation: what each is called in the audit log too, the field that names the record it is about, and
/// what does it.
const KINDS: &[(&str, &str, Apply)] = &[
    ("lesson.record", "group_id", lessons::record),
    ("lesson.delete", "id", lessons::delete),
    ("catch_up.record", "group_id", catch_ups::record),
    ("catch_up.delete", "id", catch_ups::delete),
    ("sitting.begin", "round_id", sittings::begin),
    ("sitting.answer", "sitting_id", sittings::answer),
    ("sitting.undo", "sitting_id", sittings::undo),
    ("sitting.pause", "sitting_id", sittings::pause),
    ("sitting.resume", "sitting_id", sittings::resume),
    ("sitting.finish", "sitting_id", sittings::finish),
    ("response.correct", "round_id", sittings::correct),
    ("placement.begin", "pupil_id", placements::begin),
    ("placement.answer", "placement_id", placements::answer),
    ("placement.end", "placement_id", placements::end),
];

/// Does an operation in a savepoint of its own, and says what became of it.
///
/// # Errors
/// Only what is no refusal: then nothing of the whole push was done, and it is to be sent again.
pub fn answered<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Record, Replica>,
    op: &Op,
) -> Result<OpOutcome, Problem> {
    let Some((kind, names, apply)) = KINDS.iter().find(|(kind, ..)| *kind == op.kind) else {
        let unknown = Problem::field("type", "is no kind of operation that is taken here");
        return Ok(OpOutcome::rejected(op, &unknown));
    };
    let done = tx.attempt(kind, |tx| {
        op.base()?;
        apply(tx, permit, op)
    })?;
    match done {
        Ok(effect) => Ok(OpOutcome::of(op, effect)),
        Err(problem) if problem.code().status() >= 500 => Err(problem),
        // The record is not there, or not this person's: its field is told, whichever it is.
        Err(problem) if problem.code() == Code::NotFound && problem.errors().is_empty() => {
            let named = Problem::field(*names, problem.said().unwrap_or_else(|| problem.code().title()));
            Ok(OpOutcome::rejected(op, &named.with_code(Code::NotFound)))
        }
        Err(problem) => Ok(OpOutcome::rejected(op, &problem)),
    }
}
