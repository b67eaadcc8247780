//! GET /struck-words

use actix_web::get;
use plumbline_core::access::{act::Read, resource::SchoolWords};

use super::StruckWordBody;
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// List the words the school struck off
#[utoipa::path(
    tag = "words", operation_id = "list_struck_words",
    responses((status = 200, description = "By spelling", body = Page<StruckWordBody>), ReadProblems)
)]
#[get("/struck-words")]
pub async fn list_struck_words(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(SchoolWords)?;
            let words: Vec<_> = tx.struck_words(&permit)?.into_iter().map(StruckWordBody::from).collect();
            Reply::ok(&Page::whole(words))
        })
        .await
}
