//! DELETE /optional-fields/{field}

use actix_web::{delete, web};
use plumbline_core::access::{act::Manage, resource::OptionalFields};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::known;
use crate::http::{
    caller::{Caller, same_version},
    problem::{Code, Problem},
    problems::EditProblems,
    query::Query,
    reply::Reply,
};

/// What goes with it.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct SwitchOffQuery {
    /// Of how many pupils values are removed, former values included. Not needed where there are none.
    #[serde(default)]
    pub remove: usize,
}

/// A field that is off.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"field": "sex", "removed_of": 118}))]
pub struct SwitchedOffBody {
    /// Its key.
    pub field: String,
    /// Of how many pupils values were removed.
    pub removed_of: usize,
}

/// Switch an optional field off and remove its values
///
/// All of them, of today and of before, also from pupil files that are still kept and from what taking
/// merged records apart would put back; so the number of pupils must be given, and the refusal of a wrong
/// one says it. That the field was on, what for, and the number stay in the history; no value does.
#[utoipa::path(
    tag = "optional fields", operation_id = "switch_off_optional_field",
    params(("field" = String, Path, description = "The field's key"), SwitchOffQuery,
           ("If-Match" = String, Header, description = "The etag read")),
    responses((status = 200, description = "Off", body = SwitchedOffBody), EditProblems)
)]
#[delete("/optional-fields/{field}")]
pub async fn switch_off_optional_field(
    caller: Caller,
    field: web::Path<String>,
    query: Query<SwitchOffQuery>,
) -> Result<Reply, Problem> {
    let (base, remove) = (caller.base_version(), query.remove);
    caller
        .write("optional_field.switch_off", move |tx| {
            let permit = tx.permit::<Manage, _>(OptionalFields)?;
            let known = known(tx, &field)?;
            let Some(row) = tx.optional_field(&permit, &known.field)? else {
                return Err(Problem::saying(Code::NotFound, "the field is off"));
            };
            same_version(row.v, base)?;
            let pupils = tx.pupils_with(&permit, &known.field)?;
            if pupils != remove {
                return Err(Problem::field("remove", format!("values of {pupils} pupils are recorded")));
            }
            tx.switch_off(&permit, &known.field, pupils)?;
            Reply::ok(&SwitchedOffBody { field: known.field.clone(), removed_of: pupils })
        })
        .await
}
