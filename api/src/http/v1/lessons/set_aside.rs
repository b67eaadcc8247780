//! GET /lesson-records/{id}/set-aside

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

/// What somebody recorded of a lesson of which another record was there first.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"at": "2026-11-25T09:40:00.000000Z", "by": "0199f2c4-0000-7000-8000-000000000002",
    "record": {
        "id": "7f6a1f3e-0000-5000-8000-000000000001", "group_id": "0199f2c4-0000-7000-8000-000000000008", "on": "2026-11-25",
        "slot": 1, "version_id": "0199f2c4-0000-7000-8000-00000000000d", "lesson_id": "0199f2c4-0000-7000-8000-00000000000c",
        "outcome": "not_delivered", "items": [], "reason": "fire_drill", "register": [],
        "taught_by": "0199f2c4-0000-7000-8000-000000000002", "entered_by": "0199f2c4-0000-7000-8000-000000000002",
        "entered_at": "2026-11-25T09:40:00.000000Z", "warnings": [], "set_aside": false
    }}))]
pub struct LessonRecordSetAside {
    /// When it came in.
    pub at: Instant,
    /// Who sent it; none once erased.
    pub by: Option<StaffId>,
    /// What it says. It counts for nothing; amend the record to take it over, and say that this `settles` it.
    pub record: LessonRecordBody,
}

/// What was recorded of a lesson and set aside, earliest first
///
/// Two devices that record one lesson without knowing of each other make one record: what came in first stands, and the
/// other is kept here. Nothing of it counts.
#[utoipa::path(
    tag = "lesson records", operation_id = "list_lesson_records_set_aside",
    params(("id" = LessonRecordId, Path, description = "The record that stands")),
    responses((status = 200, description = "What does not stand", body = Page<LessonRecordSetAside>), ReadProblems)
)]
#[get("/lesson-records/{id}/set-aside")]
pub async fn list_lesson_records_set_aside(
    caller: Caller,
    id: web::Path<LessonRecordId>,
) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let day: GroupDay = tx.any_record_place(*id)?;
            let permit = tx.permit::<Read, _>(day)?;
            let all = tx
                .lessons_set_aside(&permit, *id)?
                .into_iter()
                .map(|(line, record)| LessonRecordSetAside {
                    at: line.at,
                    by: line.staff_id,
                    record: LessonRecordBody::of_line(&line, record),
                })
                .collect();
            Reply::ok(&Page::whole(all))
        })
        .await
}
