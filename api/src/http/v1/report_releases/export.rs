//! GET /report-releases/{id}/table.csv

use actix_web::{get, web};
use plumbline_core::{
    id::ReportReleaseId,
    report::{Release, Row},
    spreadsheet::guarded,
};

use super::Kept;
use crate::{
    files::csv_text,
    http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply},
};

const HEADER: [&str; 12] = [
    "audience",
    "as_of",
    "measure",
    "by",
    "name",
    "symbol",
    "pupils",
    "not_known",
    "met",
    "percent",
    "interval_low_percent",
    "interval_high_percent",
];

/// Export a release as a table
///
/// A row for each figure, in UTF-8 with a byte-order mark. Where a figure is left out a symbol stands, and every other
/// cell of the row is empty. A cell that a spreadsheet could take for a formula stands behind an apostrophe.
#[utoipa::path(
    tag = "reports", operation_id = "export_report_release",
    params(("id" = ReportReleaseId, Path, description = "The release")),
    responses((status = 200, description = "The file", content_type = "text/csv", body = String,
        example = "audience,as_of,measure,by,name,symbol,pupils,not_known,met,percent,interval_low_percent,interval_high_percent\r\nclosed,2026-12-18,words,,,,114,6,86,75,66.8,82.4\r\n"), ReadProblems)
)]
#[get("/report-releases/{id}/table.csv")]
pub async fn export_report_release(caller: Caller, id: web::Path<ReportReleaseId>) -> Result<Reply, Problem> {
    let Kept { release, .. } = Kept::read(&caller, *id).await?;
    let mut rows = vec![HEADER.map(str::to_owned)];
    for table in &release.tables {
        rows.extend(table.rows.iter().map(|row| cells(&release, &table.measure, row)));
    }
    Reply::csv(csv_text::write(rows))
}

fn cells(release: &Release, measure: &str, row: &Row) -> [String; 12] {
    let figure = &row.figure;
    let number = |value: Option<u32>| value.map(|value| value.to_string()).unwrap_or_default();
    let tenths =
        |value: Option<u16>| value.map(|value| format!("{}.{}", value / 10, value % 10)).unwrap_or_default();
    let by = row.by.clone().map(String::from).unwrap_or_default();
    [
        release.audience.to_string(),
        release.as_of.to_string(),
        measure.to_owned(),
        by,
        guarded(row.name.as_deref().unwrap_or_default()),
        figure.symbol.map(|symbol| symbol.to_string()).unwrap_or_default(),
        number(figure.pupils),
        number(figure.not_known),
        number(figure.met),
        figure.percent.map(|percent| percent.to_string()).unwrap_or_default(),
        tenths(figure.interval.map(|(low, _)| low)),
        tenths(figure.interval.map(|(_, high)| high)),
    ]
}
