//! DELETE /books/{id}

use actix_web::{delete, web};
use plumbline_core::{
    access::{act::Manage, resource::Book},
    id::BookId,
};

use crate::http::{
    caller::{Caller, same_version},
    problem::Problem,
    problems::ActProblems,
    reply::Reply,
};

/// Remove a reading book
///
/// Its words are gone with it; the history keeps its title and that it was there.
#[utoipa::path(
    tag = "books", operation_id = "remove_book",
    params(("id" = BookId, Path, description = "The book"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 204, description = "Removed"), ActProblems)
)]
#[delete("/books/{id}")]
pub async fn remove_book(caller: Caller, id: web::Path<BookId>) -> Result<Reply, Problem> {
    let base = caller.base_version();
    caller
        .write("book.remove", move |tx| {
            let permit = tx.permit::<Manage, _>(Book(*id))?;
            let base = same_version(tx.book(&permit)?.v, base)?;
            tx.remove_book(&permit, base)?;
            Ok(Reply::nothing())
        })
        .await
}
