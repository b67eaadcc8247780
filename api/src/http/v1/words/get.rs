//! GET /words/{word}

use actix_web::{get, web};
use plumbline_core::access::{act::Read, resource::Words};

use super::WordBody;
use crate::http::{
    caller::{Caller, blocking},
    problem::Problem,
    problems::ReadProblems,
    reply::Reply,
    words::school::SchoolEngine,
};

/// Get a word with its readings
///
/// A word in no list is segmented by rule and marked as a guess.
#[utoipa::path(
    tag = "words", operation_id = "get_word", params(("word" = String, Path, description = "The word")),
    responses((status = 200, description = "The word", body = WordBody), ReadProblems)
)]
#[get("/words/{word}")]
pub async fn get_word(caller: Caller, word: web::Path<String>) -> Result<Reply, Problem> {
    let SchoolEngine { engine, policy } = caller.words().await?;
    caller.may::<Read, _>(Words).await?;
    let word = word.into_inner();
    blocking(move || {
        let found = engine.segment(&word, policy.accent).map_err(|error| Problem::field("word", error))?;
        Reply::ok(&WordBody::new(word, found))
    })
    .await
}
