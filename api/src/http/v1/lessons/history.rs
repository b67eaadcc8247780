//! GET /lesson-records/{id}/history

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::GroupDay},
    id::{LessonRecordId, StaffId},
    time::Instant,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::LessonRecordBody;
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// What a lesson record said after one of its changes.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"at": "2026-11-25T09:40:00.000000Z", "by": "0199f2c4-0000-7000-8000-000000000002", "record": null}))]
pub struct LessonRecordChange {
    /// When it was changed.
    pub at: Instant,
    /// Who changed it; none once erased.
    pub by: Option<StaffId>,
    /// What it said from then on; none where it was deleted.
    pub record: Option<LessonRecordBody>,
}

/// What a lesson record has said, earliest first
///
/// Amendments and deletion included: nothing that was recorded is lost.
#[utoipa::path(
    tag = "lesson records", operation_id = "get_lesson_record_history",
    params(("id" = LessonRecordId, Path, description = "The record")),
    responses((status = 200, description = "Its changes", body = Page<LessonRecordChange>), ReadProblems)
)]
#[get("/lesson-records/{id}/history")]
pub async fn get_lesson_record_history(
    caller: Caller,
    id: web::Path<LessonRecordId>,
) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let day: GroupDay = tx.any_record_place(*id)?;
            let permit = tx.permit::<Read, _>(day)?;
            let changes = tx
                .record_history(&permit, *id)?
                .into_iter()
                .map(|(line, record)| LessonRecordChange {
                    at: line.at,
                    by: line.staff_id,
                    record: record.map(|record| LessonRecordBody::of_line(&line, record)),
                })
                .collect();
            Reply::ok(&Page::whole(changes))
        })
        .await
}
