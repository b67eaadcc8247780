//! POST /sync/held-ops/{id}/discard

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Manage, resource::HeldOps},
    id::OpId,
};

use crate::http::{caller::Caller, problem::Problem, problems::ActProblems, reply::Reply};

/// Discard what a revoked tablet sent
///
/// It is gone for good.
#[utoipa::path(
    tag = "sync", operation_id = "discard_held_op", params(("id" = OpId, Path, description = "The operation")),
    responses((status = 204, description = "Discarded"), ActProblems)
)]
#[post("/sync/held-ops/{id}/discard")]
pub async fn discard_held_op(caller: Caller, id: web::Path<OpId>) -> Result<Reply, Problem> {
    caller
        .write("held_op.discard", move |tx| {
            let permit = tx.permit::<Manage, _>(HeldOps)?;
            tx.drop_held_op(&permit, *id)?;
            Ok(Reply::nothing())
        })
        .await
}
