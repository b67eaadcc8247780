//! PUT /groups/{id}/version

use actix_web::{put, web};
use plumbline_core::{
    access::{act::Manage, resource::Group},
    id::{GroupId, VersionId},
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{GroupBody, whole};
use crate::http::{
    body::Body,
    caller::{Caller, same_version},
    problem::Problem,
    problems::EditProblems,
    reply::Reply,
    v1::sequences::told_of,
};

/// Which version of its sequence a group is taught from.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"version_id": "0199f2c4-0000-7000-8000-00000000000d", "from": "2026-11-30"}))]
pub struct GroupVersionBody {
    /// The version to keep; null to follow the sequence. Must be said.
    #[serde(deserialize_with = "Option::deserialize")]
    #[schema(value_type = Option<VersionId>, required)]
    pub version_id: Option<VersionId>,
    /// First day; today unless told. The days before stay as they were, later ones are said anew.
    #[serde(default)]
    pub from: Option<Date>,
}

/// Let a group keep a version of its sequence, or follow the sequence
///
/// So that a group can finish the version it has while others go on to the next. A version that is withdrawn
/// is kept no longer. Refused from a day from which the group has records of another version than would
/// then be in force.
#[utoipa::path(
    tag = "groups", operation_id = "set_group_version", request_body = GroupVersionBody,
    params(("id" = GroupId, Path, description = "The group"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "The group as it is from then on; ETag", body = GroupBody), EditProblems)
)]
#[put("/groups/{id}/version")]
pub async fn set_group_version(
    caller: Caller,
    id: web::Path<GroupId>,
    body: Body<GroupVersionBody>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    let GroupVersionBody { version_id, from } = body.value;
    caller
        .write("group.set_version", move |tx| {
            let permit = tx.permit::<Manage, _>(Group(*id))?;
            let group = tx.group(&permit)?;
            let base = same_version(group.v, base)?;
            let (course, from) = (tx.group_course(&permit)?, from.unwrap_or(tx.today()));
            if let Some(id) = version_id {
                let wrong = |message: String| Problem::field("version_id", message);
                let found = course.published.iter().find(|one| one.id == id);
                let found = found.ok_or_else(|| wrong("is not a version of the group's sequence".into()))?;
                if let Some(day) = found.withdrawn_on {
                    return Err(wrong(format!("was withdrawn on {day}")));
                }
                if from < found.effective_on {
                    let message = format!("lies before {}, from which it is taught", found.effective_on);
                    return Err(Problem::field("from", message));
                }
            }
            let after = course.clone().keeping(version_id, from);
            if let Some(way) = course.in_the_way(&after, &tx.record_days(&permit, from)?) {
                return Err(Problem::field("from", told_of(&group.name, way)));
            }
            let row = tx.keep_version(&permit, &after, base)?;
            Ok(Reply::ok(&whole(tx, &permit, &row, from)?)?.version(row.v))
        })
        .await
}
