//! DELETE /lesson-records/{id}

use actix_web::{delete, web};
use plumbline_core::{
    access::{act::Record, resource::GroupDay},
    id::LessonRecordId,
};

use super::finishes_nothing;
use crate::http::{
    caller::{Caller, same_version},
    problem::{Code, Problem},
    problems::ActProblems,
    reply::Reply,
};

/// Delete a lesson record
///
/// It stays in the history. Its day and slot may be recorded again.
#[utoipa::path(
    tag = "lesson records", operation_id = "delete_lesson_record",
    params(("id" = LessonRecordId, Path, description = "The record"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 204, description = "Deleted"), ActProblems)
)]
#[delete("/lesson-records/{id}")]
pub async fn delete_lesson_record(caller: Caller, id: web::Path<LessonRecordId>) -> Result<Reply, Problem> {
    let base = caller.base_version()?;
    caller
        .write("lesson.delete", move |tx| {
            let day: GroupDay = tx.record_place(*id)?;
            let permit = tx.permit::<Record, _>(day)?;
            let records = tx.group_lessons(&permit)?.records;
            let saved = records.iter().find(|saved| saved.record.id == *id);
            same_version(saved.ok_or_else(|| Problem::new(Code::NotFound))?.v, base)?;
            finishes_nothing(&records, *id)?;
            tx.delete_record(&permit, *id)?;
            Ok(Reply::nothing())
        })
        .await
}
