//! GET /trust-releases

use actix_web::get;
use plumbline_core::access::{act::Read, resource::TrustReports};

use super::TrustReleaseLine;
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// List what schools of the trust showed it
///
/// Those on the trust's list, what they withdrew left out. The reading is written to the audit log.
#[utoipa::path(
    tag = "trust", operation_id = "list_trust_releases",
    responses((status = 200, description = "What was shown, the earlier first", body = Page<TrustReleaseLine>), ReadProblems)
)]
#[get("/trust-releases")]
pub async fn list_trust_releases(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read_logged("trust_release.list", |tx| {
            let permit = tx.permit::<Read, _>(TrustReports)?;
            let mut shown = tx.shown_to_trust(&permit, None)?;
            shown.sort_by_key(|one| one.id);
            let lines: Result<Vec<_>, _> = shown.iter().map(TrustReleaseLine::of).collect();
            Reply::ok(&Page::whole(lines?))
        })
        .await
}
