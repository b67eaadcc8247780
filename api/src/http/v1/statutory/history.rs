//! GET /statutory-windows/{id}/results/{pupil_id}/history

use actix_web::{get, web};
use plumbline_core::{
    access::{
        act::Read,
        resource::{StatutoryFigures, StatutoryResult, StatutoryWindow},
    },
    id::{PupilId, StaffId, StatutoryWindowId},
    time::{Date, Instant},
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply},
    store::StatutoryResultRow,
};

/// What was entered once.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"version": 812, "mark": 27, "code": null, "on": "2026-06-09",
    "taken_by": "0199f2c4-0000-7000-8000-000000000002", "reason": null,
    "entered_by": "0199f2c4-0000-7000-8000-000000000001", "entered_at": "2026-06-09T09:40:00.000000Z",
    "amended_for": null, "note": null}))]
pub struct StatutoryEntryLine {
    /// Its version.
    pub version: i64,
    /// The mark.
    pub mark: Option<i16>,
    /// The code in its place. Neither: what was entered was taken back.
    pub code: Option<String>,
    /// The day of the check.
    pub on: Option<Date>,
    /// Who gave it.
    pub taken_by: Option<StaffId>,
    /// Why it was not taken, by its code.
    pub reason: Option<String>,
    /// Who entered this.
    pub entered_by: StaffId,
    /// When.
    pub entered_at: Instant,
    /// Why it was changed after it was submitted, by its code; null for what was entered before.
    pub amended_for: Option<String>,
    /// One line on that.
    pub note: Option<String>,
}

impl From<StatutoryResultRow> for StatutoryEntryLine {
    fn from(row: StatutoryResultRow) -> Self {
        Self {
            version: row.v,
            mark: row.mark,
            code: row.code,
            on: row.on_date,
            taken_by: row.taken_by,
            reason: row.reason,
            entered_by: row.entered_by,
            entered_at: row.at,
            amended_for: row.amended_for,
            note: row.note,
        }
    }
}

/// What was entered of a pupil in a window, earliest first
///
/// For the lead and the head. Nothing that was entered is lost.
#[utoipa::path(
    tag = "statutory check", operation_id = "get_statutory_result_history",
    params(("id" = StatutoryWindowId, Path, description = "The window"), ("pupil_id" = PupilId, Path, description = "The pupil")),
    responses((status = 200, description = "The entries", body = Page<StatutoryEntryLine>), ReadProblems)
)]
#[get("/statutory-windows/{id}/results/{pupil_id}/history")]
pub async fn get_statutory_result_history(
    caller: Caller,
    path: web::Path<(StatutoryWindowId, PupilId)>,
) -> Result<Reply, Problem> {
    let (window, pupil) = *path;
    caller
        .read_logged("statutory_result.read_history", move |tx| {
            tx.permit::<Read, _>(StatutoryWindow(window))?;
            let permit = tx.permit::<Read, _>(StatutoryResult { window, pupil })?;
            let whole = tx.permit::<Read, _>(StatutoryFigures)?;
            let rows = tx.statutory_history(&permit, &whole)?;
            Reply::ok(&Page::whole(rows.into_iter().map(StatutoryEntryLine::from).collect()))
        })
        .await
}
