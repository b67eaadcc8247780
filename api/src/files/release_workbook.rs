//! A release as a workbook (ECMA-376). It follows from the release alone: no clock, no name of whoever asked for it.

use chrono::Datelike as _;
use plumbline_core::{
    disclosure::{Audience, PercentIs},
    report::{
        Figure, Release, Row, Table,
        paper::{BASIS, NOTHING, Paper, pupils_heading},
    },
    time::Date,
};
use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format, FormatAlign, Workbook, Worksheet, XlsxError};

/// The media type of a workbook.
pub const MEDIA_TYPE: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";

/// The columns of figures, each as wide as so many letters.
const fn columns(audience: Audience) -> [(&'static str, f64); 10] {
    [
        ("Measure", 32.0),
        ("By", 18.0),
        ("Group", 36.0),
        ("Symbol", 9.0),
        (pupils_heading(audience), 13.0),
        ("Not known", 11.0),
        ("Met it", 9.0),
        ("Per cent", 10.0),
        ("Range from, per cent", 21.0),
        ("Range to, per cent", 19.0),
    ]
}

/// Writes a release. `paper` is the same release in words; `field` names an optional field by its code.
///
/// # Errors
/// If a text is longer than a cell may be, 32,767 letters.
pub fn write(
    release: &Release,
    paper: &Paper,
    field: impl Fn(&str) -> Option<String> + Copy,
) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    // Else it says when it was written.
    let made = DocProperties::new().set_title(&paper.title).set_creation_datetime(&midnight(release.as_of)?);
    book.set_properties(&made);
    figures(book.add_worksheet().set_name("Figures")?, release, field)?;
    words(book.add_worksheet().set_name("What they mean")?, paper)?;
    book.save_to_buffer()
}

fn midnight(day: Date) -> Result<ExcelDateTime, XlsxError> {
    let part = |value: u32| u8::try_from(value).unwrap_or(1);
    ExcelDateTime::from_ymd(u16::try_from(day.year()).unwrap_or(1900), part(day.month()), part(day.day()))
}

fn figures(
    sheet: &mut Worksheet,
    release: &Release,
    field: impl Fn(&str) -> Option<String> + Copy,
) -> Result<(), XlsxError> {
    const A4: u8 = 9;
    let head = Format::new().set_bold().set_text_wrap();
    for (column, (heading, width)) in (0..).zip(columns(release.audience)) {
        sheet.set_column_width(column, width)?.write_string_with_format(0, column, heading, &head)?;
    }
    sheet.set_freeze_panes(1, 0)?.set_repeat_rows(0, 0)?;
    sheet.set_paper_size(A4).set_landscape().set_print_fit_to_pages(1, 0);
    let rows = release.tables.iter().flat_map(|table| table.rows.iter().map(move |row| (table, row)));
    for (place, (table, row)) in (1..).zip(rows) {
        line(sheet, place, table, row, field)?;
    }
    Ok(())
}

fn line(
    sheet: &mut Worksheet,
    at: u32,
    table: &Table,
    row: &Row,
    field: impl Fn(&str) -> Option<String>,
) -> Result<(), XlsxError> {
    let text = Format::new().set_text_wrap().set_align(FormatAlign::Top);
    let by = row.by.as_ref().map(|by| by.heading(field)).unwrap_or_default();
    for (column, value) in [(0, table.name.clone()), (1, by), (2, table.called(row))] {
        sheet.write_string_with_format(at, column, value, &text)?;
    }
    match row.figure.symbol {
        Some(symbol) => sheet.write_string_with_format(at, 3, symbol.as_str(), &text).map(|_| ()),
        None => numbers(sheet, at, &row.figure),
    }
}

fn numbers(sheet: &mut Worksheet, at: u32, figure: &Figure) -> Result<(), XlsxError> {
    let whole = Format::new().set_num_format("0").set_align(FormatAlign::Top);
    let tenths = Format::new().set_num_format("0.0").set_align(FormatAlign::Top);
    for (column, value) in [(4, figure.pupils), (5, figure.not_known), (6, figure.met)] {
        if let Some(value) = value {
            sheet.write_number_with_format(at, column, value, &whole)?;
        }
    }
    match figure.percent {
        Some(told) if told.is == PercentIs::About => {
            sheet.write_number_with_format(at, 7, told.percent, &whole)?;
        }
        Some(limit) => {
            let right = Format::new().set_align(FormatAlign::Right).set_align(FormatAlign::Top);
            sheet.write_string_with_format(at, 7, limit.to_string(), &right)?;
        }
        None => {}
    }
    for (column, value) in [(8, figure.interval.map(|one| one.0)), (9, figure.interval.map(|one| one.1))] {
        if let Some(value) = value {
            sheet.write_number_with_format(at, column, f64::from(value) / 10.0, &tenths)?;
        }
    }
    Ok(())
}

/// What there is to read beside the figures, a line a row: what it is about, and what is said.
fn words(sheet: &mut Worksheet, paper: &Paper) -> Result<(), XlsxError> {
    let bold = Format::new().set_bold().set_text_wrap().set_align(FormatAlign::Top);
    let text = Format::new().set_text_wrap().set_align(FormatAlign::Top);
    sheet.set_column_width(0, 30)?.set_column_width(1, 90)?.set_print_fit_to_pages(1, 0);
    let about = |what: &str, said: &str| (what.to_owned(), said.to_owned());
    let mut lines = vec![
        about("This workbook", &paper.title),
        about("For whom", paper.readers),
        about("Of which day", &paper.as_of),
    ];
    lines.extend(paper.says.iter().map(|said| about("How to read it", said)));
    for measure in &paper.measures {
        let said = std::iter::once(&measure.means).chain(&measure.notes);
        lines.extend(said.map(|said| about(&measure.name, said)));
    }
    lines.extend(paper.nothing.iter().map(|said| about(NOTHING, said)));
    lines.extend(paper.symbols.iter().map(|(code, label)| about(code, label)));
    lines.extend(paper.basis.iter().map(|said| about(BASIS, said)));
    for (row, (what, said)) in (0..).zip(&lines) {
        sheet.write_string_with_format(row, 0, what, &bold)?.write_string_with_format(row, 1, said, &text)?;
    }
    Ok(())
}
