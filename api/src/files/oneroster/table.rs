//! One CSV file of an archive: UTF-8 (RFC 4180), its header in the standard's order and case.

use std::io::BufRead;

use super::manifest::Mode;
use crate::files::{
    bounds::{FileError, MOST_CELL, MOST_COLUMNS, MOST_RECORDS},
    csv_text::{OpenQuote, check_quotes, check_width, records},
};

/// The columns of a file. Behind them only a school's own may stand, named `metadata.` something.
#[derive(Clone, Copy)]
pub struct Columns {
    /// Those of the standard, in order.
    pub all: &'static [&'static str],
    /// Whether the standard has more that nothing here reads.
    pub more: bool,
}

/// A row with its line in the file; the header is line 1.
pub struct Record {
    /// Its line.
    pub line: u64,
    cells: csv::StringRecord,
}

/// A file.
pub struct Table {
    /// Its name.
    pub file: &'static str,
    /// Its rows.
    pub rows: Vec<Record>,
    columns: Columns,
}

/// The text of an entry.
///
/// # Errors
/// [`FileError::At`] where it is not UTF-8, and [`FileError::Damaged`].
pub fn text(file: &str, reader: &mut dyn BufRead) -> Result<String, FileError> {
    let mut bytes = Vec::new();
    reader.read_to_end(&mut bytes).map_err(|error| FileError::Damaged(format!("{file}: {error}")))?;
    let bytes = match bytes.strip_prefix(b"\xef\xbb\xbf") {
        Some(rest) => rest.to_vec(),
        None => bytes,
    };
    String::from_utf8(bytes).map_err(|error| {
        let before = error.as_bytes().get(..error.utf8_error().valid_up_to()).unwrap_or_default();
        let line = 1 + before.iter().fold(0, |lines, byte| lines + u64::from(*byte == b'\n'));
        FileError::at(file, line, None, "is not UTF-8")
    })
}

impl Table {
    /// Reads a file's text.
    ///
    /// # Errors
    /// What is not as the standard says, by line and column.
    pub fn parse(file: &'static str, text: &str, columns: Columns) -> Result<Self, FileError> {
        check_quotes(text, ',').map_err(|OpenQuote(line)| {
            FileError::at(file, line, None, "a quote that opens here is never closed")
        })?;
        let (mut width, mut rows) = (None, Vec::new());
        for record in records(text, ',') {
            let (line, cells) = record.map_err(|error| {
                FileError::at(file, error.position().map_or(0, csv::Position::line), None, "cannot be read")
            })?;
            let wrong = |what: String| FileError::at(file, line, None, what);
            if cells.iter().any(|cell| cell.len() > MOST_CELL) {
                return Err(wrong(format!("a cell holds more than {MOST_CELL} bytes")));
            }
            let Some(width) = width else {
                columns.check(file, line, &cells)?;
                width = Some(cells.len());
                continue;
            };
            check_width(&cells, width).map_err(wrong)?;
            if rows.len() >= MOST_RECORDS {
                return Err(wrong(format!("more than {MOST_RECORDS} rows")));
            }
            rows.push(Record { line, cells });
        }
        if width.is_none() {
            return Err(FileError::at(file, 1, None, "the header is missing"));
        }
        Ok(Self { file, rows, columns })
    }

    /// A cell, without white space around it.
    pub fn cell<'a>(&self, row: &'a Record, column: &str) -> &'a str {
        let place = self.columns.all.iter().position(|known| *known == column);
        place.and_then(|place| row.cells.get(place)).unwrap_or_default().trim()
    }

    /// What is wrong with a cell.
    pub fn wrong(&self, row: &Record, column: &str, what: impl Into<String>) -> FileError {
        FileError::at(self.file, row.line, Some(column), what)
    }

    /// Checks what every row says of itself.
    ///
    /// # Errors
    /// A row without its id, or with a status that the file cannot have.
    pub fn check(&self, mode: Mode) -> Result<(), FileError> {
        for row in &self.rows {
            if self.cell(row, "sourcedId").is_empty() {
                return Err(self.wrong(row, "sourcedId", "is empty"));
            }
            match (mode, self.cell(row, "status")) {
                // The standard leaves it empty; that a row is there says the same.
                (Mode::Bulk, "" | "active") => {}
                (Mode::Bulk, _) => {
                    return Err(self.wrong(row, "status", "must be empty in a file that is bulk"));
                }
                (Mode::Delta, "active" | "tobedeleted") => {
                    if self.cell(row, "dateLastModified").is_empty() {
                        return Err(self.wrong(row, "dateLastModified", "is empty in a file that is delta"));
                    }
                }
                (Mode::Delta, _) => {
                    let what = "must be active or tobedeleted in a file that is delta";
                    return Err(self.wrong(row, "status", what));
                }
            }
        }
        Ok(())
    }

    /// Whether a row says that what it is about is no more.
    pub fn deleted(&self, row: &Record) -> bool {
        self.cell(row, "status") == "tobedeleted"
    }
}

impl Columns {
    fn check(&self, file: &str, line: u64, header: &csv::StringRecord) -> Result<(), FileError> {
        if header.len() > MOST_COLUMNS {
            return Err(FileError::at(file, line, None, format!("more than {MOST_COLUMNS} columns")));
        }
        let wrong = |n: usize, what: String| {
            FileError::at(file, line, Some(&plumbline_core::roster::file::column_letters(n)), what)
        };
        for (n, name) in self.all.iter().enumerate() {
            match header.get(n) {
                Some(found) if found == *name => {}
                Some(found) => return Err(wrong(n, format!("is \u{201c}{found}\u{201d}, must be {name}"))),
                None => return Err(wrong(n, format!("is missing, must be {name}"))),
            }
        }
        let own = header.iter().enumerate().skip(self.all.len());
        match own.into_iter().find(|(_, name)| !self.more && !name.starts_with("metadata.")) {
            Some((n, name)) => {
                let what = format!("is \u{201c}{name}\u{201d}; here only metadata. columns may stand");
                Err(wrong(n, what))
            }
            None => Ok(()),
        }
    }
}
