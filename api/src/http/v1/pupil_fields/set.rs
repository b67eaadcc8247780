//! PUT /pupils/{id}/fields/{field}

use actix_web::{put, web};
use plumbline_core::{
    access::{act::Manage, resource::PupilFields},
    id::PupilId,
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{PupilFieldsBody, shown};
use crate::http::{
    body::Body,
    caller::{Caller, same_version},
    problem::Problem,
    problems::EditProblems,
    reply::Reply,
    v1::optional_fields::{is_off, known},
};

/// What a field of a pupil is from a day on.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"value": "F", "from": "2026-09-01"}))]
pub struct NewPupilField {
    /// A code of the field's values; null takes back what was recorded.
    #[serde(deserialize_with = "Option::deserialize")]
    #[schema(required = true)]
    pub value: Option<String>,
    /// The first day it counts on, today unless told. It counts from then on, whatever was said of later
    /// days before.
    #[serde(default)]
    pub from: Option<Date>,
}

/// Say what an optional field of a pupil is
///
/// A change is dated, and so is a correction of the past: days before `from` stay as they were said, and every
/// earlier word stays on record while the field is on. Refused while it is off.
#[utoipa::path(
    tag = "optional fields", operation_id = "set_pupil_field", request_body = NewPupilField,
    params(("id" = PupilId, Path, description = "The pupil"), ("field" = String, Path, description = "The field's key"),
           ("If-Match" = String, Header, description = "The ETag read, which is the pupil's")),
    responses((status = 200, description = "As they are now; ETag, which is the pupil's", body = PupilFieldsBody), EditProblems)
)]
#[put("/pupils/{id}/fields/{field}")]
pub async fn set_pupil_field(
    caller: Caller,
    at: web::Path<(PupilId, String)>,
    body: Body<NewPupilField>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    let ((id, field), NewPupilField { value, from }) = (at.into_inner(), body.value);
    caller
        .write("pupil.set_field", move |tx| {
            let permit = tx.permit::<Manage, _>(PupilFields(id))?;
            let known = known(tx, &field)?;
            let view = tx.pupil_fields(&permit)?;
            if !view.on.iter().any(|row| row.field == known.field) {
                return Err(is_off(&known.field));
            }
            same_version(view.v, base)?;
            if value.as_ref().is_some_and(|code| known.value(code).is_none()) {
                return Err(Problem::field("value", format!("must be one of {}", known.codes())));
            }
            let today = tx.today();
            let view = tx.set_pupil_field(&permit, &known.field, from.unwrap_or(today), value.as_deref())?;
            shown(tx, id, &view, today)
        })
        .await
}
