//! GET /trust-shares

use actix_web::get;
use plumbline_core::access::{act::Read, resource::TrustShares};

use super::TrustShareLine;
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// List what the school showed a trust, latest first
///
/// With what was withdrawn.
#[utoipa::path(
    tag = "trust", operation_id = "list_trust_shares",
    responses((status = 200, description = "What was shown", body = Page<TrustShareLine>), ReadProblems)
)]
#[get("/trust-shares")]
pub async fn list_trust_shares(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(TrustShares)?;
            let mut lines = Vec::new();
            for row in tx.trust_shares(&permit)? {
                let read_here = tx.trust_reads_here(&permit, row.trust_id)?;
                lines.push(TrustShareLine::of(row, read_here));
            }
            Reply::ok(&Page::whole(lines))
        })
        .await
}
