//! GET /report-releases/{id}/table.csv

use actix_web::{get, web};
use plumbline_core::{
    id::ReportReleaseId,
    report::{CheckTold, Published, Release, Row, Table},
    spreadsheet::guarded,
};

use super::Kept;
use crate::{
    files::csv_text,
    http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply},
};

const HEADER: [&str; 16] = [
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
    "check_year_group",
    "check_years",
    "published_year",
    "published_percent",
];

/// Export a release as a table
///
/// A row for each figure, in UTF-8 with a byte-order mark. Where a figure is left out a symbol stands, and every other
/// cell of numbers of the row is empty. A row of the statutory check says of which year group and years it is, that of all its
/// pupils the latest published figure too. A cell that a spreadsheet could take for a formula stands behind an apostrophe.
#[utoipa::path(
    tag = "reports", operation_id = "export_report_release",
    params(("id" = ReportReleaseId, Path, description = "The release")),
    responses((status = 200, description = "The file", content_type = "text/csv", body = String,
        example = "audience,as_of,measure,by,name,symbol,pupils,not_known,met,percent,interval_low_percent,interval_high_percent,check_year_group,check_years,published_year,published_percent\r\nclosed,2026-12-18,words,,,,114,,86,75,66.8,82.4,,,,\r\n"), ReadProblems)
)]
#[get("/report-releases/{id}/table.csv")]
pub async fn export_report_release(caller: Caller, id: web::Path<ReportReleaseId>) -> Result<Reply, Problem> {
    let kept = Kept::read(&caller, *id).await?;
    let mut rows = vec![HEADER.map(str::to_owned)];
    for table in &kept.release.tables {
        rows.extend(table.rows.iter().map(|row| cells(&kept.release, table, row)));
    }
    Ok(Reply::csv(csv_text::write(rows))?.named(kept.file_name("csv")))
}

fn cells(release: &Release, table: &Table, row: &Row) -> [String; 16] {
    let figure = &row.figure;
    let number = |value: Option<u32>| value.map(|value| value.to_string()).unwrap_or_default();
    let tenths =
        |value: Option<u16>| value.map(|value| format!("{}.{}", value / 10, value % 10)).unwrap_or_default();
    let years = |check: &CheckTold| {
        let years: Vec<String> = check.years.iter().map(i32::to_string).collect();
        years.join(" ")
    };
    let published = table.published.as_ref().filter(|_| row.by.is_none()).and_then(Published::latest);
    let by = row.by.clone().map(String::from).unwrap_or_default();
    [
        release.audience.to_string(),
        release.as_of.to_string(),
        table.measure.clone(),
        by,
        guarded(&row.name.as_ref().map(|_| table.called(row)).unwrap_or_default()),
        figure.symbol.map(|symbol| symbol.to_string()).unwrap_or_default(),
        number(figure.pupils),
        number(figure.not_known),
        number(figure.met),
        figure.percent.map(|percent| percent.to_string()).unwrap_or_default(),
        tenths(figure.interval.map(|(low, _)| low)),
        tenths(figure.interval.map(|(_, high)| high)),
        guarded(table.check.as_ref().map_or("", |check| &check.year_group)),
        table.check.as_ref().map(years).unwrap_or_default(),
        published.map(|one| one.year.to_string()).unwrap_or_default(),
        published.map(|one| one.percent.to_string()).unwrap_or_default(),
    ]
}
