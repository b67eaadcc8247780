//! DELETE /groups/{id}/timetable

use actix_web::{delete, web};
use plumbline_core::{
    access::{act::Manage, resource::Group},
    id::GroupId,
    time::Date,
};
use serde::Deserialize;
use utoipa::IntoParams;

use crate::{
    http::{
        caller::{Caller, same_version},
        problem::{Code, Problem},
        problems::EditProblems,
        query::Query,
        reply::Reply,
    },
    store::Error,
};

/// Which line.
#[derive(Clone, Copy, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct TimetableLineQuery {
    /// The day from which it counts.
    pub from: Date,
}

/// Take back what was said of a group's weekly lessons from a day on
///
/// The line before counts on, or one lesson on every teaching day where there is none.
#[utoipa::path(
    tag = "groups", operation_id = "remove_group_timetable_line",
    params(("id" = GroupId, Path, description = "The group"), TimetableLineQuery,
           ("If-Match" = String, Header, description = "The group's ETag")),
    responses((status = 204, description = "Taken back"), EditProblems)
)]
#[delete("/groups/{id}/timetable")]
pub async fn remove_group_timetable_line(
    caller: Caller,
    id: web::Path<GroupId>,
    query: Query<TimetableLineQuery>,
) -> Result<Reply, Problem> {
    let (base, from) = (caller.base_version(), query.from);
    caller
        .write("group.remove_timetable_line", move |tx| {
            let permit = tx.permit::<Manage, _>(Group(*id))?;
            same_version(tx.group(&permit)?.v, base)?;
            tx.remove_timetable_line(&permit, from).map_err(|error| match error {
                Error::Missing => {
                    Problem::saying(Code::NotFound, format!("nothing is said of lessons from {from} on"))
                }
                other => other.into(),
            })?;
            Ok(Reply::nothing())
        })
        .await
}
