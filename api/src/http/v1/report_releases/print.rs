//! GET /report-releases/{id}/report.pdf

use actix_web::{get, web};
use plumbline_core::id::ReportReleaseId;

use super::Kept;
use crate::{
    files::release_pdf,
    http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::File},
};

/// Print a release
///
/// As a PDF on A4, black on white: at most two sheets for a school of up to twelve classes, by year group and class. It is
/// tagged, so that it can be read out, and says what the page says. The same bytes each time.
#[utoipa::path(
    tag = "reports", operation_id = "print_report_release",
    params(("id" = ReportReleaseId, Path, description = "The release")),
    responses((status = 200, description = "The report", content_type = release_pdf::MEDIA_TYPE, body = String,
        example = "the bytes of a PDF"), ReadProblems)
)]
#[get("/report-releases/{id}/report.pdf")]
pub async fn print_report_release(caller: Caller, id: web::Path<ReportReleaseId>) -> Result<File, Problem> {
    let kept = Kept::read(&caller, *id).await?;
    let write = |kept: &Kept| release_pdf::write(&kept.paper(), kept.release.as_of);
    kept.file(&caller, (release_pdf::MEDIA_TYPE, "pdf"), write).await
}
