//! Pupil files damaged in every way chance finds: a reader refuses or reads, within its bounds, and
//! what it read goes through to a plan. It never panics; one that hangs is ended by the runner.
//!
//! Each target tries a bounded number of files, more in `tests/run long`. A failure names the
//! number of the file: `PLUMBLINE_FUZZ_ONE=number` tries that one alone.
#![allow(clippy::unwrap_used, clippy::expect_used)]

#[path = "../../tests/tests/feed/mod.rs"]
mod feed;
#[path = "fuzz/mutate.rs"]
mod mutate;

use std::{
    collections::BTreeMap,
    io::{Cursor, Read as _, Write as _},
    panic::{AssertUnwindSafe, catch_unwind},
    path::PathBuf,
    time::Instant,
};

use mutate::{Chance, mutate};
use plumbline_api::files::{
    bounds::{MOST_CELL, MOST_COLUMNS, MOST_ROWS},
    roster_file,
};
use plumbline_core::{
    roster::{
        Decisions,
        file::{Answers, Context, Format, Sheet, headings, read},
        plan,
    },
    rules::{RulePack, pack},
};
use zip::{CompressionMethod, ZipArchive, ZipWriter, write::SimpleFileOptions};

/// Files a target tries.
const RUNS: u64 = 1_500;
/// The same in the long run.
const LONG_RUNS: u64 = 100_000;
/// Longest complaint, in bytes: it goes into an answer.
const MOST_SAID: usize = 1_000;
/// Most memory a target may have needed, in KiB: the unpacked file several times over.
const MOST_MEMORY: u64 = 400 * 1024;

fn cases(end: &str) -> Vec<Vec<u8>> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../tests/cases");
    let mut names: Vec<PathBuf> =
        std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    names.sort();
    names.retain(|name| name.to_str().unwrap().ends_with(end));
    names.iter().map(|name| std::fs::read(name).unwrap()).collect()
}

/// Tries files made from a number; how many were read and how many refused.
fn fuzz(target: &str, make: impl Fn(&mut Chance) -> Vec<u8>) {
    let rules = pack("england").unwrap();
    let runs = if std::env::var_os("PLUMBLINE_LONG").is_some() { LONG_RUNS } else { RUNS };
    let one = std::env::var("PLUMBLINE_FUZZ_ONE").ok().map(|one| one.parse().unwrap());
    let numbers = one.map_or(0..runs, |one: u64| one..one + 1);
    let (begun, mut taken, mut refused) = (Instant::now(), 0_u64, 0_u64);
    for number in numbers {
        let bytes = make(&mut Chance::new(number));
        let tried = catch_unwind(AssertUnwindSafe(|| try_file(&bytes, rules)));
        match tried.unwrap_or_else(|_| panic!("{target}: file {number} makes a reader panic")) {
            Ok(true) => taken += 1,
            Ok(false) => refused += 1,
            Err(what) => panic!("{target}: file {number}: {what}"),
        }
    }
    let each_second = ((taken + refused) as f64 / begun.elapsed().as_secs_f64()) as u64;
    eprintln!("{target}: {taken} read, {refused} refused, {each_second} a second, {} KiB at most", memory());
    // Files that are all refused at the door, or none of them, would show nothing.
    assert!(
        one.is_some() || (taken > runs / 500 && refused > runs / 500),
        "{target}: {taken} read, {refused} refused"
    );
    assert!(memory() <= MOST_MEMORY, "{target}: {} KiB", memory());
}

/// Most memory this process ever had, in KiB; nought where the system does not tell.
fn memory() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|line| line.split_whitespace().next()?.parse().ok()).unwrap_or(0)
}

