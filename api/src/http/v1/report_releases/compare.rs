//! GET /report-releases/{id}/compared

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::SchoolReport},
    disclosure::Audience,
    id::ReportReleaseId,
    report::{ComparedTable, Release, compare},
    rules::SymbolLabel,
    time::Date,
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::{
    http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply},
    store::Error,
};

/// With which.
#[derive(Clone, Copy, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct ComparedQuery {
    /// An earlier release for the same readers.
    pub with: ReportReleaseId,
}

/// One of the two.
#[derive(Serialize, ToSchema)]
pub struct ComparedRelease {
    /// The release.
    pub id: ReportReleaseId,
    /// As of which day.
    pub as_of: Date,
    /// The half term's name.
    pub half_term: String,
}

/// Two releases side by side.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "audience": "closed",
    "earlier": {"id": "0199f2c4-0000-7000-8000-000000000032", "as_of": "2026-10-23", "half_term": "Autumn 1"},
    "later": {"id": "0199f2c4-0000-7000-8000-000000000033", "as_of": "2026-12-18", "half_term": "Autumn 2"},
    "cautions": ["Pupils join and leave."], "symbols": [],
    "tables": [{"measure": "words", "name": "Words are read", "means": "At least 80 in 100 words were read right.", "differs": null,
        "rows": [{"by": null, "name": null,
            "earlier": {"symbol": null, "pupils": 48, "not_known": null, "met": 30, "percent": {"percent": 63, "is": "about"}, "interval": [484, 748]},
            "later": {"symbol": null, "pupils": 50, "not_known": null, "met": 35, "percent": {"percent": 70, "is": "about"}, "interval": [562, 809]},
            "difference": {"tenths": 75, "of_counts": true}}]}]
}))]
pub struct ComparedReleases {
    /// Whom both are for.
    pub audience: Audience,
    /// The earlier one.
    pub earlier: ComparedRelease,
    /// The later one.
    pub later: ComparedRelease,
    /// To be shown with the differences.
    pub cautions: Vec<String>,
    /// One for each measure.
    pub tables: Vec<ComparedTable>,
    /// What stands in the place of figures, in words.
    pub symbols: Vec<SymbolLabel>,
}

/// Compare a release with an earlier one
///
/// Both as they left, side by side, so that nothing is told but what the two say; a difference only where both tell a figure of
/// the same measure, meant the same. It is worked out of the counts where they are told, and not of percentages that were
/// rounded. Which pupils are counted is not the same in both.
#[utoipa::path(
    tag = "reports", operation_id = "compare_report_releases",
    params(("id" = ReportReleaseId, Path, description = "The later release"), ComparedQuery),
    responses((status = 200, description = "The two", body = ComparedReleases), ReadProblems)
)]
#[get("/report-releases/{id}/compared")]
pub async fn compare_report_releases(
    caller: Caller,
    id: web::Path<ReportReleaseId>,
    query: Query<ComparedQuery>,
) -> Result<Reply, Problem> {
    let (id, with) = (*id, query.with);
    let (earlier, later, rules) = caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(SchoolReport)?;
            let later = tx.release(&permit, id)?.body;
            let earlier = match tx.release(&permit, with) {
                Err(Error::Missing) => return Err(Problem::field("with", "is no release of this school")),
                found => found?.body,
            };
            Ok((earlier, later, tx.rules()?))
        })
        .await?;
    let (earlier, later): (Release, Release) =
        (serde_json::from_str(&earlier)?, serde_json::from_str(&later)?);
    let of_secure = |code: &str| rules.reports.measure(code).is_some_and(|one| one.of.is_of_secure());
    let tables =
        compare(&earlier, &later, of_secure).map_err(|error| Problem::field("with", error.to_string()))?;
    let mut symbols = later.symbols;
    symbols.extend(earlier.symbols);
    symbols.sort_by(|a, b| a.code.cmp(&b.code));
    symbols.dedup_by(|a, b| a.code == b.code);
    let mut cautions = vec![rules.reports.compared_caution.clone()];
    cautions.extend(later.basis.cautions);
    let side = |id, as_of, half_term| ComparedRelease { id, as_of, half_term };
    Reply::ok(&ComparedReleases {
        audience: later.audience,
        earlier: side(with, earlier.as_of, earlier.basis.half_term),
        later: side(id, later.as_of, later.basis.half_term),
        cautions,
        tables,
        symbols,
    })
}
