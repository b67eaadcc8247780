//! GET /catch-up-records/{id}

use actix_web::{get, web};
use plumbline_core::{access::act::Read, id::CatchUpId};

use super::CatchUpRecordBody;
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Get a catch-up record
#[utoipa::path(
    tag = "catch-up", operation_id = "get_catch_up_record",
    params(("id" = CatchUpId, Path, description = "The record")),
    responses((status = 200, description = "The record; ETag", body = CatchUpRecordBody), ReadProblems)
)]
#[get("/catch-up-records/{id}")]
pub async fn get_catch_up_record(caller: Caller, id: web::Path<CatchUpId>) -> Result<Reply, Problem> {
    caller
        .read_logged("catch_up.read", move |tx| {
            let day = tx.catch_up_place(*id)?;
            let permit = tx.permit::<Read, _>(day)?;
            let saved = tx.catch_up_read(&permit, *id)?;
            let v = saved.v;
            Ok(Reply::ok(&CatchUpRecordBody::new(saved, Vec::new()))?.version(v))
        })
        .await
}
