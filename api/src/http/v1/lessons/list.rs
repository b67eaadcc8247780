//! GET /groups/{id}/lesson-records

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Group},
    id::GroupId,
    time::Date,
};

use super::LessonRecordBody;
use crate::{
    http::{
        caller::Caller,
        page::{Page, PageQuery, cut},
        problem::Problem,
        problems::ReadProblems,
        query::Query,
        reply::Reply,
    },
    store::SavedRecord,
};

/// List the lesson records of a group, latest first
#[utoipa::path(
    tag = "lesson records", operation_id = "list_lesson_records",
    params(("id" = GroupId, Path, description = "The group"), PageQuery),
    responses((status = 200, description = "A page of records", body = Page<LessonRecordBody>), ReadProblems)
)]
#[get("/groups/{id}/lesson-records")]
pub async fn list_lesson_records(
    caller: Caller,
    id: web::Path<GroupId>,
    page: Query<PageQuery>,
) -> Result<Reply, Problem> {
    let (limit, before) = (page.limit()?, page.after::<(Date, u8)>()?);
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Group(*id))?;
            let records = tx.group_records(&permit)?;
            let key = |saved: &SavedRecord| (saved.record.on, saved.record.slot);
            let mut rows: Vec<_> =
                records.into_iter().filter(|saved| before.is_none_or(|last| key(saved) < last)).collect();
            let next = cut(&mut rows, limit, key);
            let items: Vec<_> =
                rows.into_iter().map(|saved| LessonRecordBody::new(saved, Vec::new())).collect();
            Reply::ok(&Page { items, next })
        })
        .await
}
