//! The parts of a workbook beside its cells.

use std::{
    borrow::Cow,
    collections::{BTreeMap, BTreeSet},
    io::BufRead,
};

use quick_xml::{
    Reader,
    escape::unescape,
    events::{BytesStart, Event},
};

use crate::files::bounds::FileError;

/// A sheet of a book.
pub struct SheetHead {
    /// Its name.
    pub name: String,
    /// Which relation names its part.
    pub target: String,
    /// Whether it is hidden.
    pub hidden: bool,
}

/// A book.
pub struct Book {
    /// Its sheets, in order.
    pub sheets: Vec<SheetHead>,
    /// Whether days are counted from 1904.
    pub from_1904: bool,
}

/// Calls a function with every event of a document.
///
/// # Errors
/// [`FileError::Damaged`], for a document type as well: nothing here needs one.
pub fn events(
    xml: &mut dyn BufRead,
    mut with: impl FnMut(&Event<'_>) -> Result<(), FileError>,
) -> Result<(), FileError> {
    let mut reader = Reader::from_reader(xml);
    reader.config_mut().expand_empty_elements = true;
    let mut buffer = Vec::new();
    loop {
        buffer.clear();
        match reader.read_event_into(&mut buffer) {
            Ok(Event::Eof) => return Ok(()),
            Ok(Event::DocType(_)) => {
                return Err(FileError::Damaged("it has a document type, which workbooks do not".into()));
            }
            Ok(event) => with(&event)?,
            Err(error) => return Err(FileError::Damaged(error.to_string())),
        }
    }
}

/// An attribute, by its name without a namespace.
pub fn attribute(element: &BytesStart<'_>, name: &str) -> Option<String> {
    let found = element.attributes().flatten().find(|found| found.key.local_name().as_ref() == name);
    found.and_then(|found| unescape(&found.value).ok().map(Cow::into_owned))
}

/// Whether an attribute says yes.
pub fn says_yes(element: &BytesStart<'_>, name: &str) -> bool {
    attribute(element, name).is_some_and(|value| value == "1" || value == "true")
}

/// The text of an event; empty for anything else.
pub fn text(event: &Event<'_>) -> String {
    match event {
        Event::Text(text) => text.to_string(),
        Event::CData(text) => text.to_string(),
        Event::GeneralRef(reference) => {
            let whole = format!("&{};", &**reference);
            unescape(&whole).map(Cow::into_owned).unwrap_or_default()
        }
        _ => String::new(),
    }
}

pub fn workbook(xml: &mut dyn BufRead) -> Result<Book, FileError> {
    let mut book = Book { sheets: Vec::new(), from_1904: false };
    events(xml, |event| {
        if let Event::Start(element) = event {
            match element.local_name().as_ref() {
                "workbookPr" => book.from_1904 = says_yes(element, "date1904"),
                "sheet" => book.sheets.push(SheetHead {
                    name: attribute(element, "name").unwrap_or_default(),
                    target: attribute(element, "id").unwrap_or_default(),
                    hidden: attribute(element, "state").is_some_and(|state| state != "visible"),
                }),
                _ => {}
            }
        }
        Ok(())
    })?;
    Ok(book)
}

/// Parts by the relations that name them.
pub fn targets(xml: &mut dyn BufRead) -> Result<BTreeMap<String, String>, FileError> {
    let mut targets = BTreeMap::new();
    events(xml, |event| {
        if let Event::Start(element) = event
            && let (Some(id), Some(target)) = (attribute(element, "Id"), attribute(element, "Target"))
        {
            targets.insert(id, target);
        }
        Ok(())
    })?;
    Ok(targets)
}

/// The strings cells share, in order; without their readings in another script.
pub fn strings(xml: &mut dyn BufRead) -> Result<Vec<String>, FileError> {
    let (mut strings, mut current): (Vec<String>, String) = (Vec::new(), String::new());
    let (mut in_text, mut in_reading) = (false, false);
    events(xml, |event| {
        match event {
            Event::Start(element) => match element.local_name().as_ref() {
                "t" => in_text = true,
                "rPh" => in_reading = true,
                _ => {}
            },
            Event::End(element) => match element.local_name().as_ref() {
                "t" => in_text = false,
                "rPh" => in_reading = false,
                "si" => strings.push(std::mem::take(&mut current)),
                _ => {}
            },
            other if in_text && !in_reading => current.push_str(&text(other)),
            _ => {}
        }
        Ok(())
    })?;
    Ok(strings)
}

/// Which cell styles show a number as a day.
pub fn day_styles(xml: &mut dyn BufRead) -> Result<Vec<bool>, FileError> {
    // ECMA-376 part 1, 18.8.30: formats 14 to 17 and 22 are days, 27 to 36 and 50 to 58 days in
    // East Asian calendars.
    let built_in = |id: u32| matches!(id, 14..=17 | 22 | 27..=36 | 50..=58);
    let mut own: BTreeSet<u32> = BTreeSet::new();
    let (mut styles, mut in_cell_styles) = (Vec::new(), false);
    events(xml, |event| {
        match event {
            Event::Start(element) => match element.local_name().as_ref() {
                "numFmt" => {
                    let id = attribute(element, "numFmtId").and_then(|id| id.parse::<u32>().ok());
                    let code = attribute(element, "formatCode").unwrap_or_default();
                    own.extend(id.filter(|_| shows_a_day(&code)));
                }
                "cellXfs" => in_cell_styles = true,
                "xf" if in_cell_styles => {
                    let id = attribute(element, "numFmtId").and_then(|id| id.parse().ok()).unwrap_or(0);
                    styles.push(built_in(id) || own.contains(&id));
                }
                _ => {}
            },
            Event::End(element) if element.local_name().as_ref() == "cellXfs" => in_cell_styles = false,
            _ => {}
        }
        Ok(())
    })?;
    Ok(styles)
}

/// Whether a format's code has a day or a year outside quotes and brackets.
fn shows_a_day(code: &str) -> bool {
    let (mut quoted, mut bracketed, mut escaped) = (false, false, false);
    code.chars().any(|c| {
        if std::mem::take(&mut escaped) {
            return false;
        }
        match c {
            '\\' => escaped = true,
            '"' => quoted = !quoted,
            '[' if !quoted => bracketed = true,
            ']' if !quoted => bracketed = false,
            'd' | 'D' | 'y' | 'Y' if !quoted && !bracketed => return true,
            _ => {}
        }
        false
    })
}

#[cfg(test)]
mod tests {
    use super::shows_a_day;

    #[test]
    fn a_format_shows_a_day_by_its_letters_alone() {
        for code in ["dd/mm/yyyy", "[$-809]d mmmm yyyy;@", "yyyy"] {
            assert!(shows_a_day(code), "{code}");
        }
        for code in ["0.00", "#,##0 \"days\"", "[Red]0", "h:mm:ss", "0\\d"] {
            assert!(!shows_a_day(code), "{code}");
        }
    }
}
