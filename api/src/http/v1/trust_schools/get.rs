//! GET /trust-schools/{id}

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::TrustReports},
    id::TrustSchoolId,
};

use super::TrustSchoolLine;
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Read a school of the trust's list
#[utoipa::path(
    tag = "trust", operation_id = "get_trust_school",
    params(("id" = TrustSchoolId, Path, description = "The school's place on the list")),
    responses((status = 200, description = "The school; ETag", body = TrustSchoolLine), ReadProblems)
)]
#[get("/trust-schools/{id}")]
pub async fn get_trust_school(caller: Caller, id: web::Path<TrustSchoolId>) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(TrustReports)?;
            let row = tx.trust_school(&permit, *id)?;
            let v = row.v;
            Ok(Reply::ok(&TrustSchoolLine::from(row))?.version(v))
        })
        .await
}
