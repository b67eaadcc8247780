//! GET /pseudo-word-sets/{id}

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::SchoolWords},
    id::PseudoWordSetId,
};

use super::{SetBody, body, judged};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Get a set of pseudo-words with their readings
#[utoipa::path(
    tag = "words", operation_id = "get_pseudo_word_set",
    params(("id" = PseudoWordSetId, Path, description = "The set")),
    responses((status = 200, description = "The set", body = SetBody), ReadProblems)
)]
#[get("/pseudo-word-sets/{id}")]
pub async fn get_pseudo_word_set(caller: Caller, id: web::Path<PseudoWordSetId>) -> Result<Reply, Problem> {
    let words = caller.words().await?;
    let row = caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(SchoolWords)?;
            Ok(tx.pseudo_word_set(&permit, *id)?)
        })
        .await?;
    caller.compute(move || Ok(Reply::ok(&body(&row, judged(&words, row.words()?)))?.version(row.v))).await
}
