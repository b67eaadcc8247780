//! GET /trust-schools

use actix_web::get;
use plumbline_core::access::{act::Read, resource::TrustReports};

use super::TrustSchoolLine;
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// List the schools of the trust
#[utoipa::path(
    tag = "trust", operation_id = "list_trust_schools",
    responses((status = 200, description = "The schools by name", body = Page<TrustSchoolLine>), ReadProblems)
)]
#[get("/trust-schools")]
pub async fn list_trust_schools(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(TrustReports)?;
            let lines = tx.trust_schools(&permit)?.into_iter().map(TrustSchoolLine::from);
            Reply::ok(&Page::whole(lines.collect()))
        })
        .await
}
