//! The school's reading books: what is kept of one, what a file of them would change, and from
//! when one can be read.

mod counted;
mod import;
mod reading;
mod room;
mod shelf;

pub use counted::Counted;
pub use import::{ImportPlan, KnownBook, plan_import};
pub use reading::{BookReader, Reading, ReadingWord};
pub use room::{Full, MOST_BOOKS, MOST_BYTES, Room};
pub use shelf::{ShelfGap, Shelved, shelf};

use unicode_normalization::UnicodeNormalization as _;

use crate::text::{Line, Title};

crate::vocabulary! {
    /// What the school gave of a book.
    pub enum Source as "BookSource" {
        /// Its words, in any order.
        Words = "words",
        /// Its running text, or a sample of it.
        Text = "text",
    }
}

/// The school's own code of a book.
pub type Reference = Line<40>;

/// The most bytes kept of a book: many times what a young reader's book holds.
pub const LARGEST: usize = 100_000;

/// The words of a book: bounded, in normal form C, trimmed, line breaks and tabs the only control
/// characters, and at least one token of it a word.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BookText {
    text: String,
    counted: Counted,
}

/// Why words of a book are refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum BookTextError {
    /// No token of it is a word.
    #[error("must hold at least one word")]
    NoWord,
    /// More than [`LARGEST`].
    #[error("must be at most {LARGEST} bytes; {0} were sent")]
    TooLong(usize),
    /// A control character.
    #[error("must not contain control characters")]
    Control,
}

impl BookText {
    /// Checks a text.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn new(text: &str) -> Result<Self, BookTextError> {
        let text: String = text.trim().nfc().collect();
        if text.len() > LARGEST {
            return Err(BookTextError::TooLong(text.len()));
        }
        if text.chars().any(|c| c.is_control() && !matches!(c, '\n' | '\r' | '\t')) {
            return Err(BookTextError::Control);
        }
        let counted = Counted::of(&text);
        if counted.words.is_empty() {
            return Err(BookTextError::NoWord);
        }
        Ok(Self { text, counted })
    }

    /// The text.
    pub fn as_str(&self) -> &str {
        &self.text
    }

    /// Its words, counted.
    pub const fn counted(&self) -> &Counted {
        &self.counted
    }
}

/// What is kept of a book.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Book {
    /// Its title.
    pub title: Title,
    /// The school's code; each once a school.
    pub reference: Option<Reference>,
    /// What the school gave.
    pub source: Source,
    /// The words.
    pub text: BookText,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_has_a_word_and_a_bound() {
        let check = |text: &str, expected: Result<&str, BookTextError>| {
            let got = BookText::new(text);
            assert_eq!(got.as_ref().map(BookText::as_str), expected.as_ref().map(|text| *text), "{text:?}");
        };
        check(" Mod.\nMod met Dom. ", Ok("Mod.\nMod met Dom."));
        check("", Err(BookTextError::NoWord));
        check("12 -- 4th", Err(BookTextError::NoWord));
        check("кот", Err(BookTextError::NoWord));
        check("1,b", Ok("1,b"));
        check("a\0b", Err(BookTextError::Control));
        // 100,000 bytes once the last space is trimmed off, and 5 more.
        check(&"abcd ".repeat(20_000), Ok("abcd ".repeat(20_000).trim()));
        check(&"abcd ".repeat(20_001), Err(BookTextError::TooLong(100_004)));
    }
}
