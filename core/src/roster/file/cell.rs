//! What a file holds before anybody says what it means.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};
use unicode_normalization::UnicodeNormalization;

use super::{Beside, Format};
use crate::time::Date;

/// One cell.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Cell {
    /// Text as typed; empty for nothing.
    Text(String),
    /// A number of a workbook. Text files have none.
    Number(f64),
    /// A day of a workbook.
    Day(Date),
    /// An error value of a workbook, `#REF!` and the like, or a formula without its last value.
    Bad(String),
}

impl Cell {
    /// Without what is not seen: surrounding and doubled white space of any sort, zero-width
    /// spaces, byte-order marks and direction marks. The joiners U+200C and U+200D stay inside a
    /// word, where Persian, Urdu and Indic names need them, and go at its ends. A direction
    /// override stays, for [`crate::text::Line`] to refuse.
    #[must_use]
    pub fn cleaned(text: &str) -> String {
        let unseen =
            |c: &char| matches!(c, '\u{200b}' | '\u{200e}' | '\u{200f}' | '\u{2060}' | '\u{feff}' | '\u{ad}');
        let seen: String = text.chars().filter(|c| !unseen(c)).collect();
        let joiner = |c: char| matches!(c, '\u{200c}' | '\u{200d}');
        let words = seen.split_whitespace().map(|word| word.trim_matches(joiner));
        // What is taken out may have stood between a letter and its accent.
        words.filter(|word| !word.is_empty()).collect::<Vec<_>>().join(" ").nfc().collect()
    }

    /// The cell as text, cleaned. A whole number has no decimal point.
    #[must_use]
    pub fn text(&self) -> String {
        match self {
            Self::Text(text) => Self::cleaned(text),
            Self::Number(number) => number.to_string(),
            Self::Day(day) => day.to_string(),
            Self::Bad(_) => String::new(),
        }
    }

    /// Whether there is nothing in it.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        matches!(self, Self::Text(text) if Self::cleaned(text).is_empty())
    }
}

/// One line of a file that holds something.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Line {
    /// Its line in a text file, or row in a workbook, counted from 1.
    pub line: u64,
    /// Its cells, from the first column on.
    pub cells: Vec<Cell>,
    /// Whether a workbook hides it.
    #[serde(default)]
    pub hidden: bool,
    /// What it says beside its cells.
    #[serde(default)]
    pub beside: Beside,
}

/// A file as read: lines that hold something, in order.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Sheet {
    /// What the file is.
    #[serde(default)]
    pub format: Format,
    /// The version of the format, where the file tells.
    #[serde(default)]
    pub version: Option<String>,
    /// Whether the file holds some of the school's pupils only: who is not in it is not missing.
    #[serde(default)]
    pub changes_only: bool,
    /// The lines.
    pub lines: Vec<Line>,
    /// Columns a workbook hides, counted from 0.
    #[serde(default)]
    pub hidden_columns: BTreeSet<usize>,
    /// Columns whose cells were taken out, counted from 0, with the optional field that was off.
    #[serde(default)]
    pub withheld: BTreeMap<usize, String>,
    /// The name of a workbook's sheet that was read.
    #[serde(default)]
    pub name: Option<String>,
    /// The workbook's other sheets, which were not read.
    #[serde(default)]
    pub other_sheets: Vec<String>,
    /// What the text was written in; `None` for a workbook.
    pub encoding: Option<String>,
    /// What separates cells; `None` for a workbook.
    pub delimiter: Option<char>,
}

/// A column's letters in a spreadsheet: A for 0, Z for 25, AA for 26.
#[must_use]
pub fn column_letters(column: usize) -> String {
    let mut letters = Vec::new();
    let mut left = column + 1;
    while left > 0 {
        let digit = u8::try_from((left - 1) % 26).unwrap_or(0);
        letters.push(char::from(b'A' + digit));
        left = (left - 1) / 26;
    }
    letters.iter().rev().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_seen_goes_and_what_names_need_stays() {
        assert_eq!(Cell::cleaned("\u{a0}Mary \u{a0} Anne\u{200b} "), "Mary Anne");
        assert_eq!(Cell::cleaned("Poole\u{200d}"), "Poole");
        // The joiner inside a Persian name.
        assert_eq!(Cell::cleaned("علی\u{200c}رضا"), "علی\u{200c}رضا");
        assert_eq!(Cell::cleaned("a\u{202e}b"), "a\u{202e}b");
        assert!(Cell::Text(" \u{feff}".into()).is_empty());
        assert_eq!(Cell::Number(7.0).text(), "7");
    }

    #[test]
    fn columns_have_the_letters_of_a_spreadsheet() {
        let letters = [0, 3, 8, 25, 26, 51, 52, 701, 702].map(column_letters);
        assert_eq!(letters, ["A", "D", "I", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]);
    }
}
