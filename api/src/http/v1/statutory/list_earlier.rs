//! GET /pupils/{id}/earlier-statutory-results

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::EarlierResults},
    id::{EarlierResultId, PupilId, StaffId},
    time::Instant,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply},
    store::{EarlierResultRow, ResultSource},
};

/// A result that was brought in.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"id": "0199f2c4-0000-7000-8000-000000000042", "year": 2026, "term": "summer", "mark": 19,
    "code": null, "source": "another_school", "entered_by": "0199f2c4-0000-7000-8000-000000000001",
    "entered_at": "2026-09-09T09:40:00.000000Z", "etag": "\"v812\""}))]
pub struct EarlierResultBody {
    /// Its id.
    pub id: EarlierResultId,
    /// The calendar year of the check.
    pub year: i32,
    /// The term's code.
    pub term: String,
    /// The mark.
    pub mark: Option<i16>,
    /// The code in its place.
    pub code: Option<String>,
    /// Where it comes from.
    pub source: ResultSource,
    /// Who brought it in.
    pub entered_by: StaffId,
    /// When.
    pub entered_at: Instant,
    /// Its ETag.
    pub etag: String,
}

impl From<EarlierResultRow> for EarlierResultBody {
    fn from(row: EarlierResultRow) -> Self {
        Self {
            id: row.id,
            year: row.year,
            term: row.term,
            mark: row.mark,
            code: row.code,
            source: row.source,
            entered_by: row.entered_by,
            entered_at: row.at,
            etag: crate::http::reply::etag(row.v),
        }
    }
}

/// List results of a pupil that were brought in
///
/// From another school, or from before the records here: they decide whether the pupil is to be checked again, and
/// are in no figures of a window.
#[utoipa::path(
    tag = "statutory check", operation_id = "list_earlier_statutory_results",
    params(("id" = PupilId, Path, description = "The pupil")),
    responses((status = 200, description = "The results, by year", body = Page<EarlierResultBody>), ReadProblems)
)]
#[get("/pupils/{id}/earlier-statutory-results")]
pub async fn list_earlier_statutory_results(
    caller: Caller,
    id: web::Path<PupilId>,
) -> Result<Reply, Problem> {
    caller
        .read_logged("earlier_statutory_result.read", move |tx| {
            let permit = tx.permit::<Read, _>(EarlierResults(*id))?;
            let rows = tx.earlier_results(&permit)?;
            Reply::ok(&Page::whole(rows.into_iter().map(EarlierResultBody::from).collect()))
        })
        .await
}
