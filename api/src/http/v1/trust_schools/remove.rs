//! DELETE /trust-schools/{id}

use actix_web::{delete, web};
use plumbline_core::{
    access::{act::Manage, resource::TrustReports},
    id::TrustSchoolId,
};

use crate::http::{caller::Caller, problem::Problem, problems::ActProblems, reply::Reply};

/// Take a school off the trust's list
///
/// What it shares is not read any more, and files that came of it are dropped.
#[utoipa::path(
    tag = "trust", operation_id = "remove_trust_school",
    params(("id" = TrustSchoolId, Path, description = "The school's place on the list")),
    responses((status = 204, description = "Off the list"), ActProblems)
)]
#[delete("/trust-schools/{id}")]
pub async fn remove_trust_school(caller: Caller, id: web::Path<TrustSchoolId>) -> Result<Reply, Problem> {
    caller
        .write("trust_school.remove", move |tx| {
            let permit = tx.permit::<Manage, _>(TrustReports)?;
            tx.remove_trust_school(&permit, *id)?;
            Ok(Reply::nothing())
        })
        .await
}
