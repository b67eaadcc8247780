//! POST /tablets/{id}/revoke

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Manage, resource::Tablets},
    id::TabletId,
    text::Title,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::TabletBody;
use crate::http::{
    body::{Body, unless_null},
    caller::Caller,
    problem::Problem,
    problems::CreateProblems,
    reply::Reply,
};

/// Why.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"reason": "lost on a school trip"}))]
pub struct Revocation {
    /// For whoever asks later; without names of children.
    #[serde(default, deserialize_with = "unless_null")]
    #[schema(value_type = Title)]
    pub reason: Option<Title>,
}

/// Revoke a tablet
///
/// From this moment every operation by a sign-in on it is answered with `tablet_revoked`, at which the client wipes
/// what it holds, and its event streams end. What it still sends is held for the lead. It cannot be undone: a tablet
/// that is found again is added under a new id.
#[utoipa::path(
    tag = "tablets", operation_id = "revoke_tablet", request_body = Revocation,
    params(("id" = TabletId, Path, description = "The tablet")),
    responses((status = 200, description = "Revoked; ETag", body = TabletBody), CreateProblems)
)]
#[post("/tablets/{id}/revoke")]
pub async fn revoke_tablet(
    caller: Caller,
    id: web::Path<TabletId>,
    body: Body<Revocation>,
) -> Result<Reply, Problem> {
    caller
        .write("tablet.revoke", move |tx| {
            let permit = tx.permit::<Manage, _>(Tablets)?;
            let reason = body.value.reason.as_ref().map(Title::as_str);
            let row = tx.revoke_tablet(&permit, *id, reason)?;
            let v = row.v;
            Ok(Reply::ok(&TabletBody::from(row))?.version(v))
        })
        .await
}
