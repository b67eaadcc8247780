//! PATCH /groups/{id}

use actix_web::{patch, web};
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::{Group, Sequence},
    },
    id::{GroupId, LessonId},
    text::Name,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{GroupLine, known_lesson};
use crate::http::{
    body::Body,
    caller::{Caller, same_version},
    problem::Problem,
    problems::EditProblems,
    reply::Reply,
    v1::pupils::update::given,
};

/// What to change; a field left out stays.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"name": "Alder"}))]
pub struct GroupPatch {
    /// Name.
    #[serde(default)]
    pub name: Option<Name>,
    /// The lesson it starts from; null for the first.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<LessonId>)]
    pub start_lesson_id: Option<Option<LessonId>>,
}

/// Change a group's name or starting point
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
    let base = caller.base_version()?;
    let patch = body.value;
    caller
        .write("group.update", move |tx| {
            let permit = tx.permit::<Manage, _>(Group(*id))?;
            let row = tx.group(&permit)?;
            same_version(row.v, base)?;
            let sequence = tx.permit::<Read, _>(Sequence(row.sequence_id))?;
            let version = tx.version_on(&sequence, tx.today())?;
            let start = patch.start_lesson_id;
            known_lesson(version.as_ref().map(|version| version.content.as_ref()), start.flatten())?;
            let row = tx.update_group(&permit, patch.name.as_ref().map(Name::as_str), start, base)?;
            Ok(Reply::ok(&GroupLine::from(&row))?.version(row.v))
        })
        .await
}
