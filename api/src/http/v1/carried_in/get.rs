//! GET /groups/{id}/carried-in

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::GroupPast},
    id::GroupId,
};

use super::{CarriedInBody, reply};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Get what a group was taught before its records here begin
///
/// The reading is written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "carried in", operation_id = "get_carried_in", params(("id" = GroupId, Path, description = "The group")),
    responses((status = 200, description = "What was carried in; ETag", body = CarriedInBody), ReadProblems)
)]
#[get("/groups/{id}/carried-in")]
pub async fn get_carried_in(caller: Caller, id: web::Path<GroupId>) -> Result<Reply, Problem> {
    caller
        .read_logged("group.read_carried_in", move |tx| {
            let permit = tx.permit::<Read, _>(GroupPast(*id))?;
            reply(tx, &permit)
        })
        .await
}
