//! GET /report-releases/{id}

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::SchoolReport},
    id::ReportReleaseId,
    report::Release,
};

use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Read a release
///
/// As it was made: the same bytes each time, whatever was recorded, renamed or dropped since.
#[utoipa::path(
    tag = "reports", operation_id = "get_report_release",
    params(("id" = ReportReleaseId, Path, description = "The release")),
    responses((status = 200, description = "The release", body = Release), ReadProblems)
)]
#[get("/report-releases/{id}")]
pub async fn get_report_release(caller: Caller, id: web::Path<ReportReleaseId>) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(SchoolReport)?;
            Ok(Reply::text("application/json", tx.release(&permit, *id)?.body))
        })
        .await
}
