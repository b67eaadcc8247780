//! PATCH /groups/{id}

use actix_web::{patch, web};
use plumbline_core::{
    access::{act::Manage, resource::Group},
    id::GroupId,
    text::Name,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::GroupLine;
use crate::http::{
    body::{Body, unless_null},
    caller::{Caller, same_version},
    problem::Problem,
    problems::EditProblems,
    reply::Reply,
};

/// What to change; a field left out stays.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"name": "Alder"}))]
pub struct GroupPatch {
    /// Name.
    #[serde(default, deserialize_with = "unless_null")]
    #[schema(value_type = Name)]
    pub name: Option<Name>,
}

/// Change a group's name
#[utoipa::path(
    tag = "groups", operation_id = "update_group", request_body = GroupPatch,
    params(("id" = GroupId, Path, description = "The group"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "As it is now; ETag", body = GroupLine), EditProblems)
)]
#[patch("/groups/{id}")]
pub async fn update_group(
    caller: Caller,
    id: web::Path<GroupId>,
    body: Body<GroupPatch>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    let patch = body.value;
    caller
        .write("group.update", move |tx| {
            let permit = tx.permit::<Manage, _>(Group(*id))?;
            let base = same_version(tx.group(&permit)?.v, base)?;
            let row = tx.update_group(&permit, patch.name.as_ref().map(Name::as_str), base)?;
            Ok(Reply::ok(&GroupLine::from(&row))?.version(row.v))
        })
        .await
}
