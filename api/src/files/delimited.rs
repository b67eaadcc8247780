//! Text files of cells (RFC 4180 and its relatives) as a sheet: the encoding, the separator and an
//! instruction line are found out and stated, never guessed in silence.

use plumbline_core::roster::file::{Cell, Line, Sheet};

use super::{
    bounds::{FileError, MOST_CELL, MOST_COLUMNS, MOST_ROWS},
    csv_text::{OpenQuote, check_quotes, decode, records},
};

/// Separators looked for, the likeliest first.
const SEPARATORS: [char; 4] = [',', ';', '\t', '|'];

/// Lines looked at to find the separator.
const SAMPLE: usize = 20;

/// Reads a text file.
///
/// # Errors
/// What keeps the file from being read at all.
pub fn read(bytes: &[u8]) -> Result<Sheet, FileError> {
    let (text, encoding) = decode(bytes);
    if text.trim().is_empty() {
        return Err(FileError::Empty);
    }
    let (told, text, skipped) = instruction(&text);
    let separator = told.unwrap_or_else(|| likeliest(text));
    check_quotes(text, separator).map_err(|OpenQuote(line)| FileError::OpenQuote(line + skipped))?;
    let mut lines = Vec::new();
    for record in records(text, separator) {
        let (line, record) =
            record.map_err(|error| FileError::Unreadable(error.position().map_or(0, csv::Position::line)))?;
        if lines.len() > MOST_ROWS {
            return Err(FileError::TooManyRows);
        }
        if record.len() > MOST_COLUMNS {
            return Err(FileError::TooManyColumns(line + skipped));
        }
        if record.iter().any(|cell| cell.len() > MOST_CELL) {
            return Err(FileError::CellTooLong(line + skipped));
        }
        let cells = record.iter().map(|cell| Cell::Text(cell.to_owned())).collect();
        lines.push(Line { line: line + skipped, cells, ..Line::default() });
    }
    Ok(Sheet { lines, encoding: Some(encoding.to_owned()), delimiter: Some(separator), ..Sheet::default() })
}

/// The separator told by a first line such as `sep=;`, which spreadsheets write and heed, with
/// the rest of the text and the lines before it.
fn instruction(text: &str) -> (Option<char>, &str, u64) {
    let (first, rest) = text.split_once('\n').unwrap_or((text, ""));
    let told = first.trim_end().trim_matches('"').strip_prefix("sep=").and_then(|told| {
        let mut chars = told.chars();
        chars.next().filter(|_| chars.next().is_none())
    });
    match told {
        Some(separator) if separator.is_ascii() => (Some(separator), rest, 1),
        _ => (None, text, 0),
    }
}

/// The separator that cuts the first lines into the most even rows of more than one cell.
fn likeliest(text: &str) -> char {
    let evenness = |separator: &char| {
        if check_quotes(text, *separator).is_err() {
            return (0, 0);
        }
        let widths: Vec<usize> =
            records(text, *separator).take(SAMPLE).flatten().map(|(_, record)| record.len()).collect();
        let most = widths.iter().copied().max().unwrap_or(0);
        let even = widths.iter().filter(|width| **width == most && most > 1).count();
        (even, most)
    };
    // The first of equals: a comma where a file has one column.
    SEPARATORS.into_iter().rev().max_by_key(evenness).unwrap_or(',')
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(bytes: &[u8]) -> (Sheet, Vec<(u64, Vec<String>)>) {
        let sheet = read(bytes).unwrap();
        let rows = sheet.lines.iter().map(|line| (line.line, line.cells.iter().map(Cell::text).collect()));
        let rows = rows.collect();
        (sheet, rows)
    }

    fn cells(cells: &[&str]) -> Vec<String> {
        cells.iter().map(|cell| (*cell).to_owned()).collect()
    }

    #[test]
    fn utf8_with_a_mark_and_windows_1252_are_read_exactly() {
        let (utf8, read_utf8) = rows("\u{feff}given_name,family_name\nZoë,O’Neill\n".as_bytes());
        let (office, read_office) = rows(b"given_name,family_name\r\nZo\xeb,O\x92Neill\r\n");
        assert_eq!(
            (utf8.encoding.as_deref(), office.encoding.as_deref()),
            (Some("UTF-8"), Some("windows-1252"))
        );
        assert_eq!(read_utf8, read_office);
        assert_eq!(read_utf8[1], (2, cells(&["Zoë", "O’Neill"])));
    }

    #[test]
    fn the_separator_is_told_or_found() {
        let (sheet, read) = rows(b"sep=;\r\ngiven_name;class_name\r\nIvo;Oak, upper\r\n");
        assert_eq!((sheet.delimiter, &read[1]), (Some(';'), &(3, cells(&["Ivo", "Oak, upper"]))));
        let (sheet, read) = rows(b"a;b;c\n1,5;2;3\n\"x;y\";2;3\n");
        assert_eq!((sheet.delimiter, &read[2].1), (Some(';'), &cells(&["x;y", "2", "3"])));
        assert_eq!(rows(b"a\tb\n1\t2\n").0.delimiter, Some('\t'));
        assert_eq!(rows(b"given_name\nAda\n").0.delimiter, Some(','));
        assert_eq!(rows(b"a,b\n1,\"x;y;z\"\n").0.delimiter, Some(','));
    }

    #[test]
    fn lines_are_counted_as_an_editor_counts_them() {
        let (_, read) = rows(b"a,b\n\"Jo \"\"JJ\"\"\",\"one\ntwo\"\n\n,\nKit,x\n");
        assert_eq!(read.iter().map(|(line, _)| *line).collect::<Vec<_>>(), [1, 2, 6]);
        assert_eq!(read[1].1[0], "Jo \"JJ\"");
        // A carriage return ends a line by itself too.
        let (_, read) = rows(b"a\rb\r\nc\r\r\"d\re\"\rf");
        assert_eq!(read.iter().map(|(line, _)| *line).collect::<Vec<_>>(), [1, 2, 3, 5, 7]);
        assert_eq!(super::read(b"a\rb\r\"c").unwrap_err(), FileError::OpenQuote(3));
    }

    #[test]
    fn what_cannot_be_read_whole_is_refused_whole() {
        let error = |bytes: &[u8]| read(bytes).unwrap_err().to_string();
        assert_eq!(error(b""), "the file is empty");
        assert_eq!(error(b"a\nZoe\n\"Max\nIda\n"), "a quote that opens on line 3 is never closed");
        assert!(error(&b"a,".repeat(300)).contains("columns"));
        assert!(error(&b"x\n".repeat(MOST_ROWS + 5)).contains("rows"));
        assert!(error(&[b"a\n".as_slice(), &b"y".repeat(MOST_CELL + 1)].concat()).contains("line 2"));
    }
}
