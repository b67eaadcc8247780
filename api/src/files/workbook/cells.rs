//! The cells of a sheet.

use std::{collections::BTreeMap, io::BufRead};

use chrono::Days;
use plumbline_core::{
    roster::file::{Cell, Line, Sheet},
    time::Date,
};
use quick_xml::events::{BytesStart, Event};

use super::parts::{attribute, events, says_yes, text};
use crate::files::bounds::{FileError, MOST_CELL, MOST_CELLS, MOST_COLUMNS, MOST_ROWS};

/// What cells are read by.
pub struct Reading<'a> {
    /// Strings they share.
    pub strings: &'a [String],
    /// Which styles show a day.
    pub days: &'a [bool],
    /// Whether days are counted from 1904.
    pub from_1904: bool,
}

/// A cell that is being read.
#[derive(Default)]
struct Open {
    column: usize,
    kind: String,
    style: usize,
    formula: bool,
    value: Option<String>,
    inside: Inside,
}

/// Which text belongs to the cell.
#[derive(Default, PartialEq)]
enum Inside {
    #[default]
    Nothing,
    Value,
}

/// A range of merged cells in the column of its first one.
struct Merged {
    column: usize,
    first: u64,
    last: u64,
}

impl Reading<'_> {
    /// Reads a sheet's part.
    ///
    /// # Errors
    /// [`FileError`].
    pub fn sheet(&self, xml: &mut dyn BufRead) -> Result<Sheet, FileError> {
        let mut sheet = Sheet::default();
        let mut merged: Vec<Merged> = Vec::new();
        let mut row: Option<Line> = None;
        let mut open: Option<Open> = None;
        let (mut number, mut cells) = (0, 0);
        events(xml, |event| {
            match event {
                Event::Start(element) => match element.local_name().as_ref() {
                    "col" if says_yes(element, "hidden") => hide(element, &mut sheet),
                    "row" => {
                        number = row_number(element, number)?;
                        let hidden = says_yes(element, "hidden");
                        row = Some(Line { line: number, hidden, ..Line::default() });
                    }
                    "c" => {
                        cells += 1;
                        if cells > MOST_CELLS {
                            return Err(FileError::TooManyCells);
                        }
                        open = Some(self.opened(element, row.as_ref(), number)?);
                    }
                    "f" => {
                        if let Some(cell) = &mut open {
                            cell.formula = true;
                        }
                    }
                    "v" | "t" => {
                        if let Some(cell) = &mut open {
                            cell.inside = Inside::Value;
                            cell.value.get_or_insert_default();
                        }
                    }
                    "mergeCell" => merged.extend(attribute(element, "ref").and_then(|r| range(&r))),
                    _ => {}
                },
                Event::End(element) => match element.local_name().as_ref() {
                    "v" | "t" => {
                        if let Some(cell) = &mut open {
                            cell.inside = Inside::Nothing;
                        }
                    }
                    "c" => {
                        if let (Some(cell), Some(row)) = (open.take(), &mut row) {
                            row.cells.resize(cell.column, Cell::Text(String::new()));
                            row.cells.push(self.cell(cell));
                        }
                    }
                    "row" => {
                        let holds = |row: &Line| row.cells.iter().any(|cell| !cell.is_empty());
                        sheet.lines.extend(row.take().filter(holds));
                        if sheet.lines.len() > MOST_ROWS {
                            return Err(FileError::TooManyRows);
                        }
                    }
                    _ => {}
                },
                other => {
                    if let Some(Open { inside: Inside::Value, value: Some(value), .. }) = &mut open {
                        value.push_str(&text(other));
                        if value.len() > MOST_CELL {
                            return Err(FileError::CellTooLong(number));
                        }
                    }
                }
            }
            Ok(())
        })?;
        fill(&mut sheet, &merged);
        Ok(sheet)
    }

    fn opened(&self, element: &BytesStart<'_>, row: Option<&Line>, line: u64) -> Result<Open, FileError> {
        let next = row.map_or(0, |row| row.cells.len());
        let column = attribute(element, "r").and_then(|r| address(&r)).map_or(next, |(column, _)| column);
        if column >= MOST_COLUMNS {
            return Err(FileError::TooManyColumns(line));
        }
        if column < next {
            return Err(FileError::Damaged(format!("the cells of row {line} stand out of order")));
        }
        Ok(Open {
            column,
            kind: attribute(element, "t").unwrap_or_default(),
            style: attribute(element, "s").and_then(|s| s.parse().ok()).unwrap_or(0),
            ..Open::default()
        })
    }

    fn cell(&self, cell: Open) -> Cell {
        let Some(value) = cell.value else {
            return match cell.formula {
                true => Cell::Bad("a formula without its last value".into()),
                false => Cell::Text(String::new()),
            };
        };
        match cell.kind.as_str() {
            "s" => {
                let shared = value.trim().parse::<usize>().ok().and_then(|n| self.strings.get(n));
                shared.map_or_else(
                    || Cell::Bad("a string that the workbook does not hold".into()),
                    |text| Cell::Text(text.clone()),
                )
            }
            "inlineStr" | "str" => Cell::Text(value),
            "b" => Cell::Text(if value.trim() == "1" { "TRUE" } else { "FALSE" }.into()),
            "e" => Cell::Bad(value),
            "d" => value.get(..10).and_then(|day| day.parse().ok()).map_or(Cell::Text(value), Cell::Day),
            _ => match value.trim().parse::<f64>() {
                Ok(number) if number.is_finite() => self.number(number, cell.style),
                _ => Cell::Text(value),
            },
        }
    }

    fn number(&self, number: f64, style: usize) -> Cell {
        let is_day = self.days.get(style).copied().unwrap_or(false);
        let start = match self.from_1904 {
            true => Date::from_ymd_opt(1904, 1, 1),
            false => Date::from_ymd_opt(1899, 12, 30),
        };
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let whole = Some(number).filter(|n| (0.0..3_000_000.0).contains(n)).map(|n| n as u64);
        let day = start.zip(whole).and_then(|(start, days)| start.checked_add_days(Days::new(days)));
        day.filter(|_| is_day).map_or(Cell::Number(number), Cell::Day)
    }
}

