//! GET /school-years

use actix_web::get;
use plumbline_core::access::{act::Read, resource::Calendar};

use super::YearBody;
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// List school years with their half terms
#[utoipa::path(
    tag = "calendar", operation_id = "list_school_years",
    responses((status = 200, description = "School years, latest last", body = Page<YearBody>), ReadProblems)
)]
#[get("/school-years")]
pub async fn list_school_years(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(Calendar)?;
            let years: Vec<YearBody> = tx.school_years(&permit)?.into_iter().map(YearBody::from).collect();
            Reply::ok(&Page::whole(years))
        })
        .await
}
