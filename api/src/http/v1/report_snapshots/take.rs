//! POST /report-snapshots

use actix_web::post;
use plumbline_core::{
    access::{act::Manage, resource::SchoolReport},
    id::HalfTermId,
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{SnapshotLine, half_term_and_day};
use crate::http::{body::Body, caller::Caller, problem::Problem, problems::CreateProblems, reply::Reply};

/// A snapshot to take.
#[derive(Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"as_of": "2026-12-18"}))]
pub struct NewSnapshot {
    /// The half term; the one of the day unless told.
    #[serde(default)]
    pub half_term_id: Option<HalfTermId>,
    /// As of which day: the half term's last day, or today if that comes first, unless told.
    #[serde(default)]
    pub as_of: Option<Date>,
}

/// Freeze the school's pupils for a report
///
/// Who was on roll that day, in which class and year group, and which measures of the rule pack each met by what is known
/// now. What is recorded or renamed later changes nothing in it. Pupils stand in it under pseudonyms, and are dropped
/// when its time is over.
#[utoipa::path(
    tag = "reports", operation_id = "take_report_snapshot", request_body = NewSnapshot,
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Taken", body = SnapshotLine), CreateProblems)
)]
#[post("/report-snapshots")]
pub async fn take_report_snapshot(caller: Caller, body: Body<NewSnapshot>) -> Result<Reply, Problem> {
    let new = body.value;
    caller
        .create("report_snapshot.take", body.hash, move |tx| {
            let permit = tx.permit::<Manage, _>(SchoolReport)?;
            let (half_term, as_of) = half_term_and_day(tx, new.half_term_id, new.as_of)?;
            if as_of > half_term.ends_on {
                return Err(Problem::field("as_of", "lies after the half term"));
            }
            let taken = tx.take_snapshot(&permit, &half_term, as_of)?;
            let address = format!("/api/v1/report-snapshots/{}", taken.head.id);
            Reply::created(address, &SnapshotLine::from(taken.head))
        })
        .await
}
