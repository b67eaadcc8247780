//! PUT /groups/{id}/pace-plan

use actix_web::{put, web};
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::{Group, GroupPace},
    },
    id::GroupId,
    pace::Plan,
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::PlanBody;
use crate::http::{
    body::Body,
    caller::{Caller, same_version},
    problem::Problem,
    problems::EditProblems,
    reply::Reply,
};

/// A plan to save.
#[derive(Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"from": "2026-11-30", "lessons": 4, "days": 5}))]
pub struct SavePlan {
    /// First day; today unless told. Counting begins anew on it, so that a new plan finds nobody behind.
    #[serde(default)]
    pub from: Option<Date>,
    /// Lessons, at most 9 a teaching day.
    pub lessons: u32,
    /// In so many teaching days of the group, 1 to 400.
    pub days: u32,
}

/// Plan how fast a group is to go from a day on
///
/// So many lessons in so many of its teaching days: a closed day moves what comes after it and puts nobody
/// behind. Plans made for that day or later ones are replaced; the days before keep theirs. A first plan needs no
/// If-Match, a later one does.
#[utoipa::path(
    tag = "pace", operation_id = "save_pace_plan", request_body = SavePlan,
    params(("id" = GroupId, Path, description = "The group"),
           ("If-Match" = Option<String>, Header, description = "The ETag read, where there is a plan")),
    responses((status = 200, description = "The plan; ETag", body = PlanBody), EditProblems)
)]
#[put("/groups/{id}/pace-plan")]
pub async fn save_pace_plan(
    caller: Caller,
    id: web::Path<GroupId>,
    body: Body<SavePlan>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    let SavePlan { from, lessons, days } = body.value;
    caller
        .write("group.save_pace_plan", move |tx| {
            let permit = tx.permit::<Manage, _>(GroupPace(*id))?;
            if let Some(saved) = tx.latest_plan(&permit)? {
                same_version(saved.v, base)?;
            }
            let today = tx.today();
            let from = from.unwrap_or(today);
            if tx.calendar()?.year_of(from).is_none() {
                return Err(Problem::field("from", "is in no school year of the calendar"));
            }
            let group = tx.permit::<Read, _>(Group(*id))?;
            if let Some(last) = tx.group(&group)?.closed_on.filter(|last| *last < from) {
                return Err(Problem::field("from", format!("the group's last day is {last}")));
            }
            let plan = Plan::new(from, lessons, days)
                .map_err(|error| Problem::field(error.field(), error.to_string()))?;
            let saved = tx.save_plan(&permit, plan)?;
            Ok(Reply::ok(&PlanBody::of(Some(saved), &tx.rules()?.pace))?.version(saved.v))
        })
        .await
}
