//! GET /report-releases/{id}/for-trust

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::TrustShares},
    id::ReportReleaseId,
    trust::SharedFigures,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::{digest, figures};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// What a trust would see of a release.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "digest": "6b1f0c4e2a7d9b8c3f5e6a1d0b2c4f8e7a9d3c5b1e0f2a4d6c8b0e1f3a5d7c9b",
    "figures": {
        "school_id": "0199f2c4-0000-7000-8000-000000000001", "release_id": "0199f2c4-0000-7000-8000-000000000032",
        "school_year": 2026, "sequences": ["0f6a1d1c4f2b8f0e9d3c5b7a6978695a4b3c2d1e0f1a2b3c4d5e6f708192a3b4"],
        "release": {
            "audience": "closed", "as_of": "2026-12-18", "school": "Farholt Infant School", "half_term": "Autumn 2",
            "secure_means": {"right_on_days": 3, "days_after_teaching": 7, "carried_in_days": 1},
            "versions": [{"version_id": "0199f2c4-0000-7000-8000-00000000000d", "sequence": "Our sequence", "number": 1}],
            "cautions": [], "symbols": [],
            "tables": [{"measure": "words", "name": "Words are read", "means": "At least 80 in 100 words were read right.", "rows": [
                {"by": null, "name": null, "symbol": null, "pupils": 50, "not_known": null, "met": 35,
                 "percent": {"percent": 70, "is": "about"}, "interval": [562, 809]}]}]
        }
    }
}))]
pub struct ForTrust {
    /// To be sent when it is shared, to say that this was looked at.
    pub digest: String,
    /// All that would leave.
    pub figures: SharedFigures,
}

/// Look at what a trust would see of a release
///
/// The whole school and its year groups, as released; no class and no other part. Nothing is shared. The reading is written
/// to the audit log.
#[utoipa::path(
    tag = "trust", operation_id = "look_at_trust_share",
    params(("id" = ReportReleaseId, Path, description = "The release")),
    responses((status = 200, description = "What would leave", body = ForTrust), ReadProblems)
)]
#[get("/report-releases/{id}/for-trust")]
pub async fn look_at_trust_share(caller: Caller, id: web::Path<ReportReleaseId>) -> Result<Reply, Problem> {
    caller
        .read_logged("trust_share.look", move |tx| {
            tx.permit::<Read, _>(TrustShares)?;
            let figures = figures(tx, *id)?;
            Reply::ok(&ForTrust { digest: digest(&figures)?, figures })
        })
        .await
}
