//! PUT /school-years/{year}

use actix_web::{put, web};
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::Calendar,
    },
    calendar::{HalfTermPlan, YearPlan, check_year},
    text::Title,
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::YearBody;
use crate::http::{body::Body, caller::Caller, problem::Problem, problems::EditProblems, reply::Reply};

/// A school year to save.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "starts_on": "2026-09-01", "ends_on": "2027-08-31",
    "half_terms": [{"name": "Autumn 1", "starts_on": "2026-09-01", "ends_on": "2026-10-23"},
                   {"name": "Autumn 2", "starts_on": "2026-11-02", "ends_on": "2026-12-18"}]
}))]
pub struct SaveYear {
    /// First day.
    pub starts_on: Date,
    /// Last day.
    pub ends_on: Date,
    /// Half terms in order; the days between them are holidays. One that keeps its name keeps its id.
    pub half_terms: Vec<SaveHalfTerm>,
}

/// A half term to save.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SaveHalfTerm {
    /// As shown; each name once a year.
    pub name: Title,
    /// First day.
    pub starts_on: Date,
    /// Last day.
    pub ends_on: Date,
}

/// Save a school year with its half terms
///
/// A new year needs no If-Match; a known one does.
#[utoipa::path(
    tag = "calendar", operation_id = "save_school_year", request_body = SaveYear,
    params(("year" = i32, Path, description = "The calendar year it starts in"),
           ("If-Match" = Option<String>, Header, description = "The etag read, for a known year")),
    responses((status = 200, description = "As it is now; ETag", body = YearBody), EditProblems)
)]
#[put("/school-years/{year}")]
pub async fn save_school_year(
    caller: Caller,
    year: web::Path<i32>,
    body: Body<SaveYear>,
) -> Result<Reply, Problem> {
    let same_version = caller.same_version_if_known();
    let plan = YearPlan {
        starts_on: body.value.starts_on,
        ends_on: body.value.ends_on,
        half_terms: body
            .value
            .half_terms
            .into_iter()
            .map(|term| HalfTermPlan { name: term.name, starts_on: term.starts_on, ends_on: term.ends_on })
            .collect(),
    };
    let year = *year;
    caller
        .write("calendar.save_year", move |tx| {
            let permit = tx.permit::<Manage, _>(Calendar)?;
            let reading = tx.permit::<Read, _>(Calendar)?;
            let known = tx.school_years(&reading)?;
            if let Some(saved) = known.iter().find(|saved| saved.year.year == year) {
                same_version(saved.v)?;
            }
            let others: Vec<_> = known.into_iter().map(|saved| saved.year).collect();
            check_year(&plan, year, &others)?;
            let saved = tx.save_year(&permit, year, &plan)?;
            let v = saved.v;
            Ok(Reply::ok(&YearBody::from(saved))?.version(v))
        })
        .await
}
