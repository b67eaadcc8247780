//! POST /closures

use actix_web::post;
use plumbline_core::{
    access::{act::Manage, resource::Calendar},
    calendar::{ClosureKind, DayKind},
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::ClosureBody;
use crate::http::{
    body::Body,
    caller::Caller,
    problem::{Code, Problem},
    problems::CreateProblems,
    reply::Reply,
};

/// A day to close.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"on": "2026-11-12", "kind": "closure", "reason": "weather"}))]
pub struct NewClosure {
    /// The day: a weekday inside a half term.
    pub on: Date,
    /// Staff training, or shut.
    pub kind: ClosureKind,
    /// Why: a code of the rule pack.
    #[serde(default)]
    pub reason: Option<String>,
}

/// Close a day
///
/// Nobody is behind for a day that was not a teaching day. Taking it back undoes it.
#[utoipa::path(
    tag = "calendar", operation_id = "add_closure", request_body = NewClosure,
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Closed", body = ClosureBody), CreateProblems)
)]
#[post("/closures")]
pub async fn add_closure(caller: Caller, body: Body<NewClosure>) -> Result<Reply, Problem> {
    let new = body.value;
    caller
        .create("calendar.add_closure", body.hash, move |tx| {
            let permit = tx.permit::<Manage, _>(Calendar)?;
            let known = &tx.rules()?.closure_reasons;
            if new.reason.as_ref().is_some_and(|reason| !known.iter().any(|coded| coded.code == *reason)) {
                let codes: Vec<_> = known.iter().map(|coded| coded.code.as_str()).collect();
                return Err(Problem::field("reason", format!("give one of: {}", codes.join(", "))));
            }
            match tx.calendar()?.day(new.on) {
                DayKind::Teaching => {}
                DayKind::Inset | DayKind::Closure => {
                    return Err(Problem::field("on", "is closed already").with_code(Code::Conflict));
                }
                DayKind::Weekend | DayKind::Holiday | DayKind::OutOfYear => {
                    return Err(Problem::field("on", "is not a weekday inside a half term"));
                }
            }
            let row = tx.add_closure(&permit, new.on, new.kind, new.reason.clone())?;
            Reply::created(format!("/api/v1/closures/{}", row.id), &ClosureBody::from(row))
        })
        .await
}
