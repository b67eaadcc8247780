//! POST /books

use actix_web::post;
use plumbline_core::{
    access::{act::Manage, resource::Books},
    book::Room,
};

use super::{BookBody, NewBook, fits, room_of, taken};
use crate::http::{
    body::Body,
    caller::{Caller, blocking},
    problem::Problem,
    problems::CreateProblems,
    reply::Reply,
};

/// Add a reading book
///
/// Give its words or its running text, and no more of it than matching needs: who may publish a
/// book's words is a matter of its copyright, and they are shown only to those who may change them.
/// A text may have 100,000 bytes; a whole body, like any other here, one mebibyte unless the server
/// is set otherwise.
#[utoipa::path(
    tag = "books", operation_id = "add_book", request_body = NewBook,
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Added; ETag", body = BookBody), CreateProblems)
)]
#[post("/books")]
pub async fn add_book(caller: Caller, body: Body<NewBook>) -> Result<Reply, Problem> {
    let new = body.value;
    let book = blocking(move || new.checked()).await?;
    caller
        .create("book.add", body.hash, move |tx| {
            let permit = tx.permit::<Manage, _>(Books)?;
            fits(tx.book_room(&permit)?, room_of([book.text.as_str()]), Room::default())?;
            let row = tx.add_book(&permit, &book).map_err(taken)?;
            Ok(Reply::created(format!("/api/v1/books/{}", row.id), &BookBody::of(&row)?)?.version(row.v))
        })
        .await
}
