//! GET /trust-shares/{id}

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::TrustShares},
    id::TrustShareId,
    trust::Shared,
};

use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Read what the school showed a trust
///
/// As it left: the same bytes the trust reads.
#[utoipa::path(
    tag = "trust", operation_id = "get_trust_share",
    params(("id" = TrustShareId, Path, description = "What was shown")),
    responses((status = 200, description = "What left", body = Shared), ReadProblems)
)]
#[get("/trust-shares/{id}")]
pub async fn get_trust_share(caller: Caller, id: web::Path<TrustShareId>) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(TrustShares)?;
            Ok(Reply::text("application/json", tx.trust_share(&permit, *id)?.body))
        })
        .await
}
