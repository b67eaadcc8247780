//! POST /report-snapshots/{id}/release-previews

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Publish, resource::SchoolReport},
    id::ReportSnapshotId,
    report::Release,
};

use super::release::{NewReleaseBody, made};
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
    caller
        .read_logged("report_release.look", move |tx| {
            let permit = tx.permit::<Publish, _>(SchoolReport)?;
            Reply::ok(&made(tx, &permit, id, &asked)?.release)
        })
        .await
}
