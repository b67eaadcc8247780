//! POST /groups

use actix_web::post;
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::{Groups, Sequence},
    },
    id::SequenceId,
    text::Name,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::GroupLine;
use crate::{
    http::{body::Body, caller::Caller, problem::Problem, problems::CreateProblems, reply::Reply},
    store::Error,
};

/// A group to add.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"name": "Alder", "sequence_id": "0199f2c4-0000-7000-8000-00000000000a"}))]
pub struct NewGroup {
    /// Its name.
    pub name: Name,
    /// The sequence it is taught.
    pub sequence_id: SequenceId,
}

/// Add a teaching group
///
/// It starts at the sequence's first lesson, unless what it was taught before is carried in.
#[utoipa::path(
    tag = "groups", operation_id = "create_group", request_body = NewGroup,
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Added; ETag", body = GroupLine), CreateProblems)
)]
#[post("/groups")]
pub async fn create_group(caller: Caller, body: Body<NewGroup>) -> Result<Reply, Problem> {
    let new = body.value;
    caller
        .create("group.create", body.hash, move |tx| {
            let permit = tx.permit::<Manage, _>(Groups)?;
            tx.permit::<Read, _>(Sequence(new.sequence_id)).map_err(|error| match error {
                Error::Refused(_) => Problem::field("sequence_id", "is not a sequence of this school"),
                other => other.into(),
            })?;
            let row = tx.add_group(&permit, new.name.as_str(), new.sequence_id)?;
            Ok(Reply::created(format!("/api/v1/groups/{}", row.id), &GroupLine::from(&row))?.version(row.v))
        })
        .await
}
