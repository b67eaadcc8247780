//! POST /closures

use std::collections::BTreeSet;

use actix_web::post;
use plumbline_core::{
    access::{act::Manage, resource::Calendar},
    calendar::{ClosedFor, ClosureKind, ClosurePlan, DayPart, check_closure},
    id::ClassId,
    time::Date,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{ClosureBody, RecordedGroup, code_of, recorded};
use crate::{
    http::{body::Body, caller::Caller, problem::Problem, problems::CreateProblems, reply::Reply},
    store::{ClosureRow, Error, Permit, Tx},
};

/// Days to close.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"from": "2026-11-12", "until": "2026-11-13", "kind": "closure", "reason": "weather"}))]
pub struct NewClosure {
    /// First day. `on` is read as the same.
    #[serde(alias = "on")]
    pub from: Date,
    /// Last day; the first unless told. Of the days between them those count on which lessons are due.
    #[serde(default)]
    pub until: Option<Date>,
    /// Staff training, shut, or away together.
    pub kind: ClosureKind,
    /// Why: a code of the rule pack.
    #[serde(default)]
    pub reason: Option<String>,
    /// How much of each day; the whole unless told.
    #[serde(default = "whole")]
    pub part: DayPart,
    /// For the pupils of these year groups only.
    #[serde(default)]
    pub year_groups: Option<Vec<String>>,
    /// For the pupils of these classes only.
    #[serde(default)]
    pub class_ids: Option<BTreeSet<ClassId>>,
    /// Whether days are closed of which lessons are on record.
    #[serde(default)]
    pub with_records: bool,
}

/// Days as they were closed.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000005", "from": "2026-11-12", "until": "2026-11-13", "kind": "closure",
    "reason": "weather", "part": "whole", "year_groups": null, "class_ids": null, "taken_back_at": null, "recorded": [],
    "closed_before": []
}))]
pub struct ClosedDays {
    /// The closure.
    #[serde(flatten)]
    pub closure: ClosureBody,
    /// Groups with lessons on record of these days, by name.
    pub recorded: Vec<RecordedGroup>,
    /// Days of it that were closed for all of them already; they stay what they are.
    pub closed_before: Vec<Date>,
}

const fn whole() -> DayPart {
    DayPart::Whole
}

/// Close days
///
/// One action for the school, for year groups or for classes; taking it back undoes all of it. Nobody is behind
/// for a day that was not a teaching day. Days on which no lessons are due stay what they are, so an action may
/// reach over a weekend or a training day; which days were closed already it says. One that closes nothing more is
/// refused, and one that leaves a school year without a teaching day. Where lessons of these days are on record, of
/// groups for which they would be closed or with pupils who would be away, it is refused naming groups and days
/// unless `with_records` is said. The records stay: who was there by them was there.
#[utoipa::path(
    tag = "calendar", operation_id = "add_closure", request_body = NewClosure,
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Closed", body = ClosedDays), CreateProblems)
)]
#[post("/closures")]
pub async fn add_closure(caller: Caller, body: Body<NewClosure>) -> Result<Reply, Problem> {
    let new = body.value;
    caller
        .create("calendar.add_closure", body.hash, move |tx| {
            let permit = tx.permit::<Manage, _>(Calendar)?;
            let plan = ClosurePlan {
                from: new.from,
                until: new.until.unwrap_or(new.from),
                kind: new.kind,
                part: new.part,
                whom: whom(tx, &new)?,
            };
            let (row, recorded, closed_before) = close(tx, &permit, &plan, &new)?;
            let location = format!("/api/v1/closures/{}", row.id);
            let closure = ClosureBody::try_from(row)?;
            Reply::created(location, &ClosedDays { closure, recorded, closed_before })
        })
        .await
}

/// Closes days after a look at the calendar and at what is on record.
fn close<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Manage, Calendar>,
    plan: &ClosurePlan,
    new: &NewClosure,
) -> Result<(ClosureRow, Vec<RecordedGroup>, Vec<Date>), Problem> {
    let reason = new.reason.clone();
    let known = &tx.rules()?.closure_reasons;
    if reason.as_ref().is_some_and(|reason| !known.iter().any(|coded| coded.code == *reason)) {
        let codes: Vec<_> = known.iter().map(|coded| coded.code.as_str()).collect();
        return Err(Problem::field("reason", format!("give one of: {}", codes.join(", "))));
    }
    let calendar = tx.calendar()?;
    let closed_before = check_closure(&calendar, plan)?;
    let recorded = recorded(tx, permit, &calendar.with_closure(plan), new.with_records)?;
    let row = tx.add_closure(permit, plan, reason).map_err(|error| match error {
        Error::Missing => Problem::field("class_ids", "names a class that is not of this school"),
        other => other.into(),
    })?;
    Ok((row, recorded, closed_before))
}

fn whom(tx: &Tx<'_>, new: &NewClosure) -> Result<ClosedFor, Problem> {
    match (&new.year_groups, &new.class_ids) {
        (None, None) => Ok(ClosedFor::School),
        (Some(labels), None) => {
            let code = |(n, label): (usize, &String)| code_of(tx, &format!("year_groups[{n}]"), label);
            Ok(ClosedFor::YearGroups(labels.iter().enumerate().map(code).collect::<Result<_, _>>()?))
        }
        (None, Some(ids)) => Ok(ClosedFor::Classes(ids.clone())),
        (Some(_), Some(_)) => Err(Problem::field("class_ids", "give year groups or classes, not both")),
    }
}
