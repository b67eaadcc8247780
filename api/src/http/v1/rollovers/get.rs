//! GET /rollovers/{year}

use actix_web::{get, web};
use plumbline_core::access::{act::Read, resource::Rollovers};

use super::{RolloverBody, is_stale, shown};
use crate::{
    http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply},
    store::RolloverStatus,
};

/// Get the rollover to a school year
///
/// As it was last saved, or as it was applied.
#[utoipa::path(
    tag = "rollovers", operation_id = "get_rollover",
    params(("year" = i32, Path, description = "The school year, by the calendar year it starts in")),
    responses((status = 200, description = "The rollover; ETag", body = RolloverBody), ReadProblems)
)]
#[get("/rollovers/{year}")]
pub async fn get_rollover(caller: Caller, year: web::Path<i32>) -> Result<Reply, Problem> {
    caller
        .read_logged("rollover.read", move |tx| {
            let permit = tx.permit::<Read, _>(Rollovers)?;
            let row = tx.rollover_row(&permit, *year)?;
            let stale = row.status == RolloverStatus::Draft && is_stale(tx, &permit, &row)?;
            shown(tx, &permit, row, stale)
        })
        .await
}
