//! Pupil files in CSV (RFC 4180): UTF-8, with or without a byte-order mark, or
//! Windows-1252 as office programs still write it. Strict about structure: a file that
//! does not parse whole is refused whole, because a lost quote would hide rows.

use std::collections::BTreeMap;

use plumbline_core::{
    roster::{Field, Finding, Row},
    rules::RulePack,
};

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
    #[error("a quote that opens on line {0} is never closed")]
    OpenQuote(u64),
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
    check_quotes(&text)?;
    let mut reader = csv::ReaderBuilder::new().flexible(true).has_headers(false).from_reader(text.as_bytes());
    let mut records = reader.records();
    let header = records.next().ok_or(FileError::Empty)?.map_err(unreadable)?;
    let columns = columns(&header)?;
    let mut lines = Lines::of_text(&text);
    let mut reading = Reading::default();
    for record in records {
        let record = record.map_err(unreadable)?;
        let line = lines.of(&record);
        if record.iter().all(|cell| cell.trim().is_empty()) {
            continue;
        }
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

/// Counts lines up to each record. The reader's own count stands still between the two
/// characters of a Windows line end and on empty lines.
pub(super) struct Lines<'a> {
    text: &'a [u8],
    at: usize,
    line: u64,
}

impl<'a> Lines<'a> {
    pub(super) const fn of_text(text: &'a str) -> Self {
        Self { text: text.as_bytes(), at: 0, line: 1 }
    }

    pub(super) fn of(&mut self, record: &csv::StringRecord) -> u64 {
        let begins =
            record.position().map_or(0, |position| usize::try_from(position.byte()).unwrap_or(usize::MAX));
        while let Some(byte) =
            self.text.get(self.at).filter(|b| self.at < begins || matches!(b, b'\r' | b'\n'))
        {
            self.line += u64::from(*byte == b'\n');
            self.at += 1;
        }
        self.line
    }
}

pub(super) fn decode(bytes: &[u8]) -> (String, &'static str) {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    match std::str::from_utf8(bytes) {
        Ok(text) => (text.to_owned(), "UTF-8"),
        Err(_) => {
            (encoding_rs::WINDOWS_1252.decode_without_bom_handling(bytes).0.into_owned(), "windows-1252")
        }
    }
}

/// The reader takes an unclosed quote for the rest of the file without a word; so quotes
/// are counted first, by the grammar: a quote opens only at the start of a cell.
pub(super) fn check_quotes(text: &str) -> Result<(), FileError> {
    let (mut line, mut opened, mut quoted, mut cell_start) = (1, 1, false, true);
    let mut chars = text.chars().peekable();
    while let Some(c) = chars.next() {
        line += u64::from(c == '\n');
        match (quoted, c) {
            (true, '"') if chars.peek() == Some(&'"') => {
                chars.next();
            }
            (true, '"') => quoted = false,
            (true, _) => {}
            (false, '"') if cell_start => (quoted, opened) = (true, line),
            (false, _) => {}
        }
        cell_start = !quoted && matches!(c, ',' | '\n' | '\r');
    }
    if quoted { Err(FileError::OpenQuote(opened)) } else { Ok(()) }
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
