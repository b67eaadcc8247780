//! DELETE /closures/{id}

use actix_web::{delete, web};
use plumbline_core::{
    access::{act::Manage, resource::Calendar},
    id::ClosureId,
};

use crate::http::{caller::Caller, problem::Problem, problems::ActProblems, reply::Reply};

/// Take a closure back
///
/// All of it; that it was there stays readable.
#[utoipa::path(
    tag = "calendar", operation_id = "remove_closure", params(("id" = ClosureId, Path, description = "The closure")),
    responses((status = 204, description = "The days are what they were"), ActProblems)
)]
#[delete("/closures/{id}")]
pub async fn remove_closure(caller: Caller, id: web::Path<ClosureId>) -> Result<Reply, Problem> {
    caller
        .write("calendar.remove_closure", move |tx| {
            let permit = tx.permit::<Manage, _>(Calendar)?;
            tx.remove_closure(&permit, *id)?;
            Ok(Reply::nothing())
        })
        .await
}
