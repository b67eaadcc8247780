//! GET /report-snapshots

use actix_web::get;
use plumbline_core::access::{act::Read, resource::SchoolReport};

use super::SnapshotLine;
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// List the snapshots, latest first, without any pupil
#[utoipa::path(
    tag = "reports", operation_id = "list_report_snapshots",
    responses((status = 200, description = "The snapshots", body = Page<SnapshotLine>), ReadProblems)
)]
#[get("/report-snapshots")]
pub async fn list_report_snapshots(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(SchoolReport)?;
            let lines = tx.snapshots(&permit)?.into_iter().map(SnapshotLine::from);
            Reply::ok(&Page::whole(lines.collect()))
        })
        .await
}
