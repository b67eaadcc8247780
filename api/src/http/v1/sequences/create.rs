//! POST /sequences

use actix_web::post;
use plumbline_core::{
    access::{act::Manage, resource::Sequences},
    text::Name,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::SequenceBody;
use crate::http::{body::Body, caller::Caller, problem::Problem, problems::CreateProblems, reply::Reply};

/// A sequence to add.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"name": "Our sequence"}))]
pub struct NewSequence {
    /// Its name.
    pub name: Name,
}

/// Add a sequence with an empty draft
#[utoipa::path(
    tag = "sequences", operation_id = "create_sequence", request_body = NewSequence,
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Added", body = SequenceBody), CreateProblems)
)]
#[post("/sequences")]
pub async fn create_sequence(caller: Caller, body: Body<NewSequence>) -> Result<Reply, Problem> {
    let name = body.value.name;
    caller
        .create("sequence.create", body.hash, move |tx| {
            let permit = tx.permit::<Manage, _>(Sequences)?;
            let row = tx.add_sequence(&permit, name.as_str())?;
            Reply::created(format!("/api/v1/sequences/{}", row.id), &SequenceBody::from(row))
        })
        .await
}
