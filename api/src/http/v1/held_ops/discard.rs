//! POST /sync/held-ops/{replica_id}/{n}/discard

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Manage, resource::HeldOps},
    id::ReplicaId,
};

use crate::http::{caller::Caller, problem::Problem, problems::ActProblems, reply::Reply};

/// Discard what a revoked tablet sent
///
/// It is gone for good.
#[utoipa::path(
    tag = "sync", operation_id = "discard_held_op", 
    params(("replica_id" = ReplicaId, Path, description = "The replica that sent it"),
           ("n" = i64, Path, description = "Its number there")),
    responses((status = 204, description = "Discarded"), ActProblems)
)]
#[post("/sync/held-ops/{replica_id}/{n}/discard")]
pub async fn discard_held_op(caller: Caller, of: web::Path<(ReplicaId, i64)>) -> Result<Reply, Problem> {
    caller
        .write("held_op.discard", move |tx| {
            let permit = tx.permit::<Manage, _>(HeldOps)?;
            tx.drop_held_op(&permit, *of)?;
            Ok(Reply::nothing())
        })
        .await
}
