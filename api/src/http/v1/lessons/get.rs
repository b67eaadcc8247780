//! GET /lesson-records/{id}

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::GroupDay},
    id::LessonRecordId,
};

use super::LessonRecordBody;
use crate::http::{
    caller::Caller,
    problem::{Code, Problem},
    problems::ReadProblems,
    reply::Reply,
};

/// Get a lesson record
#[utoipa::path(
    tag = "lesson records", operation_id = "get_lesson_record",
    params(("id" = LessonRecordId, Path, description = "The record")),
    responses((status = 200, description = "The record; ETag", body = LessonRecordBody), ReadProblems)
)]
#[get("/lesson-records/{id}")]
pub async fn get_lesson_record(caller: Caller, id: web::Path<LessonRecordId>) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let day: GroupDay = tx.record_place(*id)?;
            let permit = tx.permit::<Read, _>(day)?;
            let records = tx.group_lessons(&permit)?.records;
            let saved = records.into_iter().find(|saved| saved.record.id == *id);
            let saved = saved.ok_or_else(|| Problem::new(Code::NotFound))?;
            let v = saved.v;
            Ok(Reply::ok(&LessonRecordBody::new(saved, Vec::new()))?.version(v))
        })
        .await
}
