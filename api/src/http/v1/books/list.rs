//! GET /books

use actix_web::get;
use plumbline_core::{
    access::{act::Read, resource::Books},
    id::{BookId, GroupId, SequenceId, VersionId},
};
use serde::Deserialize;
use utoipa::IntoParams;

use super::BookLine;
use crate::{
    http::{
        caller::Caller,
        page::{Page, PageQuery, cut, one_more, unknown_cursor},
        problem::Problem,
        problems::ReadProblems,
        query::Query,
        reply::Reply,
        words::{book::Asked, school::SchoolEngine},
    },
    store::{BookHead, Error},
};

/// Which books, and with what to match them.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct BooksQuery {
    /// Match each with this group: the step of its sequence, and what it can read so far.
    pub group_id: Option<GroupId>,
    /// Match each with this sequence: the version in force today unless told.
    pub sequence_id: Option<SequenceId>,
    /// A published version of that sequence.
    pub sequence_version_id: Option<VersionId>,
    /// A step of the version to ask about, from 0 for before the first; the last unless told.
    pub step: Option<u16>,
    /// Where to go on: `next` of the page before.
    pub cursor: Option<String>,
    /// How many, 1 to 500, to 100 where books are matched; 100 unless told.
    #[param(minimum = 1, maximum = 500)]
    pub limit: Option<u16>,
}

/// Most books of a page that are matched.
const MOST_MATCHED: usize = 100;
/// Bytes of text after which a page that is matched ends, so that it is answered in a moment
/// whatever its books hold: a hundred books of a thousand words.
const MOST_BYTES: i64 = 500_000;

/// List the school's reading books
///
/// Their words are not in the list. With a group or a sequence each book says from which step it
/// can be read; a page of such books ends early where they are long, and `next` goes on.
#[utoipa::path(
    tag = "books", operation_id = "list_books", params(BooksQuery),
    responses((status = 200, description = "A page of books by title", body = Page<BookLine>), ReadProblems)
)]
#[get("/books")]
pub async fn list_books(caller: Caller, query: Query<BooksQuery>) -> Result<Reply, Problem> {
    let BooksQuery { group_id, sequence_id, sequence_version_id, step, cursor: from, limit } =
        query.into_inner();
    let asked = Asked { group: group_id, sequence: sequence_id, version: sequence_version_id, step };
    let page = PageQuery { cursor: from, limit };
    let (limit, after) = (page.limit()?, page.after::<BookId>()?);
    if asked.is_something() && limit > MOST_MATCHED {
        return Err(Problem::field("limit", format!("must be at most {MOST_MATCHED} to match books")));
    }
    let SchoolEngine { engine, policy } = caller.words().await?;
    let reading = engine.clone();
    let (rows, next, matched) = caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Books)?;
            let measure = asked.is_something().then(|| asked.measure(tx, &reading)).transpose()?;
            let mut rows = tx.books(&permit, after, one_more(limit)).map_err(|error| match error {
                Error::Missing => unknown_cursor(),
                other => other.into(),
            })?;
            let shown = limit.min(if measure.is_some() { in_a_moment(&rows) } else { limit });
            let next = cut(&mut rows, shown, |row| row.id);
            let matched = match measure {
                Some(measure) => Some((measure, tx.counted_books(&permit, &rows)?)),
                None => None,
            };
            Ok((rows, next, matched))
        })
        .await?;
    caller
        .compute(move || {
            let items = match matched {
                None => rows.iter().map(|row| BookLine::of(row, None)).collect(),
                Some((measure, counted)) => {
                    let read = measure.read(&engine, policy, &counted.iter().collect::<Vec<_>>());
                    let line = |(row, book)| BookLine::of(row, Some(measure.line(book)));
                    rows.iter().zip(&read).map(line).collect()
                }
            };
            Reply::ok(&Page::<BookLine> { items, next })
        })
        .await
}

/// How many books from the first on are matched in a moment: one at least.
fn in_a_moment(rows: &[BookHead]) -> usize {
    let mut bytes = 0;
    let within = rows.iter().take_while(|row| {
        bytes += row.bytes;
        bytes <= MOST_BYTES
    });
    within.count().max(1)
}
