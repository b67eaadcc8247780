//! PUT /optional-fields/{field}

use actix_web::{put, web};
use plumbline_core::{
    access::{act::Manage, resource::OptionalFields},
    roster::optional::is_purpose,
    text::Title,
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{OptionalFieldBody, known};
use crate::http::{
    body::Body,
    caller::{Caller, same_version},
    problem::Problem,
    problems::EditProblems,
    reply::Reply,
};

/// What a field is recorded for.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"purpose": "Report of gaps to the governors", "review_on": "2027-07-31"}))]
pub struct OptionalFieldPurpose {
    /// In words, at least three. Name nobody.
    pub purpose: Title,
    /// The day on which the school looks again whether it is still needed.
    pub review_on: Date,
}

/// Switch an optional field on, or say anew what it is for
///
/// From then on its values are taken, by hand and from pupil files. Purpose and day stand in the list with
/// who said so. A field that is off needs no If-Match; one that is on does.
#[utoipa::path(
    tag = "optional fields", operation_id = "switch_on_optional_field", request_body = OptionalFieldPurpose,
    params(("field" = String, Path, description = "The field's key"),
           ("If-Match" = Option<String>, Header, description = "The etag read, for a field that is on")),
    responses((status = 200, description = "As it is now; ETag", body = OptionalFieldBody), EditProblems)
)]
#[put("/optional-fields/{field}")]
pub async fn switch_on_optional_field(
    caller: Caller,
    field: web::Path<String>,
    body: Body<OptionalFieldPurpose>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    let OptionalFieldPurpose { purpose, review_on } = body.value;
    caller
        .write("optional_field.switch_on", move |tx| {
            let permit = tx.permit::<Manage, _>(OptionalFields)?;
            let known = known(tx, &field)?;
            if let Some(row) = tx.optional_field(&permit, &known.field)? {
                same_version(row.v, base)?;
            }
            if !is_purpose(purpose.as_str()) {
                return Err(Problem::field(
                    "purpose",
                    "say in words what it is recorded for, at least three",
                ));
            }
            if review_on <= tx.today() {
                return Err(Problem::field("review_on", "must be a day to come"));
            }
            let row = tx.switch_on(&permit, &known.field, purpose.as_str(), review_on)?;
            let v = row.v;
            Ok(Reply::ok(&OptionalFieldBody::new(known, Some(row), tx.today()))?.version(v))
        })
        .await
}
