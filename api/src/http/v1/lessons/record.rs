//! POST /groups/{id}/lesson-records

use actix_web::{post, web};
use plumbline_core::{access::resource::GroupDay, id::GroupId};

use super::{LessonRecordBody, LessonReport, save};
use crate::http::{body::Body, caller::Caller, problem::Problem, problems::CreateProblems, reply::Reply};

/// Record a lesson
///
/// By an adult who is assigned to the group on the lesson's day, or the lead. A date in a
/// holiday or on a closed day is kept with a warning; a date in the future or in no school
/// year is refused. A lesson that was recorded as delivered on two days was finished on the
/// first and taught again on the other, in whatever order the records come in. A line of a record that was made one with another is that one's.
#[utoipa::path(
    tag = "lesson records", operation_id = "record_lesson", request_body = LessonReport,
    params(("id" = GroupId, Path, description = "The group"),
           ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Recorded; ETag", body = LessonRecordBody), CreateProblems)
)]
#[post("/groups/{id}/lesson-records")]
pub async fn record_lesson(
    caller: Caller,
    id: web::Path<GroupId>,
    body: Body<LessonReport>,
) -> Result<Reply, Problem> {
    let (group, report) = (*id, body.value);
    caller
        .create("lesson.record", body.hash, move |tx| {
            let (saved, warnings) = save(tx, GroupDay { group, on: report.on }, &report, None)?;
            let (v, location) = (saved.v, format!("/api/v1/lesson-records/{}", saved.record.id));
            Ok(Reply::created(location, &LessonRecordBody::new(saved, warnings))?.version(v))
        })
        .await
}
