//! Workbooks (ECMA-376, SpreadsheetML) as a sheet. Formulas are never worked out: their last value
//! is read, and a formula without one is said to have none. Entities and document types are not
//! expanded.

mod cells;
mod parts;

use plumbline_core::roster::file::{Format, Sheet};

use super::{archive::Archive, bounds::FileError};

/// Whether bytes are a zip archive, as workbooks are.
pub fn is_archive(bytes: &[u8]) -> bool {
    bytes.starts_with(b"PK\x03\x04")
}

/// Reads the first sheet that is not hidden.
///
/// # Errors
/// What keeps the file from being read at all.
pub fn read(bytes: &[u8]) -> Result<Sheet, FileError> {
    let mut archive = Archive::open(bytes)?;
    let missing = |part: &str| FileError::Damaged(format!("there is no {part} in it: is it a workbook?"));
    let book = archive.read("xl/workbook.xml", parts::workbook)?.ok_or_else(|| missing("xl/workbook.xml"))?;
    let targets = archive.read("xl/_rels/workbook.xml.rels", parts::targets)?.unwrap_or_default();
    let strings = archive.read("xl/sharedStrings.xml", parts::strings)?.unwrap_or_default();
    let days = archive.read("xl/styles.xml", parts::day_styles)?.unwrap_or_default();
    let mut shown = book.sheets.iter().filter(|sheet| !sheet.hidden);
    let first = shown.next().ok_or(FileError::Empty)?;
    let target = targets.get(&first.target).ok_or_else(|| missing(&first.name))?;
    let part = match target.strip_prefix('/') {
        Some(whole) => whole.to_owned(),
        None => format!("xl/{target}"),
    };
    let reading = cells::Reading { strings: &strings, days: &days, from_1904: book.from_1904 };
    let sheet = archive.read(&part, |xml| reading.sheet(xml))?.ok_or_else(|| missing(&part))?;
    if sheet.lines.is_empty() {
        return Err(FileError::Empty);
    }
    Ok(Sheet {
        format: Format::Workbook,
        name: Some(first.name.clone()),
        other_sheets: shown.map(|sheet| sheet.name.clone()).collect(),
        ..sheet
    })
}

#[cfg(test)]
mod tests;
