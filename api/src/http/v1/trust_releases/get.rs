//! GET /trust-releases/{id}

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::TrustReports},
    id::TrustShareId,
    trust::Shared,
};

use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Read what a school showed the trust
///
/// As it left the school: whole school and year groups, and nothing else. The reading is written to the audit log.
#[utoipa::path(
    tag = "trust", operation_id = "get_trust_release",
    params(("id" = TrustShareId, Path, description = "What was shown")),
    responses((status = 200, description = "What was shown", body = Shared), ReadProblems)
)]
#[get("/trust-releases/{id}")]
pub async fn get_trust_release(caller: Caller, id: web::Path<TrustShareId>) -> Result<Reply, Problem> {
    caller
        .read_logged("trust_release.read", move |tx| {
            let permit = tx.permit::<Read, _>(TrustReports)?;
            Ok(Reply::text("application/json", tx.one_shown_to_trust(&permit, *id)?.body))
        })
        .await
}
