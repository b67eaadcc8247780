//! GET /report-releases/{id}/table.xlsx

use actix_web::{get, web};
use plumbline_core::id::ReportReleaseId;

use super::Kept;
use crate::{
    files::release_workbook,
    http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::File},
};

/// Export a release as a workbook
///
/// A sheet of figures, numbers as numbers, and a sheet that says what they mean. Where a figure is left out a symbol
/// stands, and every other cell of the row is empty. No formula, nothing hidden, the same bytes each time.
#[utoipa::path(
    tag = "reports", operation_id = "export_report_release_workbook",
    params(("id" = ReportReleaseId, Path, description = "The release")),
    responses((status = 200, description = "The workbook", content_type = release_workbook::MEDIA_TYPE, body = String,
        example = "the bytes of a workbook"), ReadProblems)
)]
#[get("/report-releases/{id}/table.xlsx")]
pub async fn export_report_release_workbook(
    caller: Caller,
    id: web::Path<ReportReleaseId>,
) -> Result<File, Problem> {
    let kept = Kept::read(&caller, *id).await?;
    let write = |kept: &Kept| release_workbook::write(&kept.release, &kept.paper(), |code| kept.field(code));
    kept.file(&caller, (release_workbook::MEDIA_TYPE, "xlsx"), write).await
}
