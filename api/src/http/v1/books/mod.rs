//! The school's reading books.

pub mod add;
pub mod get;
pub mod import;
pub mod list;
pub mod match_book;
pub mod remove;
pub mod save;

use plumbline_core::{
    book::{Book, BookText, Reference, Source},
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
    store::{BookRow, Error},
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
    /// The words or the running text, as much of it as matching needs: at most 100,000 bytes.
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
    fn of(row: &BookRow, found: Option<MatchLine>) -> Self {
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

impl From<&BookRow> for BookBody {
    /// Without the text: an answer that is remembered by its key must not outlive the book.
    fn from(row: &BookRow) -> Self {
        let (running, skipped) = BookText::new(&row.words).map_or((0, 0), |text| text.count());
        let (title, reference) = (row.title.clone(), row.reference.clone());
        Self { id: row.id, title, reference, source: row.source, running, skipped, text: None }
    }
}

/// A reference that another book has.
fn taken(error: Error) -> Problem {
    match error {
        Error::Conflict => Problem::field("reference", "belongs to another book").with_code(Code::Conflict),
        other => other.into(),
    }
}
