//! What became of an operation.

use plumbline_core::id::OpId;
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;

use super::{Op, Problem};

plumbline_core::vocabulary! {
    /// What became of an operation.
    pub enum OpFate {
        /// It is done, or was done already.
        Applied = "applied",
        /// Another change was there first, and stands; this one is kept in the history.
        Superseded = "superseded",
        /// It cannot be done, now or later: keep it, and show it to the adult.
        Rejected = "rejected",
    }
}

/// What an operation did.
#[derive(Debug)]
pub enum Effect {
    /// The record is at this version now.
    Applied(i64),
    /// It is so already, by another change, at this version.
    Found(i64),
    /// Another change stands, at this version.
    Superseded(i64, Value),
}

/// What became of an operation. The same again is answered the same.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(example = json!({
    "n": 1, "op_id": "0199f2c4-0000-7000-8000-000000000043", "outcome": "applied", "v": "17", "code": null,
    "field": null, "detail": null, "current": null
}))]
pub struct OpOutcome {
    /// Its number.
    pub n: i64,
    /// Its id.
    pub op_id: OpId,
    /// What became of it.
    pub outcome: OpFate,
    /// The version the record is at, as digits; null where it was rejected.
    pub v: Option<String>,
    /// Why it was rejected: the code of the problem.
    pub code: Option<String>,
    /// The field at fault.
    pub field: Option<String>,
    /// What happened, for a person.
    pub detail: Option<String>,
    /// The record as it stands, where another change was there first.
    #[schema(value_type = Option<Object>)]
    pub current: Option<Value>,
    /// The version it made; 0 where it made none.
    #[serde(skip)]
    #[schema(ignore)]
    pub made: i64,
}

impl OpOutcome {
    /// Of one that was done.
    pub fn of(op: &Op, effect: Effect) -> Self {
        let (outcome, v, made, current) = match effect {
            Effect::Applied(v) => (OpFate::Applied, v, v, None),
            Effect::Found(v) => (OpFate::Applied, v, 0, None),
            Effect::Superseded(v, current) => (OpFate::Superseded, v, 0, Some(current)),
        };
        let (n, op_id, v) = (op.n, op.op_id, Some(v.to_string()));
        Self { n, op_id, outcome, v, code: None, field: None, detail: None, current, made }
    }

    /// Of one that was refused.
    pub fn rejected(op: &Op, problem: &Problem) -> Self {
        Self {
            n: op.n,
            op_id: op.op_id,
            outcome: OpFate::Rejected,
            v: None,
            code: Some(problem.code().as_str().to_owned()),
            field: problem.errors().first().map(|error| error.field.clone()),
            detail: Some(problem.said().unwrap_or_else(|| problem.code().title()).to_owned()),
            current: None,
            made: 0,
        }
    }
}
