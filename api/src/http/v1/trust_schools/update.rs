//! PATCH /trust-schools/{id}

use actix_web::{patch, web};
use plumbline_core::{
    access::{act::Manage, resource::TrustReports},
    id::TrustSchoolId,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{TrustSchoolLine, check_key};
use crate::http::{
    body::Body,
    caller::{Caller, same_version},
    problem::Problem,
    problems::EditProblems,
    reply::Reply,
    v1::pupils::update::given,
};

/// What to change (JSON Merge Patch, RFC 7396).
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"key": "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo"}))]
pub struct TrustSchoolPatch {
    /// The key of its server, told in another way than with the files; null where no more files of it are taken.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<String>)]
    pub key: Option<Option<String>>,
}

/// Change the key of a school of the trust
///
/// Once the school's server has renewed it. Files taken by the key before stay; files signed by that are taken no more.
#[utoipa::path(
    tag = "trust", operation_id = "update_trust_school", request_body = TrustSchoolPatch,
    params(("id" = TrustSchoolId, Path, description = "The school's place on the list"),
           ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "As it is now; ETag", body = TrustSchoolLine), EditProblems)
)]
#[patch("/trust-schools/{id}")]
pub async fn update_trust_school(
    caller: Caller,
    id: web::Path<TrustSchoolId>,
    body: Body<TrustSchoolPatch>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    let change = body.value;
    caller
        .write("trust_school.update", move |tx| {
            let permit = tx.permit::<Manage, _>(TrustReports)?;
            let mut row = tx.trust_school(&permit, *id)?;
            same_version(row.v, base)?;
            if let Some(key) = &change.key {
                check_key(key.as_deref())?;
                row = tx.set_trust_file_key(&permit, row, key.as_deref())?;
            }
            let v = row.v;
            Ok(Reply::ok(&TrustSchoolLine::from(row))?.version(v))
        })
        .await
}
