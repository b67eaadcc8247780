//! GET /groups/{id}/next-items

use actix_web::{get, web};
use plumbline_core::{
    access::{
        act::Read,
        resource::{Group, GroupChecks},
    },
    attainment::back_on,
    id::GroupId,
};

use super::{NextItems, NextQuery, chosen};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply};

/// What to ask a group next
///
/// One set for all of today's members, each asked what was taught to that pupil: the GPCs that are worth most for all
/// together, as for one pupil. The minutes are those of one pupil; holidays are those of the group's own calendar.
#[utoipa::path(
    tag = "attainment", operation_id = "get_group_next_items",
    params(("id" = GroupId, Path, description = "The group"), NextQuery),
    responses((status = 200, description = "What to ask", body = NextItems), ReadProblems)
)]
#[get("/groups/{id}/next-items")]
pub async fn get_group_next_items(
    caller: Caller,
    id: web::Path<GroupId>,
    query: Query<NextQuery>,
) -> Result<Reply, Problem> {
    let (group, query) = (*id, query.check()?);
    let (facts, rule, on, there, calendar) = caller
        .read_logged("group.read_next_items", move |tx| {
            let permit = tx.permit::<Read, _>(GroupChecks(group))?;
            let facts = tx.group_attainment(&permit)?;
            let own = tx.permit::<Read, _>(Group(group))?;
            let calendar = tx.group_calendar(&own)?;
            Ok((facts, &tx.rules()?.attainment, tx.today(), tx.answers_there(&permit)?, calendar))
        })
        .await?;
    let fitted = caller.estimate_values(GroupChecks(group), &rule.estimate, there).await?;
    caller
        .compute(move || {
            let back_on = back_on(&calendar, on, rule.asking.holiday_days);
            Reply::ok(&chosen(&facts, rule, &fitted, query, (on, back_on)))
        })
        .await
}
