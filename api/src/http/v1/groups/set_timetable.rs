//! PUT /groups/{id}/timetable

use actix_web::{put, web};
use plumbline_core::{
    access::{act::Manage, resource::Group},
    calendar::{Slot, TimetableLine, check_timetable},
    id::GroupId,
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::timetable::{TimetableBody, whole};
use crate::http::{
    body::Body,
    caller::{Caller, same_version},
    problem::Problem,
    problems::EditProblems,
    reply::Reply,
};

/// Weekly lessons.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"from": "2026-11-30", "slots": [
    {"weekday": "monday", "part": "morning", "starts_at": "09:00", "minutes": 30},
    {"weekday": "thursday", "part": "afternoon"}]}))]
pub struct SetTimetable {
    /// First day; today unless told. The days before, and those from a later line on, stay as they were.
    #[serde(default)]
    pub from: Option<Date>,
    /// The lessons by day; null for one lesson on every teaching day. Must be said.
    #[serde(deserialize_with = "Option::deserialize")]
    #[schema(required)]
    pub slots: Option<Vec<Slot>>,
}

/// Say which weekly lessons a group has from a day on
///
/// Times are those of the clock at the school, so that a change of the clocks changes nothing. A lesson on a
/// weekday that is never taught is kept and told.
#[utoipa::path(
    tag = "groups", operation_id = "set_group_timetable", request_body = SetTimetable,
    params(("id" = GroupId, Path, description = "The group"), ("If-Match" = String, Header, description = "The group's ETag")),
    responses((status = 200, description = "The timetable as it is now; ETag", body = TimetableBody), EditProblems)
)]
#[put("/groups/{id}/timetable")]
pub async fn set_group_timetable(
    caller: Caller,
    id: web::Path<GroupId>,
    body: Body<SetTimetable>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    caller
        .write("group.set_timetable", move |tx| {
            let permit = tx.permit::<Manage, _>(Group(*id))?;
            let group = tx.group(&permit)?;
            same_version(group.v, base)?;
            let from = body.value.from.unwrap_or(tx.today());
            if group.closed_on.is_some_and(|last| last < from) {
                return Err(Problem::field("from", "the group was closed before that day"));
            }
            let line = TimetableLine { from, slots: body.value.slots.clone() };
            let line = check_timetable(&tx.group_calendar(&permit)?, line, &tx.rules()?.school_day)?;
            let row = tx.set_timetable(&permit, &line)?;
            whole(tx, &permit, &row)
        })
        .await
}
