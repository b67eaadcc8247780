//! Files of reading books in CSV (RFC 4180): a header row, then one row a book. UTF-8, or
//! Windows-1252 as office programs still write it.

use plumbline_core::{
    book::{Book, BookText, Reference, Source},
    sequence::Fault,
    text::Title,
};

use super::csv_text::{self, decode, table};

/// The columns, in any order: `title` and `text` are needed; `reference` is the school's own code;
/// `source` says what `text` holds, `text` unless told.
const COLUMNS: [&str; 4] = ["title", "reference", "source", "text"];

/// Most rows a file may hold.
const MOST_ROWS: usize = 2_000;

/// Reads a file of books, each with its line; the header is line 1.
///
/// # Errors
/// Every fault, its field being line and column.
pub fn read(bytes: &[u8]) -> Result<Vec<(u64, Book)>, Vec<Fault>> {
    let whole = |message: String| vec![Fault { field: "file".into(), message }];
    let (text, _) = decode(bytes);
    if text.contains('\0') {
        return Err(whole("holds a NUL byte: this is not a text file".into()));
    }
    let (header, rows) = table(&text).map_err(|error| whole(error.to_string()))?;
    let header = header.ok_or_else(|| whole("is empty".into()))?;
    let columns = columns(&header.map_err(|error| whole(error.to_string()))?)?;
    let (mut books, mut faults) = (Vec::new(), Vec::new());
    for (n, row) in rows.enumerate() {
        if n >= MOST_ROWS {
            return Err(whole(format!("holds more than {MOST_ROWS} rows")));
        }
        let (line, record) = row.map_err(|error| whole(error.to_string()))?;
        match book(line, &record, &columns) {
            Ok(book) => books.push((line, book)),
            Err(found) => faults.extend(found),
        }
    }
    if faults.is_empty() { Ok(books) } else { Err(faults) }
}

fn columns(header: &csv::StringRecord) -> Result<Vec<&'static str>, Vec<Fault>> {
    let fault = |message: String| vec![Fault { field: "line 1".into(), message }];
    let places = csv_text::columns(header, &COLUMNS, str::to_lowercase).map_err(fault)?;
    let columns: Vec<&str> = places.into_iter().map(|place| COLUMNS[place]).collect();
    match ["title", "text"].into_iter().find(|needed| !columns.contains(needed)) {
        Some(needed) => Err(fault(format!("there is no column {needed}"))),
        None => Ok(columns),
    }
}

fn book(line: u64, record: &csv::StringRecord, columns: &[&str]) -> Result<Book, Vec<Fault>> {
    csv_text::check_width(record, columns.len())
        .map_err(|message| vec![Fault { field: format!("line {line}"), message }])?;
    let cell = |name: &str| {
        let at = columns.iter().position(|column| *column == name);
        at.and_then(|at| record.get(at)).map_or("", str::trim)
    };
    let fault = |column: &str, message: String| Fault { field: format!("line {line}.{column}"), message };
    let title = Title::new(cell("title")).map_err(|error| fault("title", error.to_string()));
    let reference = Some(cell("reference")).filter(|code| !code.is_empty()).map(Reference::new).transpose();
    let reference = reference.map_err(|error| fault("reference", error.to_string()));
    let source = match cell("source") {
        "" => Ok(Source::Text),
        word => Source::parse(word).ok_or_else(|| fault("source", "must be words or text".into())),
    };
    let text = BookText::new(cell("text")).map_err(|error| fault("text", error.to_string()));
    match (title, reference, source, text) {
        (Ok(title), Ok(reference), Ok(source), Ok(text)) => Ok(Book { title, reference, source, text }),
        (title, reference, source, text) => {
            Err([title.err(), reference.err(), source.err(), text.err()].into_iter().flatten().collect())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn faults(bytes: &[u8]) -> Vec<String> {
        let faults = read(bytes).unwrap_err();
        faults.into_iter().map(|fault| format!("{}: {}", fault.field, fault.message)).collect()
    }

    #[test]
    fn a_book_a_row_with_text_over_several_lines() {
        let file =
            "\u{feff}Reference,text,title\r\nA1,\"Mod.\r\nMod met Dom.\",Mod\r\n\r\n,dom,\"Dom, again\"\r\n";
        let books = read(file.as_bytes()).unwrap();
        assert_eq!(books.len(), 2);
        let (line, first) = &books[0];
        assert_eq!((*line, first.title.as_str(), first.text.as_str()), (2, "Mod", "Mod.\r\nMod met Dom."));
        assert_eq!((&first.reference, first.source), (&Reference::new("A1").ok(), Source::Text));
        let (line, second) = &books[1];
        assert_eq!((*line, second.title.as_str(), &second.reference), (5, "Dom, again", &None));
    }

    #[test]
    fn what_is_in_a_book_may_be_its_words() {
        let books = read(b"title,source,text\nMod,words,\"mod, dom, re-do\"\n").unwrap();
        assert_eq!(books[0].1.source, Source::Words);
        // As an office program writes it: a typographic apostrophe.
        let books = read(b"title,text\nMod\x92s hat,mod\n").unwrap();
        assert_eq!(books[0].1.title.as_str(), "Mod\u{2019}s hat");
    }

    #[test]
    fn faults_name_line_and_column() {
        assert_eq!(faults(b""), ["file: is empty"]);
        assert_eq!(faults(b"title,text\nM\0,m\n"), ["file: holds a NUL byte: this is not a text file"]);
        assert_eq!(faults(b"title\nMod\n"), ["line 1: there is no column text"]);
        assert_eq!(faults(b"title,text,title\n"), ["line 1: column title stands twice"]);
        assert!(faults(b"title,text,level\n")[0].starts_with("line 1: column 3 has a name unknown here"));
        assert_eq!(
            faults(b"title,source,text\n,sound,mod\nMod,,12 4th\nDom,words\n"),
            [
                "line 2.title: must not be empty",
                "line 2.source: must be words or text",
                "line 3.text: must hold at least one word",
                "line 4: has 2 cells where the header has 3"
            ]
        );
        let many = format!("title,text\n{}", "Mod,mod\n".repeat(2_001));
        assert_eq!(faults(many.as_bytes()), ["file: holds more than 2000 rows"]);
        assert_eq!(read(b"title,text\n").unwrap(), []);
    }
}
