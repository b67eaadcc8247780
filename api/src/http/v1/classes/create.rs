//! POST /classes

use actix_web::post;
use plumbline_core::{
    access::{act::Manage, resource::Roster},
    text::Name,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::ClassLine;
use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
    },
    store::Error,
};

/// A class to add.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"name": "Alder"}))]
pub struct NewClass {
    /// Its name, each once a school, whatever the case and spaces.
    pub name: Name,
}

/// Add a class
#[utoipa::path(
    tag = "classes", operation_id = "create_class", request_body = NewClass,
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Added; ETag", body = ClassLine), CreateProblems)
)]
#[post("/classes")]
pub async fn create_class(caller: Caller, body: Body<NewClass>) -> Result<Reply, Problem> {
    let name = body.value.name;
    caller
        .create("class.create", body.hash, move |tx| {
            let permit = tx.permit::<Manage, _>(Roster)?;
            let row = tx.add_class(&permit, name.as_str()).map_err(|error| match error {
                Error::Conflict => {
                    Problem::field("name", "belongs to another class").with_code(Code::Conflict)
                }
                other => other.into(),
            })?;
            let v = row.v;
            Ok(Reply::created(format!("/api/v1/classes/{}", row.id), &ClassLine::from(row))?.version(v))
        })
        .await
}
