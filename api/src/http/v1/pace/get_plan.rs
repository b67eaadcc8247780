//! GET /groups/{id}/pace-plan

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::GroupPace},
    id::GroupId,
};

use super::PlanBody;
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Get the plan made last for a group
///
/// The one that counts today, or one made for a day to come. Only a plan somebody chose has an ETag.
#[utoipa::path(
    tag = "pace", operation_id = "get_pace_plan", params(("id" = GroupId, Path, description = "The group")),
    responses((status = 200, description = "The plan; ETag", body = PlanBody), ReadProblems)
)]
#[get("/groups/{id}/pace-plan")]
pub async fn get_pace_plan(caller: Caller, id: web::Path<GroupId>) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(GroupPace(*id))?;
            let saved = tx.latest_plan(&permit)?;
            let reply = Reply::ok(&PlanBody::of(saved, &tx.rules()?.pace))?;
            Ok(match saved {
                Some(saved) => reply.version(saved.v),
                None => reply,
            })
        })
        .await
}
