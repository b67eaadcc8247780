//! GET /school

use actix_web::get;
use plumbline_core::access::{act::Read, resource::SchoolProfile};

use super::SchoolBody;
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Get the school
#[utoipa::path(
    tag = "school", operation_id = "get_school",
    responses((status = 200, description = "The school; ETag", body = SchoolBody), ReadProblems)
)]
#[get("/school")]
pub async fn get_school(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(SchoolProfile)?;
            let row = tx.school_profile(&permit)?;
            let v = row.v;
            Ok(Reply::ok(&SchoolBody::from(row))?.version(v))
        })
        .await
}
