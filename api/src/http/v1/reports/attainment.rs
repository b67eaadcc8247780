//! GET /reports/attainment

use actix_web::get;
use plumbline_core::{
    access::{act::Read, resource::SchoolReport},
    attainment::{Figures, SecureBasis, VersionUsed, attainment_report},
    id::HalfTermId,
    time::Date,
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::http::{
    caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply,
    v1::report_snapshots::half_term_and_day,
};

/// Which half term.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct AttainmentQuery {
    /// The half term; the one of the as-of date unless told.
    pub half_term_id: Option<HalfTermId>,
    /// As of which day: the half term's last day, or today if that comes first, unless told.
    pub as_of: Option<Date>,
}

/// How the school stands at the end of a half term. For those who answer for the pupils;
/// not for publication.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "half_term_id": "0199f2c4-0000-7000-8000-000000000004", "half_term": "Autumn 1", "as_of": "2026-10-23",
    "secure_means": {"right_on_days": 3, "days_after_teaching": 7, "carried_in_days": 1}, "audience": "internal",
    "caution": "Contains personal data, do not publish. Small numbers: read with care.", "cautions": [],
    "versions": [{"version_id": "0199f2c4-0000-7000-8000-00000000000d", "sequence": "Our sequence", "number": 1}],
    "school": {"name": null, "pupils": 200, "checked": 191, "median_check_age_days": 6,
        "gpcs": {"taught": 4210, "secure": 2801, "not_yet_secure": 1105, "right_so_far": 640, "unknown": 304, "secure_percent": 72},
        "carried_in": {"taught": 900, "secure": 12, "not_yet_secure": 28, "right_so_far": 20, "unknown": 860, "secure_percent": 30},
        "carried_in_answers": 160,
        "words": {"offered": 3104, "right": 2280, "right_percent": 73}, "read_with_care": false},
    "year_groups": [], "classes": []
}))]
pub struct AttainmentBody {
    /// The half term.
    pub half_term_id: HalfTermId,
    /// Its name.
    pub half_term: String,
    /// The day the figures are of.
    pub as_of: Date,
    /// What "secure" means here. A working rule, no validated threshold.
    pub secure_means: SecureBasis,
    /// For whom: always `internal` here.
    pub audience: String,
    /// To be shown with the figures.
    pub caution: String,
    /// The rule pack's cautions, to be shown with the figures.
    pub cautions: Vec<String>,
    /// The sequence versions the lessons were taught from.
    pub versions: Vec<VersionUsed>,
    /// The figures.
    #[serde(flatten)]
    pub figures: Figures,
}

/// Attainment of a half term by class and year group
///
/// Counts beside percentages, unknown apart from not secure, with how many pupils were
/// checked and how long ago. What was carried in from before the records here, and taught by no
/// lesson since, is counted apart. Exact and therefore internal; its reading is written to the
/// audit log.
#[utoipa::path(
    tag = "reports", operation_id = "get_attainment_report", params(AttainmentQuery),
    responses((status = 200, description = "The report", body = AttainmentBody), ReadProblems)
)]
#[get("/reports/attainment")]
pub async fn get_attainment_report(caller: Caller, query: Query<AttainmentQuery>) -> Result<Reply, Problem> {
    let AttainmentQuery { half_term_id, as_of } = query.into_inner();
    caller
        .read_logged("report.attainment", move |tx| {
            let permit = tx.permit::<Read, _>(SchoolReport)?;
            let (half_term, as_of) = half_term_and_day(tx, half_term_id, as_of)?;
            let rules = tx.rules()?;
            let facts = tx.report_facts(&permit, &half_term, as_of)?;
            let order: Vec<String> = rules.year_groups.iter().map(|year| year.name.clone()).collect();
            let secure = rules.attainment.secure;
            let report = attainment_report(&facts.pupils, &order, &secure, rules.read_with_care_below, as_of)
                .for_internal_reader(permit.grant(), &rules.disclosure.internal);
            Reply::ok(&AttainmentBody {
                half_term_id: half_term.id,
                half_term: half_term.name.to_string(),
                as_of,
                secure_means: (&secure).into(),
                audience: report.audience.to_string(),
                caution: report.caution,
                cautions: rules.cautions.iter().map(|caution| caution.text.clone()).collect(),
                versions: facts.versions,
                figures: report.figures,
            })
        })
        .await
}