/// Whether a file was read; what is wrong with how it was.
fn try_file(bytes: &[u8], rules: &RulePack) -> Result<bool, String> {
    let today = "2026-11-25".parse().unwrap();
    let sheet = match roster_file::read(bytes, today) {
        Ok(sheet) => sheet,
        Err(error) => {
            let said = error.to_string();
            return if said.len() <= MOST_SAID {
                Ok(false)
            } else {
                Err(format!("says too much: {said:.100}"))
            };
        }
    };
    within_bounds(&sheet)?;
    let headings = headings(rules, &BTreeMap::new());
    let reading = read(
        &sheet,
        &Answers::default(),
        Context { rules, headings: &headings, today, year: 2026, on: &Default::default() },
    );
    let plan = plan(&reading, &Answers::default(), (&[], &Decisions::default()), &[], rules);
    if plan.updated.len() + plan.completed.len() + plan.held.len() + plan.gone.len() > 0 {
        return Err("somebody is changed at a school without pupils".into());
    }
    // Every line is a row, is rejected, or is hidden and asked about; a file without columns has none.
    if reading.header_line > 0 {
        let mut lines: Vec<u64> = reading.rows.iter().map(|row| row.line).collect();
        lines.extend(reading.rejected.iter().map(|found| found.line));
        lines.sort_unstable();
        lines.dedup();
        let shown = sheet.lines.iter().filter(|line| line.line > reading.header_line && !line.hidden);
        if !shown.map(|line| line.line).eq(lines) {
            return Err("a line is lost".into());
        }
    }
    // It is kept as JSON and must come back the same.
    let kept = serde_json::to_string(&sheet).map_err(|error| error.to_string())?;
    let back: Sheet = serde_json::from_str(&kept).map_err(|error| error.to_string())?;
    if back == sheet { Ok(true) } else { Err("is not the same when kept".into()) }
}

fn within_bounds(sheet: &Sheet) -> Result<(), String> {
    if sheet.lines.len() > MOST_ROWS + 1 {
        return Err(format!("{} lines", sheet.lines.len()));
    }
    // Answers go by line.
    if !sheet.lines.is_sorted_by(|one, next| one.line < next.line) {
        return Err("two lines have one number".into());
    }
    for line in &sheet.lines {
        if line.cells.len() > MOST_COLUMNS {
            return Err(format!("{} cells", line.cells.len()));
        }
        if let Some(cell) = line.cells.iter().find(|cell| cell.text().len() > MOST_CELL) {
            return Err(format!("a cell of {} bytes", cell.text().len()));
        }
    }
    Ok(())
}

/// The entries of an archive.
fn entries(bytes: &[u8]) -> Vec<(String, Vec<u8>)> {
    let mut zip = ZipArchive::new(Cursor::new(bytes)).unwrap();
    let many = zip.len();
    let entry = |n| {
        let mut entry = zip.by_index(n).unwrap();
        let mut bytes = Vec::new();
        entry.read_to_end(&mut bytes).unwrap();
        (entry.name().unwrap().to_string(), bytes)
    };
    (0..many).map(entry).collect()
}

