//! PUT /books/{id}

use actix_web::{put, web};
use plumbline_core::{
    access::{act::Manage, resource::Book},
    id::BookId,
};

use super::{BookBody, NewBook, taken};
use crate::http::{
    body::Body,
    caller::{Caller, same_version},
    problem::Problem,
    problems::EditProblems,
    reply::Reply,
};

/// Change a reading book
#[utoipa::path(
    tag = "books", operation_id = "save_book", request_body = NewBook,
    params(("id" = BookId, Path, description = "The book"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "As it is now; ETag", body = BookBody), EditProblems)
)]
#[put("/books/{id}")]
pub async fn save_book(caller: Caller, id: web::Path<BookId>, body: Body<NewBook>) -> Result<Reply, Problem> {
    let base = caller.base_version()?;
    let new = body.value;
    caller
        .write("book.save", move |tx| {
            let permit = tx.permit::<Manage, _>(Book(*id))?;
            same_version(tx.book(&permit)?.v, base)?;
            let row = tx.change_book(&permit, &new.clone().checked()?, base).map_err(taken)?;
            Ok(Reply::ok(&BookBody::from(&row))?.version(row.v))
        })
        .await
}
