use std::io::{Cursor, Write as _};

use plumbline_core::roster::file::Cell;
use zip::{ZipWriter, write::SimpleFileOptions};

use super::*;

const BOOK: &str = r#"<workbook xmlns:r="r"><workbookPr date1904="FALSE"/><sheets>
    <sheet name="Old" r:id="a" state="hidden"/><sheet name="Alder &amp; Rowan" r:id="b"/><sheet name="More" r:id="c"/>
    </sheets></workbook>"#;
const TARGETS: &str = r#"<Relationships><Relationship Id="a" Target="worksheets/sheet1.xml"/>
    <Relationship Id="b" Target="/xl/worksheets/sheet2.xml"/></Relationships>"#;
const STRINGS: &str =
    "<sst><si><t>Zoë</t></si><si><r><t>O’</t></r><r><t>Neill</t></r><rPh><t>no</t></rPh></si></sst>";
const STYLES: &str = r#"<styleSheet><numFmts><numFmt numFmtId="165" formatCode="dd\-mmm"/></numFmts>
    <cellStyleXfs><xf numFmtId="14"/></cellStyleXfs><cellXfs><xf numFmtId="0"/><xf numFmtId="165"/></cellXfs></styleSheet>"#;

fn book(sheet: &str) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    let parts = [
        ("xl/workbook.xml", BOOK),
        ("xl/_rels/workbook.xml.rels", TARGETS),
        ("xl/sharedStrings.xml", STRINGS),
        ("xl/styles.xml", STYLES),
        ("xl/worksheets/sheet2.xml", sheet),
    ];
    for (name, text) in parts {
        zip.start_file(name, SimpleFileOptions::default()).unwrap();
        zip.write_all(text.as_bytes()).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

fn cells(sheet: &str) -> Vec<(u64, Vec<Cell>)> {
    read(&book(sheet)).unwrap().lines.into_iter().map(|line| (line.line, line.cells)).collect()
}

fn text(text: &str) -> Cell {
    Cell::Text(text.into())
}

#[test]
fn cells_are_read_as_what_they_are() {
    let sheet = r#"<worksheet><sheetData><row r="2">
        <c r="A2" t="s"><v>0</v></c><c r="B2" t="s"><v>1</v></c><c r="D2" s="1"><v>43499.5</v></c><c r="E2"><v>7</v></c>
        <c r="F2" t="e"><v>#REF!</v></c><c r="G2" t="str"><f>1</f></c><c r="H2" t="str"><f>1</f><v>P&amp;1</v></c>
        <c r="I2" t="b"><v>1</v></c><c r="J2" t="s"><v>9</v></c><c r="K2" t="d"><v>2019-02-03T00:00:00</v></c>
        </row><row r="3"><c r="A3" t="inlineStr"><is><t> </t></is></c></row></sheetData></worksheet>"#;
    let day = "2019-02-03".parse().unwrap();
    let expected = vec![
        text("Zoë"),
        text("O’Neill"),
        text(""),
        Cell::Day(day),
        Cell::Number(7.0),
        Cell::Bad("#REF!".into()),
        Cell::Bad("a formula without its last value".into()),
        text("P&1"),
        text("TRUE"),
        Cell::Bad("a string that the workbook does not hold".into()),
        Cell::Day(day),
    ];
    assert_eq!(cells(sheet), [(2, expected)]);
    let whole = read(&book(sheet)).unwrap();
    assert_eq!((whole.name.as_deref(), whole.other_sheets), (Some("Alder & Rowan"), vec!["More".to_owned()]));
}

#[test]
fn merged_cells_hold_for_the_lines_below_and_hidden_ones_are_marked() {
    let sheet = r#"<worksheet><cols><col min="2" max="16384" hidden="1"/></cols><sheetData>
        <row r="1"><c r="A1" t="inlineStr"><is><t>Oak</t></is></c><c r="B1"><v>1</v></c></row>
        <row r="2" hidden="1"><c r="B2"><v>2</v></c></row><row r="3"><c r="B3"><v>3</v></c></row></sheetData>
        <mergeCells><mergeCell ref="A1:A2"/></mergeCells></worksheet>"#;
    let read = read(&book(sheet)).unwrap();
    let first: Vec<String> = read.lines.iter().map(|line| line.cells[0].text()).collect();
    assert_eq!(first, ["Oak", "Oak", ""]);
    assert_eq!(read.lines.iter().map(|line| line.hidden).collect::<Vec<_>>(), [false, true, false]);
    assert_eq!(read.hidden_columns.into_iter().collect::<Vec<_>>(), [1]);
}

#[test]
fn what_is_no_workbook_is_refused() {
    let error = |bytes: &[u8]| read(bytes).unwrap_err().to_string();
    assert!(error(b"PK\x03\x04nothing").contains("cannot be read"));
    assert!(
        error(&book("<worksheet><sheetData><row r=\"1\"><c r=\"A1\"><v>1</v>")).contains("cannot be read")
            || error(&book("<worksheet/>")) == "the file is empty"
    );
    assert_eq!(error(&book("<worksheet/>")), "the file is empty");
    let doctype = "<!DOCTYPE x [<!ENTITY a \"b\">]><worksheet/>";
    assert!(error(&book(doctype)).contains("document type"));
    let far = r#"<worksheet><sheetData><row r="1"><c r="ZZ1"><v>1</v></c></row></sheetData></worksheet>"#;
    assert!(error(&book(far)).contains("columns"));
    let back = r#"<worksheet><sheetData><row r="1"><c r="B1"><v>1</v></c><c r="A1"><v>1</v></c></row></sheetData></worksheet>"#;
    assert!(error(&book(back)).contains("out of order"));
}

#[test]
fn no_two_rows_have_one_number() {
    let rows = |numbers: [&str; 2]| {
        let row = |r: &str| format!("<row{r}><c t=\"inlineStr\"><is><t>Zoe</t></is></c></row>");
        book(&format!("<worksheet><sheetData>{}</sheetData></worksheet>", numbers.map(row).concat()))
    };
    for numbers in [[" r=\"7\"", " r=\"7\""], [" r=\"7\"", " r=\"6\""], [" r=\"0\"", " r=\"1\""]] {
        let error = read(&rows(numbers)).unwrap_err().to_string();
        assert!(error.contains("out of order"), "{error}");
    }
    // No number, or none that a row could have, is the next one.
    for numbers in [[" r=\"7\"", ""], [" r=\"7\"", " r=\"18446744073709551615\""]] {
        let read = read(&rows(numbers)).unwrap();
        assert_eq!(read.lines.iter().map(|line| line.line).collect::<Vec<_>>(), [7, 8]);
    }
}

#[test]
fn a_bomb_is_refused_by_what_it_holds_and_not_only_by_what_it_says() {
    let spaces = " ".repeat(usize::try_from(crate::files::bounds::MOST_UNPACKED).unwrap() + 1);
    let sheet = format!("<worksheet>{spaces}</worksheet>");
    let bytes = book(&sheet);
    assert!(bytes.len() < 200_000);
    assert_eq!(read(&bytes).unwrap_err(), FileError::Unpacked);
    // The same with a size written small: only the true bytes tell.
    let said = u32::try_from(sheet.len()).unwrap().to_le_bytes();
    let mut lying = bytes;
    while let Some(at) = lying.windows(4).position(|four| four == said) {
        lying[at..at + 4].copy_from_slice(&10_u32.to_le_bytes());
    }
    assert!(read(&lying).is_err());
}
