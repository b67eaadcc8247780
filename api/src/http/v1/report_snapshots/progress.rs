//! GET /report-snapshots/{id}/progress

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::SchoolReport},
    id::ReportSnapshotId,
    report::{Progress, progress},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::SnapshotLine;
use crate::{
    http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply},
    store::Error,
};

/// Since when.
#[derive(Clone, Copy, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct ProgressQuery {
    /// An earlier snapshot.
    pub since: ReportSnapshotId,
}

/// How pupils moved between two snapshots. For those who answer for them; not for publication.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "earlier": {"id": "0199f2c4-0000-7000-8000-000000000030", "as_of": "2026-10-23", "half_term": "Autumn 1",
        "made_by": "0199f2c4-0000-7000-8000-000000000002", "made_at": "2026-10-23T15:40:00.000000Z",
        "kept_until": "2027-11-27T15:40:00.000000Z"},
    "later": {"id": "0199f2c4-0000-7000-8000-000000000031", "as_of": "2026-12-18", "half_term": "Autumn 2",
        "made_by": "0199f2c4-0000-7000-8000-000000000002", "made_at": "2026-12-18T15:40:00.000000Z",
        "kept_until": "2028-01-22T15:40:00.000000Z"},
    "cautions": ["Contains personal data, do not publish."],
    "progress": {"pupils": 48, "secure": [{"by": null, "name": null, "pupils": 48, "mean_tenths": 62}],
        "tables": [{"measure": "words", "name": "Words are read", "means": "At least 80 in 100 words were read right.", "differs": null,
            "rows": [{"by": null, "name": null, "met_in_both": 25, "met_since": 9, "met_no_more": 3, "met_in_neither": 8, "not_known": 3}]}]}
}))]
pub struct ProgressBody {
    /// The earlier snapshot.
    pub earlier: SnapshotLine,
    /// The later one.
    pub later: SnapshotLine,
    /// To be shown with the figures, on screen and on paper.
    pub cautions: Vec<String>,
    /// Of the pupils who are in both.
    pub progress: Progress,
}

/// Count how pupils moved since an earlier snapshot
///
/// Of the pupils who are in both: by each measure how many meet it who did not before, and the other way about, and how many
/// more correspondences are secure on the average. Exact, however small the group, and therefore internal: none of it is
/// released. Its reading is written to the audit log.
#[utoipa::path(
    tag = "reports", operation_id = "get_snapshot_progress",
    params(("id" = ReportSnapshotId, Path, description = "The later snapshot"), ProgressQuery),
    responses((status = 200, description = "The figures", body = ProgressBody), ReadProblems)
)]
#[get("/report-snapshots/{id}/progress")]
pub async fn get_snapshot_progress(
    caller: Caller,
    id: web::Path<ReportSnapshotId>,
    query: Query<ProgressQuery>,
) -> Result<Reply, Problem> {
    let since = query.since;
    caller
        .read_logged("report_snapshot.read_progress", move |tx| {
            let permit = tx.permit::<Read, _>(SchoolReport)?;
            let later = tx.report_snapshot(&permit, *id)?;
            let earlier = match tx.report_snapshot(&permit, since) {
                Err(Error::Missing) => return Err(Problem::field("since", "is no snapshot of this school")),
                found => found?,
            };
            let rules = tx.rules()?;
            let counted = progress(&earlier.cohort, &later.cohort)
                .map_err(|error| Problem::field("since", error.to_string()))?
                .for_internal_reader(permit.grant(), &rules.disclosure.internal);
            Reply::ok(&ProgressBody {
                earlier: earlier.head.into(),
                later: later.head.into(),
                cautions: vec![counted.caution, rules.reports.progress_caution.clone()],
                progress: counted.figures,
            })
        })
        .await
}
