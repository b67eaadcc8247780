//! POST /pupils/{id}/earlier-statutory-results

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Manage, resource::EarlierResults},
    id::{EarlierResultId, PupilId},
    statutory::read_result,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
    },
    store::ResultSource,
};

/// A result to bring in.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"year": 2026, "term": "summer", "result": "19", "source": "another_school"}))]
pub struct NewEarlierResult {
    /// The calendar year of the check.
    pub year: i32,
    /// The code of one of the rule pack's terms.
    pub term: String,
    /// A mark, or one of the rule pack's codes in its place.
    pub result: String,
    /// Where it comes from.
    pub source: ResultSource,
}

/// That it was brought in.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"id": "0199f2c4-0000-7000-8000-000000000042"}))]
pub struct EarlierResultAdded {
    /// Its id.
    pub id: EarlierResultId,
}

/// Bring in a result of a pupil from another school or from before the records here
///
/// One of a year and term; to put it right, take it away and bring it in anew. It stands apart from results taken here,
/// with where it comes from, and what it comes to is worked out like that of any other.
#[utoipa::path(
    tag = "statutory check", operation_id = "add_earlier_statutory_result", request_body = NewEarlierResult,
    params(("id" = PupilId, Path, description = "The pupil"),
           ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Brought in; ETag", body = EarlierResultAdded), CreateProblems)
)]
#[post("/pupils/{id}/earlier-statutory-results")]
pub async fn add_earlier_statutory_result(
    caller: Caller,
    id: web::Path<PupilId>,
    body: Body<NewEarlierResult>,
) -> Result<Reply, Problem> {
    let (id, new) = (*id, body.value);
    caller
        .create("earlier_statutory_result.add", body.hash, move |tx| {
            let permit = tx.permit::<Manage, _>(EarlierResults(id))?;
            let rule = &tx.rules()?.statutory_check;
            if rule.term(&new.term).is_none() {
                let known: Vec<&str> = rule.terms.iter().map(|term| term.code.as_str()).collect();
                return Err(Problem::field("term", format!("must be one of: {}", known.join(", "))));
            }
            let this_year = tx.today().format("%Y").to_string().parse().unwrap_or(i32::MAX);
            if !(2000..=this_year).contains(&new.year) {
                return Err(Problem::field("year", format!("must be 2000 to {this_year}")));
            }
            let read = read_result(&new.result, rule).map_err(|error| Problem::field("result", error))?;
            let result = read.ok_or_else(|| Problem::field("result", "is needed: a mark or a code"))?;
            let known = tx.earlier_results(&permit)?;
            if known.iter().any(|row| (row.year, &row.term) == (new.year, &new.term)) {
                let message = "has a result brought in for this year already: take that away first";
                return Err(Problem::field("term", message).with_code(Code::Conflict));
            }
            let row = tx.bring_in_result(&permit, (new.year, &new.term), &result, new.source)?;
            let at = format!("/api/v1/pupils/{id}/earlier-statutory-results");
            let added = EarlierResultAdded { id: row.id };
            Ok(Reply::created(at, &added)?.version(row.v))
        })
        .await
}
