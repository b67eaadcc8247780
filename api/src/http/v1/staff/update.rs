//! PATCH /staff/{id}

use actix_web::{patch, web};
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::StaffList,
    },
    id::StaffId,
    text::Name,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{StaffBody, keep_an_administrator};
use crate::http::{
    body::{Body, unless_null},
    caller::{Caller, same_version},
    problem::{Code, Problem},
    problems::EditProblems,
    reply::Reply,
};

/// What to change; a field left out stays.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"disabled": true}))]
pub struct StaffPatch {
    /// Name.
    #[serde(default, deserialize_with = "unless_null")]
    #[schema(value_type = Name)]
    pub name: Option<Name>,
    /// Whether signing in is off. Turning it off ends every sign-in within the second.
    #[serde(default, deserialize_with = "unless_null")]
    #[schema(value_type = bool)]
    pub disabled: Option<bool>,
}

/// Change a member of staff
///
/// Nobody turns off one's own signing in: somebody else has to, so that a school is never
/// locked out.
#[utoipa::path(
    tag = "staff", operation_id = "update_staff", request_body = StaffPatch,
    params(("id" = StaffId, Path, description = "The member of staff"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "As it is now; ETag", body = StaffBody), EditProblems)
)]
#[patch("/staff/{id}")]
pub async fn update_staff(
    caller: Caller,
    id: web::Path<StaffId>,
    body: Body<StaffPatch>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    caller
        .write("staff.update", move |tx| {
            let permit = tx.permit::<Manage, _>(StaffList)?;
            let reading = tx.permit::<Read, _>(StaffList)?;
            same_version(tx.staff_member(&reading, *id)?.row.v, base)?;
            if *id == tx.actor().staff && body.value.disabled == Some(true) {
                return Err(Problem::saying(
                    Code::Conflict,
                    "another administrator has to turn this off for you",
                ));
            }
            let name = body.value.name.as_ref().map(Name::as_str);
            let view = tx.update_staff(&permit, *id, name, body.value.disabled)?;
            keep_an_administrator(tx, &permit)?;
            let v = view.row.v;
            Ok(Reply::ok(&StaffBody::from(view))?.version(v))
        })
        .await
}
