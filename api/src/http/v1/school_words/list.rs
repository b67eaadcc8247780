//! GET /school-words

use actix_web::get;
use plumbline_core::access::{act::Read, resource::SchoolWords};

use super::{SchoolWordBody, body};
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// List the school's own words
#[utoipa::path(
    tag = "words", operation_id = "list_school_words",
    responses((status = 200, description = "By spelling", body = Page<SchoolWordBody>), ReadProblems)
)]
#[get("/school-words")]
pub async fn list_school_words(caller: Caller) -> Result<Reply, Problem> {
    let engine = caller.engine().await?;
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(SchoolWords)?;
            let accent = tx.phonics_policy(&permit)?.0.accent;
            let words = tx.school_words(&permit)?;
            let words: Vec<_> = words.into_iter().map(|row| body(&engine, accent, row)).collect();
            Reply::ok(&Page::whole(words))
        })
        .await
}
