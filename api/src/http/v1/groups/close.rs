//! POST /groups/{id}/close

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Manage, resource::Group},
    id::GroupId,
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use crate::http::{
    body::Body,
    caller::{Caller, same_version},
    problem::{Code, Problem},
    problems::EditProblems,
    reply::Reply,
};

/// When a group ends.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"on": "2026-12-18"}))]
pub struct CloseGroup {
    /// The last day it is taught.
    pub on: Date,
}

/// Close a group
///
/// Its records stay and count in the terms they belong to. Not before its last lesson or catch-up on record, which would be
/// one of no group.
#[utoipa::path(
    tag = "groups", operation_id = "close_group", request_body = CloseGroup,
    params(("id" = GroupId, Path, description = "The group"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 204, description = "Closed"), EditProblems)
)]
#[post("/groups/{id}/close")]
pub async fn close_group(
    caller: Caller,
    id: web::Path<GroupId>,
    body: Body<CloseGroup>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    caller
        .write("group.close", move |tx| {
            let permit = tx.permit::<Manage, _>(Group(*id))?;
            let base = same_version(tx.group(&permit)?.v, base)?;
            let last = body.value.on;
            if let Some(taught) = tx.last_taught(&permit, last)?.filter(|taught| *taught > last) {
                let refused = Problem::field("on", format!("teaching is on record of {taught}"));
                return Err(refused.with_code(Code::Conflict));
            }
            tx.close_group(&permit, last, base)?;
            Ok(Reply::nothing())
        })
        .await
}
