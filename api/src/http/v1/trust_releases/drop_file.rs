//! DELETE /trust-files/{id}

use actix_web::{delete, web};
use plumbline_core::{
    access::{act::Manage, resource::TrustReports},
    id::TrustShareId,
};

use crate::http::{caller::Caller, problem::Problem, problems::ActProblems, reply::Reply};

/// Drop a file of a school
///
/// As when the school withdraws what it showed: a file does not come back by itself.
#[utoipa::path(
    tag = "trust", operation_id = "drop_trust_file",
    params(("id" = TrustShareId, Path, description = "What came as a file")),
    responses((status = 204, description = "Dropped"), ActProblems)
)]
#[delete("/trust-files/{id}")]
pub async fn drop_trust_file(caller: Caller, id: web::Path<TrustShareId>) -> Result<Reply, Problem> {
    caller
        .write("trust_release.drop", move |tx| {
            let permit = tx.permit::<Manage, _>(TrustReports)?;
            tx.drop_trust_file(&permit, *id)?;
            Ok(Reply::nothing())
        })
        .await
}
