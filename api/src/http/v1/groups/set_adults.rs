//! PUT /groups/{id}/adults

use std::collections::BTreeSet;

use actix_web::{put, web};
use plumbline_core::{
    access::{
        act::{Manage, Record},
        resource::{Group, GroupDay},
    },
    id::{GroupId, StaffId},
};

use crate::{
    http::{
        able::able,
        body::Body,
        caller::{Caller, same_version},
        page::Page,
        problem::Problem,
        problems::EditProblems,
        reply::Reply,
        v1::{AdultView, AdultsBody, adults},
    },
    store::Error,
};

/// Replace the adults of a group
///
/// An adult sees the group and records its lessons on the days assigned, and no others. Nobody is
/// assigned beyond the group's last day.
#[utoipa::path(
    tag = "groups", operation_id = "set_group_adults", request_body = AdultsBody,
    params(("id" = GroupId, Path, description = "The group"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "As it is now; ETag", body = Page<AdultView>), EditProblems)
)]
#[put("/groups/{id}/adults")]
pub async fn set_group_adults(
    caller: Caller,
    id: web::Path<GroupId>,
    body: Body<AdultsBody>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    let spans = body.value.spans()?;
    caller
        .write("group.set_adults", move |tx| {
            let permit = tx.permit::<Manage, _>(Group(*id))?;
            let base = same_version(tx.group(&permit)?.v, base)?;
            // Who is in charge of it already may have stood there while they still taught.
            let there: BTreeSet<StaffId> =
                tx.group_adults(&permit)?.into_iter().map(|one| one.staff_id).collect();
            let named = spans.iter().enumerate().filter(|(_, (adult, _))| !there.contains(adult));
            let named = named.map(|(n, (adult, days))| (format!("adults[{n}].staff_id"), *adult, *days));
            able::<Record, GroupDay, _, _>(tx, &permit, named)?;
            let (row, list) = tx.set_group_adults(&permit, &spans, base).map_err(|error| match error {
                Error::Missing => Problem::field("adults", "one of them is not of this school's staff"),
                other => other.into(),
            })?;
            Ok(Reply::ok(&Page::whole(adults(list)))?.version(row.v))
        })
        .await
}
