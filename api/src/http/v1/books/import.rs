//! POST /books/imports

use actix_web::post;
use plumbline_core::{
    access::{act::Manage, resource::Books},
    book::{Book, ImportPlan, plan_import},
    id::BookId,
};
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};
use utoipa::{IntoParams, ToSchema};

use super::{fits, room_of};
use crate::{
    files::book_csv,
    http::{
        body::LargeRaw,
        caller::{Caller, blocking},
        problem::{Code, Problem},
        problems::CreateProblems,
        query::Query,
        reply::Reply,
    },
    store::Tx,
};

/// How to import a file.
#[derive(Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct BookImportQuery {
    /// Only say what the file would change.
    #[serde(default)]
    pub dry_run: bool,
}

/// A line of a file that changes something.
#[derive(Serialize, ToSchema)]
pub struct BookImportLine {
    /// Line in the file.
    pub line: u64,
    /// The title in the file.
    pub title: String,
    /// The book; none for one that is not added yet.
    pub book_id: Option<BookId>,
}

/// What a file changes.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "dry_run": false, "unchanged": 40, "changed": [],
    "added": [{"line": 2, "title": "Mod and Dom", "book_id": "0199f2c4-0000-7000-8000-000000000011"}]
}))]
pub struct BookImport {
    /// Whether nothing was written.
    pub dry_run: bool,
    /// Books added.
    pub added: Vec<BookImportLine>,
    /// Books changed.
    pub changed: Vec<BookImportLine>,
    /// Lines that say what the school holds already.
    pub unchanged: usize,
}

impl BookImport {
    /// What was done, with the ids of the new books; without them, what would be done.
    fn of(plan: &ImportPlan, ids: Option<&[BookId]>) -> Self {
        let id = |n: usize| ids.and_then(|ids| ids.get(n).copied());
        let added = plan.added.iter().enumerate();
        let changed = plan.changed.iter();
        Self {
            dry_run: ids.is_none(),
            added: added
                .map(|(n, (line, book))| BookImportLine {
                    line: *line,
                    title: book.title.to_string(),
                    book_id: id(n),
                })
                .collect(),
            changed: changed
                .map(|(line, id, book)| BookImportLine {
                    line: *line,
                    title: book.title.to_string(),
                    book_id: Some(*id),
                })
                .collect(),
            unchanged: plan.unchanged,
        }
    }
}

/// Import reading books from a file
///
/// CSV with a header row of `title`, `reference`, `source` and `text` in any order; `title` and
/// `text` are needed, and `source` is `text` unless told. A row means the book with its reference,
/// else the one with its title, whatever the case. Books the file does not name stay. All of it or
/// nothing: every bad line is named. Up to 2,000 rows, 100,000 bytes a text, and four times the
/// usual body, that is four mebibytes, a file.
#[utoipa::path(
    tag = "books", operation_id = "import_books", params(BookImportQuery,
        ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    request_body(content = String, content_type = "text/csv", description = "The file",
        example = "title,reference,text\nMod and Dom,A-017,Mod met Dom.\n"),
    responses((status = 200, description = "What it changed, or would change", body = BookImport), CreateProblems)
)]
#[post("/books/imports")]
pub async fn import_books(
    caller: Caller,
    query: Query<BookImportQuery>,
    file: LargeRaw,
) -> Result<Reply, Problem> {
    let file = file.0;
    if file.media_type != "text/csv" {
        return Err(Problem::saying(Code::UnsupportedMediaType, "send the file as text/csv"));
    }
    let dry_run = query.dry_run;
    // Which of the two was asked is in no address, and belongs to the request.
    let hash = Sha256::new().chain_update([u8::from(dry_run)]).chain_update(&file.bytes).finalize().into();
    let rows = blocking(move || Ok(book_csv::read(&file.bytes)?)).await?;
    if dry_run {
        return caller.read(move |tx| Reply::ok(&BookImport::of(&planned(tx, &rows)?, None))).await;
    }
    caller
        .create("book.import", hash, move |tx| {
            let plan = planned(tx, &rows)?;
            let permit = tx.permit::<Manage, _>(Books)?;
            let ids = tx.import_books(&permit, &plan)?;
            Reply::ok(&BookImport::of(&plan, Some(&ids)))
        })
        .await
}

fn planned(tx: &mut Tx<'_>, rows: &[(u64, Book)]) -> Result<ImportPlan, Problem> {
    let permit = tx.permit::<Manage, _>(Books)?;
    let mut plan = plan_import(rows, &tx.known_books(&permit)?)?;
    let old = tx.leave_unchanged(&permit, &mut plan)?;
    let changed = plan.changed.iter().map(|(_, _, book)| book.text.as_str());
    let added = plan.added.iter().map(|(_, book)| book.text.as_str());
    fits(tx.book_room(&permit)?, room_of(added.chain(changed)), old)?;
    Ok(plan)
}
