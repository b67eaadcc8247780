//! GET /groups/{id}/cover-page

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Group},
    id::{GroupId, StaffId},
    time::Date,
};
use serde::Deserialize;
use utoipa::IntoParams;

use super::{CoverPageBody, answer, load, make};
use crate::http::{
    caller::{Caller, blocking},
    problem::Problem,
    problems::ReadProblems,
    query::Query,
    reply::Reply,
    sheets::PageFormat,
};

/// Which day, and as what.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct CoverPageQuery {
    /// The day; today unless told.
    pub on: Option<Date>,
    /// The adult of the group who is away: not listed under who else is there.
    pub away: Option<StaffId>,
    /// `json` unless told; `html` to print.
    #[serde(default)]
    #[param(inline)]
    pub format: PageFormat,
}

/// A group's cover page for one day
///
/// One side of paper for somebody who teaches the group that day: the lessons of its timetable with their
/// words, who is due, who else is there, what to do at the end; on a day without a lesson it says so. Where
/// somebody whose role is to cover has the group that day, who teaches it as a rule is taken to be away. No
/// checks, no history and no dates of birth. The reading is written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "cover", operation_id = "get_cover_page", params(("id" = GroupId, Path, description = "The group"), CoverPageQuery),
    responses((status = 200, description = "The page", content(
        (CoverPageBody = "application/json"),
        (String = "text/html", example = "<!doctype html><html lang=\"en\"><title>Cover page</title></html>")
    )), ReadProblems)
)]
#[get("/groups/{id}/cover-page")]
pub async fn get_cover_page(
    caller: Caller,
    id: web::Path<GroupId>,
    query: Query<CoverPageQuery>,
) -> Result<Reply, Problem> {
    let (id, on, away, format) = (*id, query.on, query.away, query.format);
    caller.may::<Read, _>(Group(id)).await?;
    let school = caller.words().await?;
    let facts = caller.read_logged("cover_page.read", move |tx| load(tx, id, on, away)).await?;
    blocking(move || answer(&make(&school, facts), format)).await
}
