//! GET /books/{id}

use actix_web::{get, web};
use plumbline_core::{
    access::{
        act::{Manage, Read},
        reaches_all,
        resource::Book,
    },
    id::BookId,
};

use super::BookBody;
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Get a reading book
#[utoipa::path(
    tag = "books", operation_id = "get_book", params(("id" = BookId, Path, description = "The book")),
    responses((status = 200, description = "The book; ETag", body = BookBody), ReadProblems)
)]
#[get("/books/{id}")]
pub async fn get_book(caller: Caller, id: web::Path<BookId>) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Book(*id))?;
            let row = tx.book(&permit)?;
            let body = BookBody::of(&row)?;
            let text = reaches_all::<Manage, Book>(tx.actor()).then_some(row.words);
            Ok(Reply::ok(&BookBody { text, ..body })?.version(row.v))
        })
        .await
}
