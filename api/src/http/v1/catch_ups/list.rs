//! GET /groups/{id}/catch-up-records

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Group},
    id::{CatchUpId, GroupId},
    time::Date,
};

use super::CatchUpRecordBody;
use crate::{
    http::{
        caller::Caller,
        page::{Page, PageQuery, cut},
        problem::Problem,
        problems::ReadProblems,
        query::Query,
        reply::Reply,
    },
    store::SavedCatchUp,
};

/// List the catch-up records of a group, latest first
#[utoipa::path(
    tag = "catch-up", operation_id = "list_catch_up_records",
    params(("id" = GroupId, Path, description = "The group"), PageQuery),
    responses((status = 200, description = "A page of records", body = Page<CatchUpRecordBody>), ReadProblems)
)]
#[get("/groups/{id}/catch-up-records")]
pub async fn list_catch_up_records(
    caller: Caller,
    id: web::Path<GroupId>,
    page: Query<PageQuery>,
) -> Result<Reply, Problem> {
    let (limit, before) = (page.limit()?, page.after::<(Date, CatchUpId)>()?);
    caller
        .read_logged("group.read_catch_up_records", move |tx| {
            let permit = tx.permit::<Read, _>(Group(*id))?;
            let key = |saved: &SavedCatchUp| (saved.catch_up.on, saved.catch_up.id);
            let mut rows = tx.group_catch_ups(&permit)?;
            rows.retain(|saved| before.is_none_or(|last| key(saved) < last));
            let next = cut(&mut rows, limit, key);
            let items = rows.into_iter().map(|saved| CatchUpRecordBody::new(saved, Vec::new())).collect();
            Reply::ok(&Page { items, next })
        })
        .await
}
