//! GET /trust-comparison

use actix_web::get;
use plumbline_core::{
    access::{act::Read, resource::TrustReports},
    calendar::Year,
    text::{Title, one_name},
    trust::{Comparison, Member, Shared, compare},
};
use serde::Deserialize;
use utoipa::IntoParams;

use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply};

/// Of when.
#[derive(Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct TrustComparisonQuery {
    /// The calendar year in which the school year starts.
    pub school_year: i32,
    /// The half term's name.
    #[param(value_type = String, example = "Autumn 2")]
    pub half_term: Title,
}

/// Compare the schools of the trust
///
/// Those that share a sequence, or have mapped theirs on to it, stand side by side by name: with each figure how many pupils
/// it is about, of how many is known, its interval where that is told, and its day. What was left out of a release is left
/// out here. Every other school is named with the reason. A school year or half term that neither the trust's calendar has nor
/// anything that was shown is refused. The reading is written to the audit log.
#[utoipa::path(
    tag = "trust", operation_id = "compare_trust_schools", params(TrustComparisonQuery),
    responses((status = 200, description = "The schools", body = Comparison), ReadProblems)
)]
#[get("/trust-comparison")]
pub async fn compare_trust_schools(
    caller: Caller,
    query: Query<TrustComparisonQuery>,
) -> Result<Reply, Problem> {
    let query = query.into_inner();
    let school_year = query.school_year;
    let (schools, own, shown, rules) = caller
        .read_logged("trust_release.compare", move |tx| {
            let permit = tx.permit::<Read, _>(TrustReports)?;
            let years = tx.calendar()?.years;
            let own = years.into_iter().find(|year| year.year == school_year);
            let shown = tx.shown_to_trust(&permit, Some(school_year))?;
            Ok((tx.trust_schools(&permit)?, own, shown, tx.rules()?))
        })
        .await?;
    let work = move || {
        let members: Vec<Member> = (schools.into_iter())
            .map(|school| Member { school_id: school.member_id, name: school.name })
            .collect();
        let shared: Result<Vec<Shared>, _> =
            shown.iter().map(|one| serde_json::from_str(&one.body)).collect();
        let shared = shared?;
        there_is(&query, own.as_ref(), &shared)?;
        let seen = compare((query.school_year, query.half_term.as_str()), &members, &shared, rules);
        Reply::ok(&seen)
    };
    caller.compute(work).await
}

/// Whether the trust's own calendar has the half term, or something was shown of it.
fn there_is(query: &TrustComparisonQuery, own: Option<&Year>, shown: &[Shared]) -> Result<(), Problem> {
    if own.is_none() && shown.is_empty() {
        let unknown = "the calendar here has no such school year, and no school showed anything of it";
        return Err(Problem::field("school_year", unknown));
    }
    let planned = own.into_iter().flat_map(|year| &year.half_terms).map(|term| term.name.as_str());
    if planned.chain(shown.iter().map(Shared::half_term)).any(|name| one_name(name, query.half_term.as_str()))
    {
        return Ok(());
    }
    let unknown = "the calendar here has no half term of this name in that year, and no school showed one";
    Err(Problem::field("half_term", unknown))
}
