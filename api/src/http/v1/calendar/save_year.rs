//! PUT /school-years/{year}

use actix_web::{put, web};
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::Calendar,
    },
    calendar::{CalendarError, HalfTermPlan, YearPlan, check_year},
    text::Title,
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{YearBody, recorded};
use crate::http::{
    body::Body,
    caller::{Caller, same_version},
    problem::Problem,
    problems::EditProblems,
    reply::Reply,
};

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
    /// Half terms in order; the days between them are holidays. One that keeps its name, however it is written, keeps
    /// its id.
    pub half_terms: Vec<SaveHalfTerm>,
    /// Whether days become holidays of which lessons are on record.
    #[serde(default)]
    pub with_records: bool,
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
/// A new year needs no If-Match; a known one does. Where lessons are on record of days that would no longer be taught,
/// it is refused naming groups and days unless `with_records` is said; the records stay.
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
    let base = caller.base_version();
    let with_records = body.value.with_records;
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
                same_version(saved.v, base)?;
            }
            let others: Vec<_> = known.into_iter().map(|saved| saved.year).collect();
            check_year(&plan, year, &others)?;
            let after = tx.calendar()?.with_year(year, &plan);
            if after.all_closed().contains(&year) {
                return Err(CalendarError::AllClosed.into());
            }
            recorded(tx, &permit, &after, with_records)?;
            let saved = tx.save_year(&permit, year, &plan)?;
            let v = saved.v;
            Ok(Reply::ok(&YearBody::from(saved))?.version(v))
        })
        .await
}
