//! What tablets ask of a server: bytes of a first pull of a class of 30, how long a pull takes that brings nothing, and
//! 60 tablets that read everything at once. Prints each; on PostgreSQL with `PLUMBLINE_TEST_STORE` and
//! `PLUMBLINE_TEST_PG`, as the tests.
//!
//!     cargo build --release && cargo bench -p plumbline-tests --bench sync
//!
//! Another binary may be named in `PLUMBLINE_BIN`.
#![allow(clippy::unwrap_used)]

use std::{
    io::Write as _,
    path::PathBuf,
    time::{Duration, Instant},
};

use flate2::{Compression, write::GzEncoder};
use plumbline_tests::{Replica, School, Value, json, lesson_ids};

const PUPILS: usize = 30;
const GROUPS: usize = 12;
const TABLETS: usize = 60;
const EMPTY_PULLS: usize = 300;

/// A class of 30 in a group with a register for each of its days so far, and eleven more groups of the same adult.
fn class() -> School {
    let school = School::start();
    school.calendar();
    let (sequence, content) = school.sequence();
    let lessons = lesson_ids(&content);
    let names: Vec<String> = (0..PUPILS).map(|n| format!("Pupil{n:02}")).collect();
    let rows: Vec<(&str, &str)> = names.iter().map(|name| (name.as_str(), "Alder")).collect();
    let pupils = school.pupils(&rows);
    let ids: Vec<&String> = pupils.values().collect();
    let group = school.group("Alder", &sequence, &ids);
    let lead = school.lead();
    let days = (2..24).filter(|day| ![7, 8, 14, 15, 21, 22].contains(day));
    for (nth, day) in days.enumerate() {
        let outcome = if nth < lessons.len() { "delivered" } else { "retaught" };
        let record = json!({"on": format!("2026-11-{day:02}"), "lesson_id": lessons[nth % lessons.len()], "outcome": outcome,
                            "register": [{"pupil_id": ids[nth % PUPILS], "mark": "absent"}]});
        lead.post(&format!("/groups/{group}/lesson-records"), record).expect(201);
    }
    let (check, items) =
        school.word_check("Words", &["mat", "mod", "dot", "tom", "dad", "mad", "pod", "pat"]);
    let round = school.round("Now", "2026-11-16", "2026-11-27", &[&check]);
    for pupil in &ids {
        let answers: Vec<(&str, &str)> = items.iter().map(|item| (item.as_str(), "right")).collect();
        school.answer(&lead, (&round, pupil, &check), "2026-11-25", &answers).expect(201);
    }
    for n in 1..GROUPS {
        school.group(&format!("Group {n}"), &sequence, &[]);
    }
    school
}

fn pages(device: &mut Replica) -> (usize, usize, Vec<u8>) {
    let (mut many, mut rows, mut bytes) = (0, 0, Vec::new());
    loop {
        let page = device.page(500);
        bytes.extend_from_slice(page.text.as_bytes());
        let page: Value = page.expect(200);
        (many, rows) = (many + 1, rows + page["rows"].as_array().unwrap().len());
        if !device.take(&page) {
            return (many, rows, bytes);
        }
    }
}

fn gzipped(bytes: &[u8]) -> usize {
    let mut packed = GzEncoder::new(Vec::new(), Compression::default());
    packed.write_all(bytes).unwrap();
    packed.finish().unwrap().len()
}

fn ms(time: Duration) -> f64 {
    time.as_secs_f64() * 1e3
}

fn measure() {
    let school = class();
    let mut device = school.replica("teacher");
    let (many, rows, bytes) = pages(&mut device);
    println!(
        "first pull of a class of {PUPILS}: {rows} rows in {many} pages, {} bytes, {} gzipped",
        bytes.len(),
        gzipped(&bytes)
    );
    let mut times: Vec<Duration> = (0..EMPTY_PULLS)
        .map(|_| {
            let begun = Instant::now();
            let page = device.page(500);
            let took = begun.elapsed();
            assert_eq!(page.expect(200)["rows"], json!([]));
            took
        })
        .collect();
    times.sort_unstable();
    println!(
        "pull that brings nothing, of {GROUPS} groups: median {:.2} ms, p99 {:.2} ms",
        ms(times[EMPTY_PULLS / 2]),
        ms(times[EMPTY_PULLS * 99 / 100])
    );
    let mut devices: Vec<Replica> = (0..TABLETS).map(|_| school.replica("teacher")).collect();
    let begun = Instant::now();
    std::thread::scope(|threads| {
        for device in &mut devices {
            threads.spawn(|| pages(device));
        }
    });
    println!("{TABLETS} tablets read everything at once: {:.2} s", begun.elapsed().as_secs_f64());
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
    measure();
}
