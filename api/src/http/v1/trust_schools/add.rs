//! POST /trust-schools

use actix_web::post;
use plumbline_core::{
    access::{act::Manage, resource::TrustReports},
    id::SchoolId,
    text::Name,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{TrustSchoolLine, check_key};
use crate::http::{body::Body, caller::Caller, problem::Problem, problems::CreateProblems, reply::Reply};

/// A school for the trust's list.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "school_id": "0199f2c4-0000-7000-8000-000000000001", "name": "Farholt Infant School",
    "key": "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo"
}))]
pub struct NewTrustSchool {
    /// The school, as its head reads it at `GET /trust-key`.
    pub school_id: SchoolId,
    /// What the trust calls it.
    #[schema(value_type = String, min_length = 1, max_length = 100)]
    pub name: Name,
    /// The key of its server, from the same place, where it sends files: whoever has that key is believed to be the school.
    #[serde(default)]
    pub key: Option<String>,
}

/// Put a school on the trust's list
///
/// Nothing of the school is shown by that: its head or lead has to share.
#[utoipa::path(
    tag = "trust", operation_id = "add_trust_school", request_body = NewTrustSchool,
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "On the list", body = TrustSchoolLine), CreateProblems)
)]
#[post("/trust-schools")]
pub async fn add_trust_school(caller: Caller, body: Body<NewTrustSchool>) -> Result<Reply, Problem> {
    let new = body.value;
    caller
        .create("trust_school.add", body.hash, move |tx| {
            let permit = tx.permit::<Manage, _>(TrustReports)?;
            check_key(new.key.as_deref())?;
            let row = tx.add_trust_school(&permit, new.school_id, new.name.as_str(), new.key.as_deref())?;
            let address = format!("/api/v1/trust-schools/{}", row.id);
            let v = row.v;
            Ok(Reply::created(address, &TrustSchoolLine::from(row))?.version(v))
        })
        .await
}
