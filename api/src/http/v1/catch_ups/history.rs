//! GET /catch-up-records/{id}/history

use actix_web::{get, web};
use plumbline_core::{
    access::act::Read,
    id::{CatchUpId, StaffId},
    time::Instant,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::CatchUpRecordBody;
use crate::{
    http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply},
    store::SavedCatchUp,
};

/// What a catch-up record said after one of its changes.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"at": "2026-11-25T09:40:00.000000Z", "by": "0199f2c4-0000-7000-8000-000000000002", "record": null}))]
pub struct CatchUpChange {
    /// When it was changed.
    pub at: Instant,
    /// Who changed it; none once erased.
    pub by: Option<StaffId>,
    /// What it said from then on; none where it was deleted.
    pub record: Option<CatchUpRecordBody>,
}

/// What a catch-up record has said, earliest first
///
/// Deletion included: nothing that was recorded is lost.
#[utoipa::path(
    tag = "catch-up", operation_id = "get_catch_up_record_history",
    params(("id" = CatchUpId, Path, description = "The record")),
    responses((status = 200, description = "Its changes", body = Page<CatchUpChange>), ReadProblems)
)]
#[get("/catch-up-records/{id}/history")]
pub async fn get_catch_up_record_history(caller: Caller, id: web::Path<CatchUpId>) -> Result<Reply, Problem> {
    caller
        .read_logged("catch_up.read_history", move |tx| {
            let day = tx.catch_up_place(*id)?;
            let permit = tx.permit::<Read, _>(day)?;
            let changes = tx.catch_up_history(&permit, *id)?.into_iter();
            let changes = changes.map(|(line, record)| CatchUpChange {
                at: line.at,
                by: line.staff_id,
                record: record.map(|catch_up| {
                    CatchUpRecordBody::new(SavedCatchUp { catch_up, at: line.at, v: line.v }, Vec::new())
                }),
            });
            Reply::ok(&Page::whole(changes.collect()))
        })
        .await
}
