//! CSV (RFC 4180): as text with line numbers, which every reader of CSV files starts from, and as
//! every writer of them ends.

/// A quote that is opened, on this line, and not closed.
#[derive(Debug, PartialEq, Eq, thiserror::Error)]
#[error("a quote that opens on line {0} is never closed")]
pub struct OpenQuote(pub u64);

/// The text of a file and what it was written in: UTF-8, with or without a byte-order mark, UTF-16 with
/// one, or Windows-1252 as office programs still write it.
pub fn decode(bytes: &[u8]) -> (String, &'static str) {
    if let Some((encoding, mark)) = encoding_rs::Encoding::for_bom(bytes)
        && encoding != encoding_rs::UTF_8
    {
        let text = encoding.decode_without_bom_handling(bytes.get(mark..).unwrap_or_default()).0;
        return (text.into_owned(), encoding.name());
    }
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    match std::str::from_utf8(bytes) {
        Ok(text) => (text.to_owned(), "UTF-8"),
        Err(_) => {
            (encoding_rs::WINDOWS_1252.decode_without_bom_handling(bytes).0.into_owned(), "windows-1252")
        }
    }
}

/// A file of rows, in UTF-8 behind a byte-order mark, by which spreadsheets know it. The cells are
/// guarded by whoever made them.
///
/// # Errors
/// If a row cannot be written, which memory rules out.
pub fn write<R>(rows: impl IntoIterator<Item = R>) -> std::io::Result<String>
where
    R: IntoIterator<Item: AsRef<[u8]>>,
{
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer("\u{feff}".as_bytes().to_vec());
    for row in rows {
        writer.write_record(row)?;
    }
    let bytes = writer.into_inner().map_err(|error| std::io::Error::other(error.to_string()))?;
    String::from_utf8(bytes).map_err(std::io::Error::other)
}

/// A row that holds something, with its line in the file; the header is line 1.
pub type Row = (u64, csv::StringRecord);

/// The header, none in an empty file, and the rows that hold something, of any length, of a file
/// whose cells are separated by commas.
///
/// # Errors
/// [`OpenQuote`]; a row that cannot be read is an error in its place.
pub fn table(
    text: &str,
) -> Result<(Option<csv::Result<csv::StringRecord>>, impl Iterator<Item = csv::Result<Row>>), OpenQuote> {
    check_quotes(text, ',')?;
    let mut rows = records(text, ',');
    let header = rows.next().map(|row| row.map(|(_, record)| record));
    Ok((header, rows))
}

/// The rows that hold something, of any length.
pub fn records(text: &str, separator: char) -> impl Iterator<Item = csv::Result<Row>> {
    let reader = csv::ReaderBuilder::new()
        .flexible(true)
        .has_headers(false)
        .delimiter(u8::try_from(separator).unwrap_or(b','))
        .from_reader(text.as_bytes());
    let mut lines = Lines { text: text.as_bytes(), at: 0, line: 1 };
    let rows = reader.into_records().map(move |record| record.map(|record| (lines.of(&record), record)));
    rows.filter(|row| {
        row.as_ref().map_or(true, |(_, record)| record.iter().any(|cell| !cell.trim().is_empty()))
    })
}

/// What each column of a header is, by its place among the known ones, spelled as `spelled` makes
/// of it.
///
/// # Errors
/// What is wrong with the header: a name unknown here, or one that stands twice.
pub fn columns(
    header: &csv::StringRecord,
    known: &[&str],
    spelled: fn(&str) -> String,
) -> Result<Vec<usize>, String> {
    let mut columns = Vec::new();
    for (n, cell) in header.iter().enumerate() {
        let name = spelled(cell.trim());
        let Some(column) = known.iter().position(|column| *column == name) else {
            return Err(format!("column {} has a name unknown here; known: {}", n + 1, known.join(", ")));
        };
        if columns.contains(&column) {
            return Err(format!("column {name} stands twice"));
        }
        columns.push(column);
    }
    Ok(columns)
}

/// Refuses a row of another width than the header's.
///
/// # Errors
/// Both widths.
pub fn check_width(record: &csv::StringRecord, columns: usize) -> Result<(), String> {
    match record.len() {
        width if width == columns => Ok(()),
        width => Err(format!("has {width} cells where the header has {columns}")),
    }
}

/// Counts lines up to each record. The reader's own count stands still between the two
/// characters of a Windows line end and on empty lines.
struct Lines<'a> {
    text: &'a [u8],
    at: usize,
    line: u64,
}

impl Lines<'_> {
    fn of(&mut self, record: &csv::StringRecord) -> u64 {
        let begins =
            record.position().map_or(0, |position| usize::try_from(position.byte()).unwrap_or(usize::MAX));
        while let Some(byte) =
            self.text.get(self.at).filter(|b| self.at < begins || matches!(b, b'\r' | b'\n'))
        {
            // A carriage return alone ends a line as well, for the reader and for editors.
            let next = self.text.get(self.at + 1);
            self.line += u64::from(*byte == b'\n' || (*byte == b'\r' && next != Some(&b'\n')));
            self.at += 1;
        }
        self.line
    }
}

/// The reader takes an unclosed quote for the rest of the file without a word; so quotes
/// are counted first, by the grammar: a quote opens only at the start of a cell.
pub fn check_quotes(text: &str, separator: char) -> Result<(), OpenQuote> {
    let (mut line, mut opened, mut quoted, mut cell_start) = (1, 1, false, true);
    let mut chars = text.chars().peekable();
    while let Some(c) = chars.next() {
        line += u64::from(c == '\n' || (c == '\r' && chars.peek() != Some(&'\n')));
        match (quoted, c) {
            (true, '"') if chars.peek() == Some(&'"') => {
                chars.next();
            }
            (true, '"') => quoted = false,
            (true, _) => {}
            (false, '"') if cell_start => (quoted, opened) = (true, line),
            (false, _) => {}
        }
        cell_start = !quoted && (c == separator || matches!(c, '\n' | '\r'));
    }
    if quoted { Err(OpenQuote(opened)) } else { Ok(()) }
}

#[cfg(test)]
mod tests {
    use super::decode;

    #[test]
    fn the_encoding_is_found_by_its_mark_or_by_what_can_be_read() {
        let sixteen = |mark: [u8; 2], bytes: fn(u16) -> [u8; 2]| {
            mark.into_iter().chain("Zoë,O’Neill".encode_utf16().flat_map(bytes)).collect::<Vec<u8>>()
        };
        let name = "Zoë,O’Neill".to_owned();
        assert_eq!(decode(&sixteen([0xff, 0xfe], u16::to_le_bytes)), (name.clone(), "UTF-16LE"));
        assert_eq!(decode(&sixteen([0xfe, 0xff], u16::to_be_bytes)), (name.clone(), "UTF-16BE"));
        assert_eq!(decode("\u{feff}Zoë,O’Neill".as_bytes()), (name.clone(), "UTF-8"));
        assert_eq!(decode(b"Zo\xeb,O\x92Neill"), (name, "windows-1252"));
    }
}
