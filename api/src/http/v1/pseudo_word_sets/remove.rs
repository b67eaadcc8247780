//! DELETE /pseudo-word-sets/{id}

use actix_web::{delete, web};
use plumbline_core::{
    access::{act::Manage, resource::SchoolWords},
    id::PseudoWordSetId,
};

use crate::http::{
    caller::{Caller, same_version},
    problem::Problem,
    problems::ActProblems,
    reply::Reply,
};

/// Take a set of pseudo-words away
///
/// Checks made of it keep their words.
#[utoipa::path(
    tag = "words", operation_id = "remove_pseudo_word_set",
    params(("id" = PseudoWordSetId, Path, description = "The set"),
           ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 204, description = "Taken away"), ActProblems)
)]
#[delete("/pseudo-word-sets/{id}")]
pub async fn remove_pseudo_word_set(
    caller: Caller,
    id: web::Path<PseudoWordSetId>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    caller
        .write("pseudo_word_set.remove", move |tx| {
            let permit = tx.permit::<Manage, _>(SchoolWords)?;
            let base = same_version(tx.pseudo_word_set(&permit, *id)?.v, base)?;
            tx.remove_pseudo_word_set(&permit, *id, base)?;
            Ok(Reply::nothing())
        })
        .await
}
