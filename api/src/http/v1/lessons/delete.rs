//! DELETE /lesson-records/{id}

use actix_web::{delete, web};
use plumbline_core::{
    access::{act::Record, resource::GroupDay},
    id::LessonRecordId,
    lesson::rested_on,
};

use super::finishes_nothing;
use crate::{
    http::{
        caller::{Base, Caller, same_version},
        problem::{Code, Problem},
        problems::ActProblems,
        reply::Reply,
    },
    store::Tx,
};

/// Delete a lesson record
///
/// It stays in the history. Its day and slot may be recorded again. Not while a later record teaches again what only
/// this one taught before; of a lesson that was delivered twice, the other record finishes it then.
#[utoipa::path(
    tag = "lesson records", operation_id = "delete_lesson_record",
    params(("id" = LessonRecordId, Path, description = "The record"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 204, description = "Deleted"), ActProblems)
)]
#[delete("/lesson-records/{id}")]
pub async fn delete_lesson_record(caller: Caller, id: web::Path<LessonRecordId>) -> Result<Reply, Problem> {
    let base = caller.base_version();
    caller.write("lesson.delete", move |tx| delete(tx, *id, base).map(|()| Reply::nothing())).await
}

/// Deletes a record that is at version `base`.
pub(in crate::http) fn delete(tx: &mut Tx<'_>, id: LessonRecordId, base: Base) -> Result<(), Problem> {
    let day: GroupDay = tx.record_place(id)?;
    let permit = tx.permit::<Record, _>(day)?;
    let records = tx.group_lessons(&permit)?.records;
    let saved = records.iter().find(|saved| saved.record.id == id);
    let saved = saved.cloned().ok_or_else(|| Problem::new(Code::NotFound))?;
    same_version(saved.v, base)?;
    finishes_nothing(&records, id)?;
    let others: Vec<_> =
        records.into_iter().map(|saved| saved.record).filter(|record| record.id != id).collect();
    let past = tx.past_of_day(&permit)?;
    rested_on(&saved.record, None, &others, past.as_ref().map(|past| &past.carried))?;
    Ok(tx.delete_record(&permit, id)?)
}
