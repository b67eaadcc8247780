//! PUT /books/{id}

use actix_web::{put, web};
use plumbline_core::{
    access::{act::Manage, resource::Book},
    id::BookId,
};

use super::{BookBody, NewBook, fits, room_of, taken};
use crate::http::{
    body::Body,
    caller::{Caller, blocking, same_version},
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
    let base = caller.base_version();
    let new = body.value;
    let book = blocking(move || new.checked()).await?;
    caller
        .write("book.save", move |tx| {
            let permit = tx.permit::<Manage, _>(Book(*id))?;
            let old = tx.book(&permit)?;
            let base = same_version(old.v, base)?;
            fits(tx.book_room(&permit)?, room_of([book.text.as_str()]), room_of([old.words.as_str()]))?;
            let row = tx.change_book(&permit, &book, base).map_err(taken)?;
            Ok(Reply::ok(&BookBody::of(&row)?)?.version(row.v))
        })
        .await
}
