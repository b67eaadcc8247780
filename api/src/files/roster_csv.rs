//! Pupil files in CSV (RFC 4180): UTF-8, with or without a byte-order mark, or
//! Windows-1252 as office programs still write it. Strict about structure: a file that
//! does not parse whole is refused whole, because a lost quote would hide rows.

use std::collections::BTreeMap;

use plumbline_core::{
    roster::{Field, Finding, Row},
    rules::RulePack,
};

use super::csv_text::{OpenQuote, decode, table};
use crate::store::Reading;

/// A file as read.
#[derive(Debug)]
pub struct RosterFile {
    /// `UTF-8` or `windows-1252`.
    pub encoding: &'static str,
    /// Rows understood and rows not.
    pub reading: Reading,
}

/// Most rows a file may hold.
const MOST_ROWS: usize = 20_000;

/// Why a whole file is refused.
#[derive(Debug, PartialEq, Eq, thiserror::Error)]
pub enum FileError {
    /// Nothing in it.
    #[error("the file is empty")]
    Empty,
    /// U+0000 inside: not a text file.
    #[error("line {0} holds a NUL byte: this is not a text file")]
    Binary(usize),
    /// A quote that is opened and not closed.
    #[error(transparent)]
    OpenQuote(#[from] OpenQuote),
    /// A header with an unknown or repeated name.
    #[error("{0}; known columns: {1}")]
    Header(String, String),
    /// The one column that is needed.
    #[error("there is no column given_name")]
    NoName,
    /// More rows than a school has pupils.
    #[error("more than {MOST_ROWS} rows")]
    TooMany,
    /// Not CSV.
    #[error("line {0} cannot be read")]
    Unreadable(u64),
}

impl FileError {
    /// The field of the request at fault.
    pub fn field(&self) -> &'static str {
        match self {
            Self::Header(..) | Self::NoName => "file.header",
            _ => "file",
        }
    }
}

/// Reads a pupil file.
///
/// # Errors
/// What keeps the file from being read at all. Rows that do not make sense are findings.
pub fn read(bytes: &[u8], rules: &RulePack) -> Result<RosterFile, FileError> {
    let (text, encoding) = decode(bytes);
    if let Some(at) = text.find('\0') {
        return Err(FileError::Binary(text[..at].matches('\n').count() + 1));
    }
    if text.trim().is_empty() {
        return Err(FileError::Empty);
    }
    let (header, rows) = table(&text)?;
    let columns = columns(&header.ok_or(FileError::Empty)?.map_err(unreadable)?)?;
    let mut reading = Reading::default();
    for found in rows {
        let (line, record) = found.map_err(unreadable)?;
        if reading.rows.len() + reading.rejected.len() >= MOST_ROWS {
            return Err(FileError::TooMany);
        }
        match row(line, &record, &columns, rules) {
            Ok(row) => reading.rows.push(row),
            Err(findings) => reading.rejected.extend(findings),
        }
    }
    Ok(RosterFile { encoding, reading })
}

fn unreadable(error: csv::Error) -> FileError {
    FileError::Unreadable(error.position().map_or(0, csv::Position::line))
}

fn columns(header: &csv::StringRecord) -> Result<Vec<Field>, FileError> {
    let known = || Field::ALL.iter().map(|field| field.as_str()).collect::<Vec<_>>().join(", ");
    let mut columns: Vec<Field> = Vec::new();
    for (n, cell) in header.iter().enumerate() {
        let name = cell.trim().to_lowercase();
        // Not repeated: in a file without a header row it is a child's name.
        let Some(field) = Field::parse(&name) else {
            return Err(FileError::Header(format!("column {} has a name unknown here", n + 1), known()));
        };
        if columns.contains(&field) {
            return Err(FileError::Header(format!("column {field} stands twice"), known()));
        }
        columns.push(field);
    }
    if columns.contains(&Field::GivenName) { Ok(columns) } else { Err(FileError::NoName) }
}

fn row(
    line: u64,
    record: &csv::StringRecord,
    columns: &[Field],
    rules: &RulePack,
) -> Result<Row, Vec<Finding>> {
    let extra = record.iter().skip(columns.len()).any(|cell| !cell.trim().is_empty());
    if extra || record.len() < columns.len() {
        let message = format!("has {} cells where the header has {}", record.len(), columns.len());
        return Err(vec![Finding { line, field: None, message }]);
    }
    let cells: BTreeMap<Field, &str> = columns.iter().copied().zip(record.iter()).collect();
    Row::read(line, &cells, rules)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(bytes: &[u8]) -> Result<RosterFile, FileError> {
        read(bytes, &plumbline_core::rules::pack("england").unwrap())
    }

    #[test]
    fn utf8_with_a_mark_and_windows_1252_are_read_exactly() {
        let utf8 = file("\u{feff}given_name,family_name\nZoë,O’Neill\n".as_bytes()).unwrap();
        assert_eq!(utf8.encoding, "UTF-8");
        let office = file(b"given_name,family_name\r\nZo\xeb,O\x92Neill\r\n").unwrap();
        assert_eq!(office.encoding, "windows-1252");
        for read in [utf8, office] {
            let row = &read.reading.rows[0];
            assert_eq!(row.given_name.as_str(), "Zoë");
            assert_eq!(row.family_name.as_ref().map(|n| n.as_str()), Some("O’Neill"));
            assert_eq!(row.line, 2);
        }
    }

    #[test]
    fn structure_is_strict_and_named() {
        let error = |bytes: &[u8]| file(bytes).unwrap_err().to_string();
        assert_eq!(error(b""), "the file is empty");
        assert_eq!(error(b"given_name\nZo\0e\n"), "line 2 holds a NUL byte: this is not a text file");
        assert_eq!(error(b"given_name\nZoe\n\"Max\nIda\n"), "a quote that opens on line 3 is never closed");
        assert!(error(b"given_name,shoe_size\n").starts_with("column 2 has a name unknown here"));
        assert!(error(b"given_name,given_name\n").starts_with("column given_name stands twice"));
        assert_eq!(error(b"family_name\nBell\n"), "there is no column given_name");
    }

    #[test]
    fn quotes_inside_cells_and_doubled_are_fine() {
        let read = file(b"given_name,family_name\n\"Zoe \"\"Zo\"\"\",O\"Neill\n\"Max\nB\",Bell\n").unwrap();
        // A line break inside a name is not a name; the other row stands.
        assert_eq!(read.reading.rows.len(), 1);
        assert_eq!(read.reading.rejected[0].line, 3);
    }

    #[test]
    fn ragged_rows_are_rejected_with_their_line_and_blank_ones_skipped() {
        let read = file(b"given_name,family_name\nZoe,Bell\n\n,\nMax\nIda,Bell,extra\nEd,Hart,\n").unwrap();
        let lines: Vec<u64> = read.reading.rejected.iter().map(|f| f.line).collect();
        assert_eq!(lines, [5, 6]);
        assert_eq!(read.reading.rows.len(), 2);
    }
}
