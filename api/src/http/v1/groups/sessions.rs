//! GET /groups/{id}/sessions

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Group},
    calendar::Session,
    id::GroupId,
    time::Date,
};
use serde::Deserialize;
use utoipa::IntoParams;

use crate::http::{
    caller::Caller, page::Page, problem::Problem, problems::ReadProblems, query::Query, reply::Reply,
};

/// Which days.
#[derive(Clone, Copy, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct SessionsQuery {
    /// First day.
    pub from: Date,
    /// Last day, at most 400 days later.
    pub to: Date,
}

/// List the lessons that are due for a group
///
/// By its timetable, on the days and half days that are taught to it; none after its last day, on days on
/// which it has no pupils, or on which none of them comes. Dates and times are those of the school.
#[utoipa::path(
    tag = "groups", operation_id = "list_group_sessions",
    params(("id" = GroupId, Path, description = "The group"), SessionsQuery),
    responses((status = 200, description = "In order", body = Page<Session>, example = json!({"items": [
        {"on": "2026-11-30", "slot": 1, "part": "morning", "starts_at": "09:00", "minutes": 30}], "next": null})), ReadProblems)
)]
#[get("/groups/{id}/sessions")]
pub async fn list_group_sessions(
    caller: Caller,
    id: web::Path<GroupId>,
    query: Query<SessionsQuery>,
) -> Result<Reply, Problem> {
    let SessionsQuery { from, to } = *query;
    crate::http::v1::calendar::check_days(from, to)?;
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Group(*id))?;
            Reply::ok(&Page::whole(tx.group_sessions(&permit, from, to)?))
        })
        .await
}
