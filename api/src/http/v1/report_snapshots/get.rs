//! GET /report-snapshots/{id}

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::SchoolReport},
    id::ReportSnapshotId,
    report::{By, Choice, Release, exact},
};
use serde::Serialize;
use utoipa::ToSchema;

use super::SnapshotLine;
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// A snapshot with every figure. For those who answer for the pupils; not for publication.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "snapshot": {"id": "0199f2c4-0000-7000-8000-000000000031", "as_of": "2026-12-18", "half_term": "Autumn 2",
        "made_by": "0199f2c4-0000-7000-8000-000000000002", "made_at": "2026-12-18T15:40:00.000000Z",
        "kept_until": "2028-01-22T15:40:00.000000Z"},
    "caution": "Contains personal data, do not publish. Small numbers: read with care.",
    "figures": {"audience": "internal", "as_of": "2026-12-18", "school": "Farholt Infant School", "half_term": "Autumn 2",
        "secure_means": {"right_on_days": 3, "days_after_teaching": 7, "carried_in_days": 1}, "versions": [], "cautions": [],
        "tables": [{"measure": "checked", "name": "Checked", "means": "The pupil was checked within the half term.",
            "check": null, "notes": [], "published": null, "rows": [
            {"by": null, "name": null, "symbol": null, "pupils": 51, "not_known": 0, "met": 50,
             "percent": {"percent": 98, "is": "about"}, "interval": [897, 997]}]}], "symbols": []}
}))]
pub struct SnapshotBody {
    /// The snapshot.
    pub snapshot: SnapshotLine,
    /// To be shown with the figures, on screen and on paper.
    pub caution: String,
    /// Every measure of the rule pack by everything the school records: exact, however small the group.
    pub figures: Release,
}

/// Read a snapshot with every figure in it
///
/// By year group, class, term of birth and each optional field the school records. Exact and therefore internal; its
/// reading is written to the audit log.
#[utoipa::path(
    tag = "reports", operation_id = "get_report_snapshot",
    params(("id" = ReportSnapshotId, Path, description = "The snapshot")),
    responses((status = 200, description = "The snapshot", body = SnapshotBody), ReadProblems)
)]
#[get("/report-snapshots/{id}")]
pub async fn get_report_snapshot(caller: Caller, id: web::Path<ReportSnapshotId>) -> Result<Reply, Problem> {
    caller
        .read_logged("report_snapshot.read", move |tx| {
            let permit = tx.permit::<Read, _>(SchoolReport)?;
            let (found, rules) = (tx.report_snapshot(&permit, *id)?, tx.rules()?);
            let by = [By::YearGroup, By::Class, By::TermOfBirth].into_iter();
            let choice = Choice {
                measures: found.cohort.definitions.measures.iter().collect(),
                by: by.chain(found.cohort.fields().map(By::Field)).collect(),
                published: false,
                smaller_groups: false,
                pooled_years: None,
            };
            let all = exact(&found.cohort, &choice, rules)
                .for_internal_reader(permit.grant(), &rules.disclosure.internal);
            Reply::ok(&SnapshotBody {
                snapshot: found.head.into(),
                caution: all.caution,
                figures: all.figures,
            })
        })
        .await
}
