//! DELETE /groups/{id}/pace-plan

use actix_web::{delete, web};
use plumbline_core::{
    access::{act::Manage, resource::GroupPace},
    id::GroupId,
};

use crate::http::{
    caller::{Caller, same_version},
    problem::{Code, Problem},
    problems::ActProblems,
    reply::Reply,
};

/// Take back the plan made last for a group
///
/// The one before counts again, or the rule pack's where there is none.
#[utoipa::path(
    tag = "pace", operation_id = "remove_pace_plan",
    params(("id" = GroupId, Path, description = "The group"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 204, description = "Taken back"), ActProblems)
)]
#[delete("/groups/{id}/pace-plan")]
pub async fn remove_pace_plan(caller: Caller, id: web::Path<GroupId>) -> Result<Reply, Problem> {
    let base = caller.base_version();
    caller
        .write("group.remove_pace_plan", move |tx| {
            let permit = tx.permit::<Manage, _>(GroupPace(*id))?;
            let Some(saved) = tx.latest_plan(&permit)? else {
                return Err(Problem::saying(Code::NotFound, "no plan was made for this group"));
            };
            same_version(saved.v, base)?;
            tx.remove_plans(&permit, saved.plan.from)?;
            Ok(Reply::nothing())
        })
        .await
}
