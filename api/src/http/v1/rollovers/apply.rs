//! POST /rollovers/{year}/apply

use actix_web::{post, web};
use plumbline_core::access::{act::Publish, resource::Rollovers};

use super::{RolloverBody, first_day, is_stale, shown};
use crate::{
    http::{
        caller::{Caller, same_version},
        problem::{Code, Problem},
        problems::EditProblems,
        reply::Reply,
    },
    store::RolloverStatus,
};

/// Apply a rollover
///
/// Exactly what was shown: if the roster has changed since, nothing is written and the answer is
/// `rollover_stale`. All of it is dated to the first day of the school year: applied in July, everything
/// shown until the day before stays as it is. Applying twice changes nothing more.
#[utoipa::path(
    tag = "rollovers", operation_id = "apply_rollover",
    params(("year" = i32, Path, description = "The school year, by the calendar year it starts in"),
           ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "Applied; ETag", body = RolloverBody), EditProblems)
)]
#[post("/rollovers/{year}/apply")]
pub async fn apply_rollover(caller: Caller, year: web::Path<i32>) -> Result<Reply, Problem> {
    let base = caller.base_version();
    caller
        .write("rollover.apply", move |tx| {
            let permit = tx.permit::<Publish, _>(Rollovers)?;
            let mut row = tx.rollover_row(&permit, *year)?;
            if row.status == RolloverStatus::Applied {
                return shown(tx, &permit, row, false);
            }
            same_version(row.v, base)?;
            first_day(tx, *year)?;
            if is_stale(tx, &permit, &row)? {
                return Err(Problem::new(Code::RolloverStale));
            }
            if !row.shown.unsaid.is_empty() {
                let names = tx.rollover_names(&permit)?.classes;
                let open: Vec<&str> =
                    row.shown.unsaid.keys().filter_map(|id| names.get(id)).map(String::as_str).collect();
                let message = format!("say where all pupils of these classes go: {}", open.join(", "));
                return Err(Problem::field("classes", message));
            }
            tx.apply_rollover(&permit, &mut row)?;
            shown(tx, &permit, row, false)
        })
        .await
}
