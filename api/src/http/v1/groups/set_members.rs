//! PUT /groups/{id}/members

use std::collections::BTreeSet;

use actix_web::{put, web};
use plumbline_core::{
    access::{act::Manage, resource::Group},
    id::{GroupId, PupilId},
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{GroupBody, whole};
use crate::{
    http::{
        body::Body,
        caller::{Caller, same_version},
        problem::Problem,
        problems::EditProblems,
        reply::Reply,
    },
    store::Error,
};

/// Who is in a group from a day on.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"from": "2026-11-30", "pupil_ids": ["0199f2c4-0000-7000-8000-000000000007"]}))]
pub struct MembersBody {
    /// First day; today unless told. The days before stay as they were.
    #[serde(default)]
    pub from: Option<Date>,
    /// Everyone in it from then on.
    #[schema(value_type = Vec<PupilId>)]
    pub pupil_ids: BTreeSet<PupilId>,
}

/// Set the members of a group from a day on
///
/// Nobody is in it beyond the group's last day, or the pupil's own.
#[utoipa::path(
    tag = "groups", operation_id = "set_group_members", request_body = MembersBody,
    params(("id" = GroupId, Path, description = "The group"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "As it is from then on; ETag", body = GroupBody), EditProblems)
)]
#[put("/groups/{id}/members")]
pub async fn set_group_members(
    caller: Caller,
    id: web::Path<GroupId>,
    body: Body<MembersBody>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    caller
        .write("group.set_members", move |tx| {
            let permit = tx.permit::<Manage, _>(Group(*id))?;
            let group = tx.group(&permit)?;
            let base = same_version(group.v, base)?;
            let on = body.value.from.unwrap_or(tx.today());
            if let Some(last) = group.closed_on.filter(|last| *last < on) {
                return Err(Problem::field("from", format!("the group's last day is {last}")));
            }
            let pupils = &body.value.pupil_ids;
            let row = tx.set_group_members(&permit, pupils, on, base).map_err(|error| match error {
                Error::Missing => {
                    Problem::field("pupil_ids", "one of them is not a pupil of this school on that day")
                }
                other => other.into(),
            })?;
            Ok(Reply::ok(&whole(tx, &permit, &row, on)?)?.version(row.v))
        })
        .await
}
