//! GET /groups/{id}/timetable

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Group},
    calendar::{TimetableLine, never_taught},
    id::GroupId,
    roster::Weekday,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply},
    store::{GroupRow, Permit, Tx},
};

/// The weekly lessons of a group.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "group_id": "0199f2c4-0000-7000-8000-000000000008", "lines": [{"from": "2026-09-01", "never_taught": [],
        "slots": [{"weekday": "monday", "part": "morning", "starts_at": "09:00", "minutes": 30}]}]
}))]
pub struct TimetableBody {
    /// The group.
    pub group_id: GroupId,
    /// What counts from which day on, earliest first. Where there is nothing yet: one lesson on every teaching day.
    pub lines: Vec<TimetableLineBody>,
}

/// The weekly lessons of a group from a day on, until the next line.
#[derive(Serialize, ToSchema)]
pub struct TimetableLineBody {
    /// What is said.
    #[serde(flatten)]
    pub line: TimetableLine,
    /// Weekdays of these lessons that hold no teaching day of the group for the rest of that school year.
    pub never_taught: Vec<Weekday>,
}

/// A group's timetable as it is.
pub(super) fn whole<'tx, A>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, A, Group>,
    row: &GroupRow,
) -> Result<Reply, Problem> {
    let calendar = tx.group_calendar(permit)?;
    let line = |line| TimetableLineBody { never_taught: never_taught(&calendar, &line), line };
    let lines = tx.timetable(permit)?.into_iter().map(line).collect();
    Ok(Reply::ok(&TimetableBody { group_id: row.id, lines })?.version(row.v))
}

/// Get a group's timetable
#[utoipa::path(
    tag = "groups", operation_id = "get_group_timetable", params(("id" = GroupId, Path, description = "The group")),
    responses((status = 200, description = "The weekly lessons; ETag, which is the group's", body = TimetableBody), ReadProblems)
)]
#[get("/groups/{id}/timetable")]
pub async fn get_group_timetable(caller: Caller, id: web::Path<GroupId>) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Group(*id))?;
            let row = tx.group(&permit)?;
            whole(tx, &permit, &row)
        })
        .await
}
