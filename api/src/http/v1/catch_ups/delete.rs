//! DELETE /catch-up-records/{id}

use actix_web::{delete, web};
use plumbline_core::{access::act::Record, id::CatchUpId};

use crate::http::{
    caller::{Caller, same_version},
    problem::Problem,
    problems::ActProblems,
    reply::Reply,
};

/// Delete a catch-up record
///
/// It stays in the history, and what was missed is open again. To put a record right, delete it and record
/// the catch-up anew.
#[utoipa::path(
    tag = "catch-up", operation_id = "delete_catch_up_record",
    params(("id" = CatchUpId, Path, description = "The record"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 204, description = "Deleted"), ActProblems)
)]
#[delete("/catch-up-records/{id}")]
pub async fn delete_catch_up_record(caller: Caller, id: web::Path<CatchUpId>) -> Result<Reply, Problem> {
    let base = caller.base_version();
    caller
        .write("catch_up.delete", move |tx| {
            let day = tx.catch_up_place(*id)?;
            let permit = tx.permit::<Record, _>(day)?;
            same_version(tx.catch_up(&permit, *id)?.v, base)?;
            tx.delete_catch_up(&permit, *id)?;
            Ok(Reply::nothing())
        })
        .await
}
