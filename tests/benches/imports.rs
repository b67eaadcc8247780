//! Pupil files of 5,000 rows and one that unpacks to a hundred megabytes: how long the served binary
//! takes over them and what memory it holds, with the raw parse of the same bytes beside it.
//!
//!     cargo build --release && cargo bench -p plumbline-tests --bench imports
//!
//! On PostgreSQL with `PLUMBLINE_TEST_STORE` and `PLUMBLINE_TEST_PG`, as the tests.
#![allow(clippy::unwrap_used)]

use std::{
    fmt::Write as _,
    io::{Cursor, Read as _, Write as _},
    path::PathBuf,
    time::{Duration, Instant},
};

use plumbline_tests::{Client, School, Server, TODAY, Value, json, text};

const ROWS: usize = 5_000;
const WORKBOOK: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
const HEADER: [&str; 6] =
    ["pupil_ref", "given_name", "family_name", "date_of_birth", "year_group", "class_name"];

/// The rows of a file; `moved` puts everybody into another class.
fn rows(moved: bool) -> Vec<[String; 6]> {
    let row = |n: usize| {
        let class = if moved { (n + 1) % 170 } else { n % 170 };
        let born = format!("{}-{:02}-{:02}", 2019 + n % 3, n % 12 + 1, n % 28 + 1);
        let year = ["Year 2", "Year 1", "Reception"][n % 3];
        [
            format!("R{n:05}"),
            format!("Given{n}"),
            format!("Family{}", n % 700),
            born,
            year.into(),
            format!("Class {class}"),
        ]
    };
    (0..ROWS).map(row).collect()
}

fn csv(rows: &[[String; 6]]) -> Vec<u8> {
    let lines = rows.iter().map(|row| row.join(","));
    std::iter::once(HEADER.join(",")).chain(lines).collect::<Vec<_>>().join("\r\n").into_bytes()
}