fn packed(entries: &[(String, Vec<u8>)]) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in entries {
        let stored = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
        zip.start_file(name.as_str(), stored).unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

/// Archives with what is in them damaged, and some with the archive itself damaged.
fn archives(target: &str, corpus: &[Vec<u8>]) {
    let opened: Vec<_> = corpus.iter().map(|bytes| entries(bytes)).collect();
    fuzz(target, |chance| {
        let mut entries = chance.one(&opened).clone();
        let others: Vec<Vec<u8>> = entries.iter().map(|(_, bytes)| bytes.clone()).collect();
        let whole = chance.below(4) == 0;
        if !whole {
            let at = chance.below(entries.len());
            mutate(&mut entries[at].1, &others, chance);
            if chance.below(16) == 0 {
                entries.remove(at);
            }
        }
        let mut bytes = packed(&entries);
        if whole {
            mutate(&mut bytes, &others, chance);
        }
        bytes
    });
}

fn texts(target: &str, corpus: &[Vec<u8>]) {
    fuzz(target, |chance| {
        let mut bytes = chance.one(corpus).clone();
        mutate(&mut bytes, corpus, chance);
        bytes
    });
}

#[test]
fn text_files() {
    texts("csv", &cases(".csv"));
}

#[test]
fn workbooks() {
    let mut books = cases(".xlsx");
    // The bomb is refused in a test of its own; damaging megabytes would test the damaging.
    books.retain(|book| entries(book).iter().all(|(_, bytes)| bytes.len() < 100_000));
    archives("xlsx", &books);
}

#[test]
fn rostering_archives() {
    archives("oneroster", &[one_one(), one_two("bulk", ""), one_two("delta", "active,2026-11-20T00:00:00Z")]);
}

/// An archive of 1.1 with a pupil and a teacher.
fn one_one() -> Vec<u8> {
    let users = [
        "a,,,true,s1,student,x,,Noa,Kerr,,,,,,,PK,",
        "b,,,true,s1,teacher,y,,\"Eve, née Lowe\",Kerr,,,,,,,,",
    ];
    let born = ["a,,,2021-09-01,,"];
    feed::archive(
        "1.1",
        "bulk",
        &[("users", feed::USERS_1_1, &users), ("demographics", feed::DEMOGRAPHICS, &born)],
    )
}

/// An archive of 1.2 with all files, its rows of a status.
fn one_two(mode: &str, status: &str) -> Vec<u8> {
    let status = if status.is_empty() { "," } else { status };
    let row = |text: &str| text.replace("{}", status);
    let users = [
        row("u1,{},true,zbell,,Zoë,Bell,,B801200005001,,,,,KG,,,Zo,,,s1,"),
        row("u2,{},true,mreed,,Max,Reed,,1043,,,,,\"KG,01\",,,,,,s1,"),
    ];
    let roles =
        [row("r1,{},u1,primary,student,2026-09-01,2027-07-20,s1,"), row("r2,{},u2,primary,student,,,s1,")];
    let classes = [row("c1,{},Alder,,,,homeroom,,s1,t1,,,"), row("c2,{},Maths 1,,,,scheduled,,s1,t1,,,")];
    let enrollments = [
        row("e1,{},c1,s1,u1,student,,2026-09-01,2027-07-20"),
        row("e2,{},c2,s1,u2,student,true,,"),
        row("e3,{},c9,s1,u9,student,,,").replace("active", "tobedeleted"),
    ];
    let born = [row("u1,{},2020-09-15,female,")];
    fn refs<const N: usize>(rows: &[String; N]) -> [&str; N] {
        rows.each_ref().map(String::as_str)
    }
    feed::archive(
        "1.2",
        mode,
        &[
            ("users", feed::USERS_1_2, &refs(&users)),
            ("roles", feed::ROLES, &refs(&roles)),
            ("classes", feed::CLASSES, &refs(&classes)),
            ("enrollments", feed::ENROLLMENTS, &refs(&enrollments)),
            ("demographics", feed::DEMOGRAPHICS, &refs(&born)),
        ],
    )
}

#[test]
fn transfer_files() {
    let pupil = "<Pupil><UPN>P207000016049</UPN><Surname>O&#8217;Neill</Surname><Forename>Max</Forename>\
        <DOB>2020-09-15</DOB><Sex>M</Sex></Pupil>";
    let file = |pupils: &str| {
        format!(
            "<?xml version=\"1.0\"?>\n<CTfile><Header><CTFversion>25.0</CTFversion></Header>\n\
             <CTFpupilData>{pupils}</CTFpupilData></CTfile>"
        )
    };
    let corpus = [
        file(""),
        file(pupil),
        file(&pupil.repeat(3)),
        file("<Pupil><Surname><![CDATA[Moor]]></Surname></Pupil>"),
    ];
    texts("ctf", &corpus.map(String::into_bytes));
}

#[test]
fn what_is_damaged_is_right_before() {
    let of = |bytes: &[u8]| roster_file::read(bytes, "2026-11-25".parse().unwrap()).unwrap().format;
    for whole in [one_one(), one_two("bulk", ""), one_two("delta", "active,2026-11-20T00:00:00Z")] {
        assert_eq!(of(&whole), Format::OneRoster);
    }
    assert_eq!(of(&cases(".csv")[0]), Format::Text);
    assert_eq!(of(&cases("O33_xlsx_formulas.xlsx")[0]), Format::Workbook);
}
