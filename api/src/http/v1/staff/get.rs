//! GET /staff/{id}

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::StaffList},
    id::StaffId,
};

use super::StaffBody;
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Get a member of staff
#[utoipa::path(
    tag = "staff", operation_id = "get_staff", params(("id" = StaffId, Path, description = "The member of staff")),
    responses((status = 200, description = "The member of staff; ETag", body = StaffBody), ReadProblems)
)]
#[get("/staff/{id}")]
pub async fn get_staff(caller: Caller, id: web::Path<StaffId>) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(StaffList)?;
            let view = tx.staff_member(&permit, *id)?;
            let v = view.row.v;
            Ok(Reply::ok(&StaffBody::from(view))?.version(v))
        })
        .await
}
