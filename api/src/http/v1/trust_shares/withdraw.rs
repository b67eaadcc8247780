//! DELETE /trust-shares/{id}

use actix_web::{delete, web};
use plumbline_core::{
    access::{act::Publish, resource::TrustShares},
    id::TrustShareId,
};

use crate::http::{caller::Caller, problem::Problem, problems::ActProblems, reply::Reply};

/// Withdraw what the school showed a trust
///
/// The trust's lead does not see it from that moment on. A file that left is not called back by it.
#[utoipa::path(
    tag = "trust", operation_id = "withdraw_trust_share",
    params(("id" = TrustShareId, Path, description = "What was shown")),
    responses((status = 204, description = "Withdrawn"), ActProblems)
)]
#[delete("/trust-shares/{id}")]
pub async fn withdraw_trust_share(caller: Caller, id: web::Path<TrustShareId>) -> Result<Reply, Problem> {
    caller
        .write("trust_share.withdraw", move |tx| {
            let permit = tx.permit::<Publish, _>(TrustShares)?;
            tx.withdraw_trust_share(&permit, *id)?;
            Ok(Reply::nothing())
        })
        .await
}
