//! PATCH /school

use actix_web::patch;
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::SchoolProfile,
    },
    text::Name,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::SchoolBody;
use crate::{
    clock::is_zone,
    http::{
        body::{Body, unless_null},
        caller::{Caller, same_version},
        problem::Problem,
        problems::EditProblems,
        reply::Reply,
    },
};

/// What to change; a field left out stays.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"name": "Farholt Infant School"}))]
pub struct SchoolPatch {
    /// Name.
    #[serde(default, deserialize_with = "unless_null")]
    #[schema(value_type = Name)]
    pub name: Option<Name>,
    /// Time zone, of the tz database.
    #[serde(default, deserialize_with = "unless_null")]
    #[schema(value_type = String)]
    pub time_zone: Option<String>,
}

/// Change the school
#[utoipa::path(
    tag = "school", operation_id = "update_school", request_body = SchoolPatch,
    params(("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "As it is now; ETag", body = SchoolBody), EditProblems)
)]
#[patch("/school")]
pub async fn update_school(caller: Caller, body: Body<SchoolPatch>) -> Result<Reply, Problem> {
    let base = caller.base_version();
    caller
        .write("school.update", move |tx| {
            let permit = tx.permit::<Manage, _>(SchoolProfile)?;
            let reading = tx.permit::<Read, _>(SchoolProfile)?;
            let base = same_version(tx.school_profile(&reading)?.v, base)?;
            let zone = body.value.time_zone.as_deref();
            if zone.is_some_and(|zone| !is_zone(zone)) {
                return Err(Problem::field("time_zone", "is not a time zone such as Europe/London"));
            }
            let name = body.value.name.as_ref().map(Name::as_str);
            let row = tx.update_school(&permit, name, zone, base)?;
            let v = row.v;
            Ok(Reply::ok(&SchoolBody::from(row))?.version(v))
        })
        .await
}
