//! DELETE /struck-words/{id}

use actix_web::{delete, web};
use plumbline_core::{
    access::{act::Manage, resource::SchoolWords},
    id::StruckWordId,
};

use crate::http::{caller::Caller, problem::Problem, problems::ActProblems, reply::Reply};

/// Take a strike back
#[utoipa::path(
    tag = "words", operation_id = "remove_struck_word",
    params(("id" = StruckWordId, Path, description = "The strike")),
    responses((status = 204, description = "The word may be shown again"), ActProblems)
)]
#[delete("/struck-words/{id}")]
pub async fn remove_struck_word(caller: Caller, id: web::Path<StruckWordId>) -> Result<Reply, Problem> {
    caller
        .write("struck_word.remove", move |tx| {
            let permit = tx.permit::<Manage, _>(SchoolWords)?;
            tx.remove_strike(&permit, *id)?;
            Ok(Reply::nothing())
        })
        .await
}