fn hide(element: &BytesStart<'_>, sheet: &mut Sheet) {
    let at = |name| attribute(element, name).and_then(|n| n.parse::<usize>().ok());
    if let (Some(first), Some(last)) = (at("min"), at("max")) {
        // A range to the last column a spreadsheet can have hides what is not there.
        sheet.hidden_columns.extend((first.max(1)..=last.min(MOST_COLUMNS)).map(|n| n - 1));
    }
}

/// A row's own number, or the one after the row before. Answers go by it, so no two rows share one.
fn row_number(element: &BytesStart<'_>, before: u64) -> Result<u64, FileError> {
    let own = attribute(element, "r").and_then(|r| r.parse::<u32>().ok()).map(u64::from);
    match own.unwrap_or(before + 1) {
        number if number > before => Ok(number),
        number => Err(FileError::Damaged(format!("row {number} stands out of order"))),
    }
}

/// Column and row of `AB12`, the column from 0.
fn address(text: &str) -> Option<(usize, u64)> {
    let letters = text.bytes().take_while(u8::is_ascii_uppercase).count();
    let (column, row) = text.split_at(letters);
    let column =
        column.bytes().fold(0_usize, |n, b| n.saturating_mul(26).saturating_add(usize::from(b - b'A') + 1));
    Some((column.checked_sub(1)?, row.parse().ok()?))
}

fn range(text: &str) -> Option<Merged> {
    let (from, to) = text.split_once(':')?;
    let ((column, first), (_, last)) = (address(from)?, address(to)?);
    Some(Merged { column, first, last })
}

/// Gives the cells below a merged one its value, in its column.
fn fill(sheet: &mut Sheet, merged: &[Merged]) {
    let mut values: BTreeMap<(usize, u64), Cell> = BTreeMap::new();
    for line in &sheet.lines {
        for range in merged.iter().filter(|range| range.first == line.line) {
            if let Some(cell) = line.cells.get(range.column) {
                values.insert((range.column, range.first), cell.clone());
            }
        }
    }
    for line in &mut sheet.lines {
        let below = |range: &&Merged| range.first < line.line && line.line <= range.last;
        for range in merged.iter().filter(below) {
            let Some(value) = values.get(&(range.column, range.first)) else { continue };
            if line.cells.len() <= range.column {
                line.cells.resize(range.column + 1, Cell::Text(String::new()));
            }
            line.cells[range.column] = value.clone();
        }
    }
    // Columns no line reaches are not there to be hidden.
    let width = sheet.lines.iter().map(|line| line.cells.len()).max().unwrap_or(0);
    sheet.hidden_columns.retain(|column| *column < width);
}
