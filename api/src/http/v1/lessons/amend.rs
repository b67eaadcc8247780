//! PUT /lesson-records/{id}

use std::collections::BTreeSet;

use actix_web::{put, web};
use plumbline_core::{
    access::{act::Record, resource::GroupDay},
    id::{ItemId, LessonRecordId},
    lesson::{Outcome, Warning},
};

use super::{LessonRecordBody, LessonReport, finishes_nothing, save_among};
use crate::{
    http::{
        body::Body,
        caller::{Base, Caller, same_version},
        problem::{Code, Problem},
        problems::EditProblems,
        reply::Reply,
    },
    store::{SavedRecord, Tx},
};

/// Amend a lesson record
///
/// Everything but the day and the slot, which are what makes it this record: for another
/// day delete it and record it anew. What it said before stays in the history.
#[utoipa::path(
    tag = "lesson records", operation_id = "amend_lesson_record", request_body = LessonReport,
    params(("id" = LessonRecordId, Path, description = "The record"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "As it is now; ETag", body = LessonRecordBody), EditProblems)
)]
#[put("/lesson-records/{id}")]
pub async fn amend_lesson_record(
    caller: Caller,
    id: web::Path<LessonRecordId>,
    body: Body<LessonReport>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    let (id, body) = (*id, body.value);
    caller
        .write("lesson.amend", move |tx| {
            let (saved, warnings) = amend(tx, id, &body, base)?;
            let v = saved.v;
            Ok(Reply::ok(&LessonRecordBody::new(saved, warnings))?.version(v))
        })
        .await
}

/// Amends a record that is at version `base`.
pub(in crate::http) fn amend(
    tx: &mut Tx<'_>,
    id: LessonRecordId,
    report: &LessonReport,
    base: Base,
) -> Result<(SavedRecord, Vec<Warning>), Problem> {
    let day: GroupDay = tx.record_place(id)?;
    let permit = tx.permit::<Record, _>(day)?;
    let lessons = tx.group_lessons(&permit)?;
    let records = &lessons.records;
    let old = records.iter().find(|saved| saved.record.id == id).cloned();
    let old = old.ok_or_else(|| Problem::new(Code::NotFound))?;
    same_version(old.v, base)?;
    let set = |items: &[ItemId]| items.iter().copied().collect::<BTreeSet<_>>();
    let items = report.items.as_deref().map(set);
    if report.outcome != Outcome::Part || items != Some(set(&old.record.items)) {
        finishes_nothing(records, id)?;
    }
    if report.on != old.record.on {
        return Err(Problem::field("on", "cannot change: delete the record and record the lesson anew"));
    }
    if report.slot != old.record.slot {
        return Err(Problem::field("slot", "cannot change: delete the record and record the lesson anew"));
    }
    // Who amends a colleague's record did not therefore teach the lesson.
    let taught_by = report.taught_by.or(Some(old.record.taught_by));
    save_among(tx, &permit, lessons, &LessonReport { taught_by, ..report.clone() }, Some(id))
}
