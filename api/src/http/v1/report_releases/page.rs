//! GET /report-releases/{id}/page

use actix_web::{get, web};
use plumbline_core::id::ReportReleaseId;

use super::Kept;
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply, sheets};

/// Show a release as a page
///
/// To read and to print on A4, black on white: what it says and does not, and each measure as a table in which every
/// figure has its bar beside it. Where a figure is left out its word stands, and no bar.
#[utoipa::path(
    tag = "reports", operation_id = "show_report_release",
    params(("id" = ReportReleaseId, Path, description = "The release")),
    responses((status = 200, description = "The page", content_type = "text/html", body = String,
        example = "<!doctype html>\n<html lang=\"en\">...</html>"), ReadProblems)
)]
#[get("/report-releases/{id}/page")]
pub async fn show_report_release(caller: Caller, id: web::Path<ReportReleaseId>) -> Result<Reply, Problem> {
    let kept = Kept::read(&caller, *id).await?;
    caller.compute(move || Ok(Reply::sheet(sheets::release::page(&kept.paper())))).await
}
