//! How much a pupil file may hold, whatever its format, and why a whole file is refused.

use plumbline_core::text::shortened;

/// Most rows: more than any school has pupils.
pub const MOST_ROWS: usize = 20_000;
/// Most columns.
pub const MOST_COLUMNS: usize = 256;
/// Most cells in a workbook's sheet.
pub const MOST_CELLS: usize = 400_000;
/// Most bytes an archive may unpack to.
pub const MOST_UNPACKED: u64 = 24 * 1024 * 1024;
/// Most entries of an archive.
pub const MOST_ENTRIES: usize = 200;
/// Most records in one file of an archive: several for each pupil.
pub const MOST_RECORDS: usize = 200_000;
/// Most elements of a document inside one another.
pub const MOST_DEPTH: usize = 32;
/// Most bytes in one cell.
pub const MOST_CELL: usize = 32_768;

/// Why a whole file is refused.
#[derive(Debug, PartialEq, Eq, thiserror::Error)]
pub enum FileError {
    /// Nothing in it.
    #[error("the file is empty")]
    Empty,
    /// A quote that is opened and not closed.
    #[error("a quote that opens on line {0} is never closed")]
    OpenQuote(u64),
    /// More rows than a school has pupils.
    #[error("more than {MOST_ROWS} rows")]
    TooManyRows,
    /// More columns than any report.
    #[error("line {0} has more than {MOST_COLUMNS} columns")]
    TooManyColumns(u64),
    /// A cell with more text than any name.
    #[error("a cell on line {0} holds more than {MOST_CELL} bytes")]
    CellTooLong(u64),
    /// More cells than a school's roster.
    #[error("more than {MOST_CELLS} cells")]
    TooManyCells,
    /// An archive that holds more than is unpacked.
    #[error("the file is too large when unpacked: at most {} MiB", MOST_UNPACKED / 1_048_576)]
    Unpacked,
    /// Not what it says it is.
    #[error("the file cannot be read: {}", short(.0))]
    Damaged(String),
    /// A file of an archive, or a place in a document, that is not as its standard says.
    #[error("{}: {}", short(place), short(what))]
    At {
        /// The file, the line and the column, as far as they are known.
        place: String,
        /// What is wrong; never what a cell holds that should not be there.
        what: String,
    },
    /// No separated text.
    #[error("line {0} cannot be read")]
    Unreadable(u64),
}

/// Most characters said of what a file holds: it may be a whole file that a quote opens.
const MOST_SAID: usize = 160;

/// A text of which no more is said than a person reads.
pub fn short(text: &str) -> String {
    shortened(text, MOST_SAID)
}

impl FileError {
    /// What is wrong at a line of a file, in a column where one is at fault.
    pub fn at(file: &str, line: u64, column: Option<&str>, what: impl Into<String>) -> Self {
        let column = column.map(|column| format!(", column {column}")).unwrap_or_default();
        Self::At { place: format!("{file}, line {line}{column}"), what: what.into() }
    }
}
