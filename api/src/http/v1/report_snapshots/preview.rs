//! POST /report-snapshots/{id}/release-previews

use actix_web::{post, web};
use plumbline_core::{id::ReportSnapshotId, report::Release};

use super::release::{NewReleaseBody, standing};
use crate::http::{body::Body, caller::Caller, problem::Problem, problems::CreateProblems, reply::Reply};

/// Look at what would be released of a snapshot
///
/// The same as the release would be now, and nothing is released. The reading is written to the audit log.
#[utoipa::path(
    tag = "reports", operation_id = "preview_release", request_body = NewReleaseBody,
    params(("id" = ReportSnapshotId, Path, description = "The snapshot")),
    responses((status = 200, description = "What would be released", body = Release), CreateProblems)
)]
#[post("/report-snapshots/{id}/release-previews")]
pub async fn preview_release(
    caller: Caller,
    id: web::Path<ReportSnapshotId>,
    body: Body<NewReleaseBody>,
) -> Result<Reply, Problem> {
    let (id, asked) = (*id, body.value);
    let standing = caller.read_logged("report_release.look", move |tx| standing(tx, id, &asked)).await?;
    caller.compute(move || Reply::ok(&standing.release()?.release)).await
}
