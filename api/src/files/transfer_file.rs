//! Common Transfer Files (Department for Education, XML): the basics of each pupil as a sheet, a
//! line a pupil. Everything else in the file stays unread. A document type is refused and so is
//! every entity but those of XML itself; elements inside one another are bounded.
//!
//! Such a file carries the pupils that move between schools, so who is not in it is not missing.

use std::borrow::Cow;

use plumbline_core::roster::file::{Cell, Format, Line, Sheet};
use quick_xml::{Reader, escape::unescape, events::Event};

use super::{
    bounds::{FileError, MOST_CELL, MOST_DEPTH, MOST_ROWS},
    csv_text::decode,
};

/// The root element.
const ROOT: &str = "CTfile";
/// Where a pupil stands.
const PUPIL: [&str; 3] = [ROOT, "CTFpupilData", "Pupil"];
/// Where the version stands.
const VERSION: [&str; 3] = [ROOT, "Header", "CTFversion"];
/// The elements of a pupil that are read. The last two are one thing in newer and older files.
const READ: [&str; 6] = ["UPN", "Surname", "Forename", "DOB", "Sex", "Gender"];
/// Of these, how many every sheet has as columns; the others are there where a file says something.
const BASIC: usize = 4;

/// Whether a text is XML: no file of cells starts so.
pub fn is_xml(bytes: &[u8]) -> bool {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    bytes.trim_ascii_start().starts_with(b"<")
}

/// Reads a file. Pupils count as lines from 2 on, below the names of the elements.
///
/// # Errors
/// What keeps the file from being read at all, with its place.
pub fn read(bytes: &[u8]) -> Result<Sheet, FileError> {
    let (text, encoding) = decode(bytes);
    let mut reading = Reading::new(&text);
    let mut version = String::new();
    let mut lines = vec![line(1, &READ.map(String::from))];
    let mut pupil: [String; READ.len()] = Default::default();
    while let Some(event) = reading.next()? {
        match event {
            Step::Open if reading.path == PUPIL => pupil = Default::default(),
            Step::Open => {
                if reading.cell().and_then(|n| pupil.get(n)).is_some_and(|cell| !cell.is_empty()) {
                    return Err(reading.wrong("an element that the pupil has already".into()));
                }
            }
            Step::Text(text) if reading.path == VERSION => version.push_str(&text),
            Step::Text(text) => {
                let cell = reading.cell().and_then(|n| pupil.get_mut(n));
                if let Some(cell) = cell {
                    cell.push_str(&text);
                    if cell.len() > MOST_CELL {
                        return Err(reading.wrong(format!("a value of more than {MOST_CELL} bytes")));
                    }
                }
            }
            Step::Close if reading.path == PUPIL => {
                if lines.len() > MOST_ROWS {
                    return Err(FileError::TooManyRows);
                }
                lines.push(line(lines.len() as u64 + 1, &pupil));
            }
            Step::Close => {}
        }
    }
    for n in (BASIC..READ.len()).rev() {
        if lines.iter().skip(1).all(|line| line.cells.get(n).is_none_or(Cell::is_empty)) {
            for line in &mut lines {
                line.cells.remove(n);
            }
        }
    }
    Ok(Sheet {
        format: Format::TransferFile,
        version: Some(version.trim().chars().take(20).collect::<String>()).filter(|v| !v.is_empty()),
        changes_only: true,
        lines,
        encoding: Some(encoding.to_owned()),
        ..Sheet::default()
    })
}

fn line(line: u64, cells: &[String]) -> Line {
    Line { line, cells: cells.iter().cloned().map(Cell::Text).collect(), ..Line::default() }
}

/// What happens in a document. An element that closes is still the last of the path.
enum Step {
    Open,
    Text(String),
    Close,
}

struct Reading<'a> {
    text: &'a str,
    reader: Reader<&'a [u8]>,
    /// The elements that are open.
    path: Vec<String>,
    /// Whether the last of them closes.
    closes: bool,
    /// Whether there was a first element.
    begun: bool,
}

impl<'a> Reading<'a> {
    fn new(text: &'a str) -> Self {
        let mut reader = Reader::from_str(text);
        reader.config_mut().expand_empty_elements = true;
        Self { text, reader, path: Vec::new(), closes: false, begun: false }
    }

    /// The next step; none at the end.
    fn next(&mut self) -> Result<Option<Step>, FileError> {
        if std::mem::take(&mut self.closes) {
            self.path.pop();
        }
        loop {
            let step = match self.reader.read_event() {
                Ok(Event::Start(element)) => self.open(element.local_name().as_ref())?,
                Ok(Event::End(_)) => {
                    self.closes = true;
                    Step::Close
                }
                Ok(Event::Text(text)) => Step::Text(text.to_string()),
                Ok(Event::CData(text)) => Step::Text(text.to_string()),
                Ok(Event::GeneralRef(name)) => {
                    // XML's own five and characters by number; nothing else is ever looked up.
                    let known = unescape(&format!("&{};", &*name)).map(Cow::into_owned);
                    Step::Text(known.map_err(|_| self.wrong("an entity, which is not read".into()))?)
                }
                Ok(Event::DocType(_)) => return Err(self.wrong("a document type, which is not read".into())),
                Ok(Event::Eof) => return self.end(),
                Ok(_) => continue,
                Err(error) => return Err(self.at(self.reader.error_position(), error.to_string())),
            };
            if matches!(&step, Step::Text(text) if self.path.is_empty() && !text.trim().is_empty()) {
                return Err(self.wrong("text outside every element".into()));
            }
            return Ok(Some(step));
        }
    }

    fn open(&mut self, name: &str) -> Result<Step, FileError> {
        if self.path.is_empty() && (self.begun || name != ROOT) {
            let name: String = name.chars().take(40).collect();
            return Err(
                self.wrong(format!("<{name}>: this XML is no Common Transfer File, a single <{ROOT}>"))
            );
        }
        if self.path.len() >= MOST_DEPTH {
            return Err(self.wrong(format!("more than {MOST_DEPTH} elements inside one another")));
        }
        self.begun = true;
        self.path.push(name.to_owned());
        Ok(Step::Open)
    }

    fn end(&self) -> Result<Option<Step>, FileError> {
        match self.path.last() {
            Some(open) => Err(self.wrong(format!("the file ends before <{open}> is closed"))),
            None if !self.begun => Err(FileError::Empty),
            None => Ok(None),
        }
    }

    /// Which of [`READ`] is open, of a pupil.
    fn cell(&self) -> Option<usize> {
        let (name, pupil) = self.path.split_last()?;
        READ.iter().position(|read| read == name).filter(|_| pupil == PUPIL)
    }

    fn wrong(&self, what: String) -> FileError {
        self.at(self.reader.buffer_position(), what)
    }

    fn at(&self, byte: u64, what: String) -> FileError {
        let before = usize::try_from(byte).ok().and_then(|byte| self.text.get(..byte)).unwrap_or(self.text);
        let line = before.matches('\n').count() + 1;
        let column = before.rsplit('\n').next().unwrap_or_default().chars().count() + 1;
        FileError::At { place: format!("line {line}, character {column}"), what }
    }
}

#[cfg(test)]
mod tests;
