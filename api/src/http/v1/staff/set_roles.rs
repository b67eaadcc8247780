//! PUT /staff/{id}/roles

use actix_web::{put, web};
use plumbline_core::{
    access::{
        Role,
        act::{Manage, Read},
        resource::StaffList,
    },
    id::StaffId,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{RoleBody, StaffBody, keep_an_administrator, spans};
use crate::http::{
    body::Body,
    caller::{Caller, same_version},
    problem::{Code, Problem},
    problems::EditProblems,
    reply::Reply,
};

/// All roles of a member of staff.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"roles": [{"role": "cover", "from": "2026-11-26", "until": "2026-11-27"}]}))]
pub struct RolesBody {
    /// Every role with its days; those left out end now.
    pub roles: Vec<RoleBody>,
}

/// Replace the roles of a member of staff
///
/// Counts from the next request of that member on. An administrator cannot give up the
/// role for oneself: somebody else has to, so that a school is never locked out.
#[utoipa::path(
    tag = "staff", operation_id = "set_staff_roles", request_body = RolesBody,
    params(("id" = StaffId, Path, description = "The member of staff"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "As it is now; ETag", body = StaffBody), EditProblems)
)]
#[put("/staff/{id}/roles")]
pub async fn set_staff_roles(
    caller: Caller,
    id: web::Path<StaffId>,
    body: Body<RolesBody>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    caller
        .write("staff.set_roles", move |tx| {
            let permit = tx.permit::<Manage, _>(StaffList)?;
            let reading = tx.permit::<Read, _>(StaffList)?;
            same_version(tx.staff_member(&reading, *id)?.row.v, base)?;
            let roles = spans(&body.value.roles, tx.today())?;
            let keeps = roles.iter().any(|span| {
                span.role == Role::Administrator && span.from <= tx.today() && span.until.is_none()
            });
            if *id == tx.actor().staff && !keeps {
                return Err(Problem::saying(
                    Code::Conflict,
                    "another administrator has to take this role from you",
                ));
            }
            let view = tx.set_roles(&permit, *id, &roles)?;
            keep_an_administrator(tx, &permit)?;
            let v = view.row.v;
            Ok(Reply::ok(&StaffBody::from(view))?.version(v))
        })
        .await
}
