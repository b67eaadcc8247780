//! GET /staff

use actix_web::get;
use plumbline_core::access::{act::Read, resource::StaffList};

use super::StaffBody;
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// List staff
#[utoipa::path(
    tag = "staff", operation_id = "list_staff",
    responses((status = 200, description = "All staff by name", body = Page<StaffBody>), ReadProblems)
)]
#[get("/staff")]
pub async fn list_staff(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(StaffList)?;
            let staff: Vec<StaffBody> = tx.staff_list(&permit)?.into_iter().map(StaffBody::from).collect();
            Reply::ok(&Page::whole(staff))
        })
        .await
}