fn workbook(rows: &[[String; 6]]) -> Vec<u8> {
    let mut sheet = String::from(
        "<worksheet xmlns=\"http://schemas.openxmlformats.org/spreadsheetml/2006/main\"><sheetData>",
    );
    let header = HEADER.map(str::to_owned);
    for (n, row) in std::iter::once(&header).chain(rows).enumerate() {
        write!(sheet, "<row r=\"{}\">", n + 1).unwrap();
        for (cell, column) in row.iter().zip('A'..) {
            write!(sheet, "<c r=\"{column}{}\" t=\"inlineStr\"><is><t>{cell}</t></is></c>", n + 1).unwrap();
        }
        sheet.push_str("</row>");
    }
    sheet.push_str("</sheetData></worksheet>");
    let main = "<workbook xmlns=\"http://schemas.openxmlformats.org/spreadsheetml/2006/main\" xmlns:r=\"http://schemas.openxmlformats.org/officeDocument/2006/relationships\"><sheets><sheet name=\"Pupils\" sheetId=\"1\" r:id=\"rId1\"/></sheets></workbook>";
    let relations = "<Relationships xmlns=\"http://schemas.openxmlformats.org/package/2006/relationships\"><Relationship Id=\"rId1\" Type=\"http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet\" Target=\"worksheets/sheet1.xml\"/></Relationships>";
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, content) in [
        ("xl/workbook.xml", main),
        ("xl/_rels/workbook.xml.rels", relations),
        ("xl/worksheets/sheet1.xml", sheet.as_str()),
    ] {
        zip.start_file(name, zip::write::SimpleFileOptions::default()).unwrap();
        zip.write_all(content.as_bytes()).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

/// Every cell of the bytes read and counted by the plain reader of the format.
fn raw(bytes: &[u8], media: &str) -> Duration {
    let begun = Instant::now();
    let cells = if media == WORKBOOK {
        let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
        let mut sheet = String::new();
        archive.by_name("xl/worksheets/sheet1.xml").unwrap().read_to_string(&mut sheet).unwrap();
        let mut reader = quick_xml::Reader::from_str(&sheet);
        let mut cells = 0;
        loop {
            match reader.read_event().unwrap() {
                quick_xml::events::Event::Text(_) => cells += 1,
                quick_xml::events::Event::Eof => break cells,
                _ => {}
            }
        }
    } else {
        let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(bytes);
        reader.records().map(|record| record.unwrap().len()).sum()
    };
    assert_eq!(cells, (ROWS + 1) * HEADER.len());
    begun.elapsed()
}

fn ms(time: Duration) -> String {
    format!("{:.0} ms", time.as_secs_f64() * 1e3)
}

/// Does something and says how long it took and what the server's memory rose to.
fn timed(school: &School, what: &str, work: impl FnOnce() -> Value) -> (Value, Duration) {
    let begun = Instant::now();
    let done = work();
    let took = begun.elapsed();
    println!("  {what:<28} {:>9}   peak {:>4} MiB", ms(took), school.server.peak_memory() / 1024);
    (done, took)
}

/// Previews and confirms a file; the address of the import.
fn import(school: &School, lead: &Client, name: &str, file: &[u8], media: &str) -> String {
    let plain = raw(file, media);
    println!("{name}: {} KiB; raw parse {:.1} ms", file.len() / 1024, plain.as_secs_f64() * 1e3);
    let send = || lead.send("POST", "/api/v1/roster-imports", Some(media), file).expect(201);
    let (preview, took) = timed(school, "preview", send);
    println!("  preview / raw parse          {:>9.0}", took.as_secs_f64() / plain.as_secs_f64());
    let path = format!("/roster-imports/{}", text(&preview["id"]));
    let confirm = || lead.post(&format!("{path}/confirm"), json!({"from": TODAY})).expect(200);
    timed(school, "confirm", confirm);
    path
}

fn undo(school: &School, lead: &Client, path: &str) {
    timed(school, "undo", || lead.call("POST", &format!("{path}/undo"), None).expect(200));
}

fn main() {
    // `cargo bench` passes arguments of its own; the binary is the release build unless told.
    if std::env::var_os("PLUMBLINE_BIN").is_none() {
        let built = PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../target/release/plumbline"));
        assert!(
            built.exists(),
            "no {}: run cargo build --release, or name a binary in PLUMBLINE_BIN",
            built.display()
        );
        let bench = std::env::current_exe().unwrap();
        let told = std::process::Command::new(bench).env("PLUMBLINE_BIN", built).status().unwrap();
        assert!(told.success());
        return;
    }
    for (name, media) in [("CSV", "text/csv"), ("XLSX", WORKBOOK)] {
        let file = |moved: bool| if media == WORKBOOK { workbook(&rows(moved)) } else { csv(&rows(moved)) };
        let school = School::on(Server::start(TODAY));
        school.calendar();
        let lead = school.lead();
        println!("{name}, server at rest: peak {} MiB", school.server.peak_memory() / 1024);
        let first = import(&school, &lead, &format!("{name}, {ROWS} new pupils"), &file(false), media);
        undo(&school, &lead, &first);
        import(&school, &lead, &format!("{name}, {ROWS} new pupils again"), &file(false), media);
        let second =
            import(&school, &lead, &format!("{name}, {ROWS} pupils to another class"), &file(true), media);
        undo(&school, &lead, &second);
        timed(&school, "export", || Value::String(lead.get("/pupils/export").text));
    }
    let school = School::start();
    let lead = school.lead();
    let bomb = std::fs::read(concat!(env!("CARGO_MANIFEST_DIR"), "/cases/O35_xlsx_bomb.xlsx")).unwrap();
    lead.post_csv("/roster-imports", b"given_name\nIda\n").expect(201);
    println!(
        "{} KiB that unpack to 96 MiB: peak before {} KiB",
        bomb.len() / 1024,
        school.server.peak_memory()
    );
    timed(&school, "refusal", || lead.send("POST", "/api/v1/roster-imports", Some(WORKBOOK), &bomb).json());
    println!("  peak after {} KiB", school.server.peak_memory());
}
