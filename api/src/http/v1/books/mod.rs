//! The school's reading books.

pub mod add;
pub mod get;
pub mod import;
pub mod list;
pub mod match_book;
pub mod remove;
pub mod save;

use plumbline_core::{
    book::{Book, BookText, Reference, Room, Source},
    id::BookId,
    text::Title,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    http::{
        problem::{Code, Problem},
        words::book::MatchLine,
    },
    store::{BookHead, BookRow, Error},
};

/// A book to add, or as it shall be.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"title": "Mod and Dom", "reference": "A-017", "source": "text", "text": "Mod met Dom."}))]
pub struct NewBook {
    /// Its title.
    pub title: Title,
    /// The school's own code; each once a school.
    #[serde(default)]
    pub reference: Option<Reference>,
    /// What `text` holds.
    pub source: Source,
    /// The words or the running text, as much of it as matching needs: at most 100,000 bytes, and
    /// 8,000,000 for all of a school's books, of which there may be 3,000.
    pub text: String,
}

impl NewBook {
    fn checked(self) -> Result<Book, Problem> {
        let text = BookText::new(&self.text).map_err(|error| Problem::field("text", error))?;
        Ok(Book { title: self.title, reference: self.reference, source: self.source, text })
    }
}

/// A book in a list.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000011", "title": "Mod and Dom", "reference": "A-017", "source": "text",
    "match": {"step": 4, "step_title": "Step 4", "running": 3, "percent": 66.6, "readable": false}
}))]
pub struct BookLine {
    /// The book.
    pub id: BookId,
    /// Its title.
    pub title: String,
    /// The school's own code.
    pub reference: Option<String>,
    /// What the school gave of it.
    pub source: Source,
    /// How it stands against what was asked; none where nothing was.
    pub r#match: Option<MatchLine>,
}

impl BookLine {
    fn of(row: &BookHead, found: Option<MatchLine>) -> Self {
        let (title, reference) = (row.title.clone(), row.reference.clone());
        Self { id: row.id, title, reference, source: row.source, r#match: found }
    }
}

/// A book.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000011", "title": "Mod and Dom", "reference": "A-017", "source": "text",
    "running": 3, "skipped": 0, "text": "Mod met Dom."
}))]
pub struct BookBody {
    /// The book.
    pub id: BookId,
    /// Its title.
    pub title: String,
    /// The school's own code.
    pub reference: Option<String>,
    /// What the school gave of it.
    pub source: Source,
    /// Running words.
    pub running: usize,
    /// Numbers and tokens that are no words; they count nowhere.
    pub skipped: usize,
    /// What the school gave, where those who may change the book get it; none for others, and none
    /// in the answer to a change.
    pub text: Option<String>,
}

impl BookBody {
    /// Without the text: an answer that is remembered by its key must not outlive the book.
    fn of(row: &BookRow) -> Result<Self, Problem> {
        let counted = row.counted()?;
        Ok(Self {
            id: row.id,
            title: row.title.clone(),
            reference: row.reference.clone(),
            source: row.source,
            running: counted.running(),
            skipped: counted.skipped,
            text: None,
        })
    }
}

/// What these texts take.
fn room_of<'a>(books: impl IntoIterator<Item = &'a str>) -> Room {
    let bytes = books.into_iter().map(str::len);
    bytes.fold(Room::default(), |room, bytes| Room { books: room.books + 1, bytes: room.bytes + bytes })
}

/// Refuses what the school has no room for.
fn fits(before: Room, new: Room, old: Room) -> Result<(), Problem> {
    before.may_become(before.with(new, old)).map_err(|full| Problem::field("text", full))
}

/// A reference that another book has.
fn taken(error: Error) -> Problem {
    match error {
        Error::Conflict => Problem::field("reference", "belongs to another book").with_code(Code::Conflict),
        other => other.into(),
    }
}
