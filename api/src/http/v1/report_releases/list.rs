//! GET /report-releases

use actix_web::get;
use plumbline_core::{
    access::{act::Read, resource::SchoolReport},
    disclosure::Audience,
    id::{ReportReleaseId, ReportSnapshotId, StaffId},
    time::{Date, Instant},
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply},
    store::ReleaseHead,
};

/// A release, without its figures.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000032", "snapshot_id": "0199f2c4-0000-7000-8000-000000000031", "audience": "closed",
    "as_of": "2026-12-18", "half_term": "Autumn 2", "measures": ["words", "statutory"], "released_by": "0199f2c4-0000-7000-8000-000000000002", "released_at": "2026-12-18T16:00:00.000000Z"
}))]
pub struct ReleaseLine {
    /// Its id.
    pub id: ReportReleaseId,
    /// The snapshot it was made of.
    pub snapshot_id: ReportSnapshotId,
    /// For whom.
    pub audience: Audience,
    /// As of which day.
    pub as_of: Date,
    /// The half term's name.
    pub half_term: String,
    /// Its measures, by their codes.
    pub measures: Vec<String>,
    /// Who released it.
    pub released_by: StaffId,
    /// When.
    pub released_at: Instant,
}

impl From<ReleaseHead> for ReleaseLine {
    fn from(head: ReleaseHead) -> Self {
        let ReleaseHead { id, snapshot, audience, as_of, half_term, measures, released_by, released_at } =
            head;
        Self { id, snapshot_id: snapshot, audience, as_of, half_term, measures, released_by, released_at }
    }
}

/// List what was released, latest first
#[utoipa::path(
    tag = "reports", operation_id = "list_report_releases",
    responses((status = 200, description = "The releases", body = Page<ReleaseLine>), ReadProblems)
)]
#[get("/report-releases")]
pub async fn list_report_releases(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(SchoolReport)?;
            let lines = tx.releases(&permit)?.into_iter().map(ReleaseLine::from);
            Reply::ok(&Page::whole(lines.collect()))
        })
        .await
}
