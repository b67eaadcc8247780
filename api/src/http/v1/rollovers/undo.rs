//! POST /rollovers/{year}/undo

use actix_web::{post, web};
use plumbline_core::access::{act::Publish, resource::Rollovers};

use super::{RolloverBody, is_stale, shown};
use crate::{
    http::{
        caller::{Caller, same_version},
        problem::{Code, Problem},
        problems::{ActProblems, GoneProblems},
        reply::Reply,
        v1::no_undo,
    },
    store::{Error, RolloverStatus},
};

/// Take a rollover back
///
/// Whole or not at all: places, year groups, adults and groups are as they were, classes it added go, and
/// the plan is a draft again. It is refused once other work depends on it: a pupil, group or class changed
/// since, a lesson recorded on or after the first day with one of its pupils in the register; and after the
/// last day of `undo_until`, which the rule pack's days make: what was before is kept no longer.
#[utoipa::path(
    tag = "rollovers", operation_id = "undo_rollover",
    params(("year" = i32, Path, description = "The school year, by the calendar year it starts in"),
           ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "Taken back; ETag", body = RolloverBody), ActProblems, GoneProblems)
)]
#[post("/rollovers/{year}/undo")]
pub async fn undo_rollover(caller: Caller, year: web::Path<i32>) -> Result<Reply, Problem> {
    let base = caller.base_version();
    caller
        .write("rollover.undo", move |tx| {
            let permit = tx.permit::<Publish, _>(Rollovers)?;
            let mut row = tx.rollover_row(&permit, *year)?;
            if row.status == RolloverStatus::Draft {
                return Err(Problem::saying(Code::Conflict, "it is not applied"));
            }
            same_version(row.v, base)?;
            let depends = tx.undo_rollover(&permit, &mut row).map_err(|error| match error {
                Error::NotKept => no_undo(row.undo_until),
                Error::Conflict => Problem::saying(
                    Code::Conflict,
                    "a later school year's was applied; what was before this one is no longer kept",
                ),
                other => other.into(),
            })?;
            depends.map_err(|found| {
                Problem::saying(Code::Conflict, format!("other work depends on it: {}", found.join("; ")))
            })?;
            let stale = is_stale(tx, &permit, &row)?;
            shown(tx, &permit, row, stale)
        })
        .await
}
