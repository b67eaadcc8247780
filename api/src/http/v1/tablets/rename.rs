//! PATCH /tablets/{id}

use actix_web::{patch, web};
use plumbline_core::{
    access::{act::Manage, resource::Tablets},
    id::TabletId,
    text::Name,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::TabletBody;
use crate::http::{
    body::Body,
    caller::{Caller, same_version},
    problem::Problem,
    problems::EditProblems,
    reply::Reply,
};

/// What to change.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"name": "Carpet tablet, Birch"}))]
pub struct TabletPatch {
    /// What staff call it from now on.
    pub name: Name,
}

/// Rename a tablet
#[utoipa::path(
    tag = "tablets", operation_id = "rename_tablet", request_body = TabletPatch,
    params(("id" = TabletId, Path, description = "The tablet"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "As it is now; ETag", body = TabletBody), EditProblems)
)]
#[patch("/tablets/{id}")]
pub async fn rename_tablet(
    caller: Caller,
    id: web::Path<TabletId>,
    body: Body<TabletPatch>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    caller
        .write("tablet.rename", move |tx| {
            let permit = tx.permit::<Manage, _>(Tablets)?;
            same_version(tx.tablet(&permit, *id)?.v, base)?;
            let row = tx.rename_tablet(&permit, *id, &body.value.name)?;
            let v = row.v;
            Ok(Reply::ok(&TabletBody::from(row))?.version(v))
        })
        .await
}
