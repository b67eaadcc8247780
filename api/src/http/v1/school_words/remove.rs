//! DELETE /school-words/{id}

use actix_web::{delete, web};
use plumbline_core::{
    access::{act::Manage, resource::SchoolWords},
    id::SchoolWordId,
};

use super::at;
use crate::http::{
    caller::{Caller, same_version},
    problem::Problem,
    problems::ActProblems,
    reply::Reply,
};

/// Take one of the school's own words out
///
/// The lexicon's own reading counts again, if it has the word.
#[utoipa::path(
    tag = "words", operation_id = "remove_school_word",
    params(("id" = SchoolWordId, Path, description = "The word"),
           ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 204, description = "Taken out"), ActProblems)
)]
#[delete("/school-words/{id}")]
pub async fn remove_school_word(caller: Caller, id: web::Path<SchoolWordId>) -> Result<Reply, Problem> {
    let base = caller.base_version();
    caller
        .write("school_word.remove", move |tx| {
            let permit = tx.permit::<Manage, _>(SchoolWords)?;
            let base = same_version(tx.school_word(&permit, *id)?.v, base)?;
            tx.remove_school_word(&permit, *id, base)?;
            tx.forget_answers(&permit, &at(*id))?;
            Ok(Reply::nothing())
        })
        .await
}
