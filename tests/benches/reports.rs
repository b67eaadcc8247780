//! The report of a school, asked for over HTTP right after an answer was recorded: 360 pupils in 16 classes of two year
//! groups, seven values of three optional fields, six rounds of 25 words, 54,000 answers in all, made from a fixed seed.
//! Beside it in the same run, over the same rows: the part of words read by round, of the school, each year group and each
//! class, of all and by each value, 912 cells, in plain SQL; on SQLite by Python's own driver, on PostgreSQL by a plain client. With polars as well where the Python named
//! in `PLUMBLINE_BENCH_PYTHON` has it (`pip install polars==2.1.0`).
//!
//!     cargo build --release && cargo bench -p plumbline-tests --bench reports
//!
//! On PostgreSQL with `PLUMBLINE_TEST_STORE` and `PLUMBLINE_TEST_PG`, as the tests. It prints and asserts no time.
#![allow(clippy::unwrap_used)]

use std::{
    path::PathBuf,
    process::Command,
    time::{Duration, Instant},
};

use plumbline_tests::{Client, Database, School, Value, column, json, text};

const PUPILS: usize = 360;
const CLASSES: usize = 16;
const YEARS: [(&str, u32); 2] = [("Reception", 2021), ("Year 1", 2020)];
const ROUNDS: usize = 6;
const ITEMS: usize = 25;
const FIELDS: [&str; 3] = ["sex", "sen", "disadvantage"];
/// Cells: the school, two year groups and sixteen classes; all pupils and seven values; of each round.
const CELLS: usize = (1 + 2 + 16) * (1 + 2 + 3 + 2) * ROUNDS;
const TIMES: usize = 15;

/// SplitMix64, so that every run asks the same.
struct Seeded(u64);

impl Seeded {
    fn below(&mut self, most: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (z ^ (z >> 31)) % most
    }
}

struct Full {
    school: School,
    lead: Client,
    /// One more round, for what is recorded between two readings: its id, the check and its items.
    next: (String, String, Vec<String>),
    pupils: Vec<String>,
}

fn pupils(lead: &Client) -> Vec<String> {
    let mut csv = "given_name,family_name,date_of_birth,year_group,class_name,Sex,SEN status,Disadvantaged\n"
        .to_owned();
    for n in 0..PUPILS {
        let class = n % CLASSES;
        let (year, born) = YEARS[class * YEARS.len() / CLASSES];
        let k = n / CLASSES;
        let said = format!("{},{},{}", ["F", "M"][k % 2], ["N", "K", "E"][k % 3], ["yes", "no"][k / 2 % 2]);
        let day = format!("{born}-{:02}-{:02}", n % 4 + 9, n % 28 + 1);
        csv.push_str(&format!("Pupil{n:03},Bell,{day},{year},Class {class:02},{said}\n"));
    }
    let preview = lead.post_csv("/roster-imports", csv.as_bytes()).expect(201);
    let confirm = format!("/roster-imports/{}/confirm", text(&preview["id"]));
    lead.post(&confirm, json!({"from": "2026-09-01"})).expect(200);
    column(&lead.get("/pupils?limit=500").expect(200)["items"], "id")
}

fn full() -> Full {
    let school = School::start();
    school.calendar();
    let (lead, mut chance) = (school.lead(), Seeded(20_260_901));
    let purpose = json!({"purpose": "Report of gaps to the governors", "review_on": "2027-07-31"});
    for field in FIELDS {
        lead.call("PUT", &format!("/optional-fields/{field}"), Some(&purpose)).expect(200);
    }
    let pupils = pupils(&lead);
    let words: Vec<Value> = (0..ITEMS).map(|n| json!({"prompt": format!("word {n}")})).collect();
    let check =
        lead.post("/checks", json!({"name": "Words", "kind": "word_reading", "items": words})).expect(201);
    let (check, items) = (text(&check["id"]), column(&check["items"], "id"));
    for round in 0..ROUNDS {
        let day = format!("2026-11-{:02}", 3 + round);
        let id = school.round(&format!("Round {round}"), &day, &day, &[&check]);
        for (n, pupil) in pupils.iter().enumerate() {
            let known = 5 + (n as u64 % 7) + 2 * round as u64;
            let outcome = |chance: &mut Seeded| if chance.below(25) < known { "right" } else { "wrong" };
            let answers: Vec<Value> =
                items.iter().map(|item| json!({"item_id": item, "outcome": outcome(&mut chance)})).collect();
            let body = json!({"check_id": check, "on": day, "answers": answers});
            lead.post(&format!("/check-rounds/{id}/pupils/{pupil}/responses"), body).expect(201);
        }
    }
    let next = school.round("Next", "2026-11-23", "2026-11-25", &[&check]);
    Full { school, lead, next: (next, check, items), pupils }
}

fn ms(mut times: Vec<Duration>) -> f64 {
    times.sort_unstable();
    times[times.len() / 2].as_secs_f64() * 1e3
}

fn print(what: &str, ms: f64, beside: f64) {
    println!("  {what:<58} {ms:>9.2} ms   {:>7.2} times the SQL", ms / beside);
}

/// Reads something right after an answer was recorded, so often; the time in the middle.
fn fresh(full: &Full, from: usize, path: &str) -> f64 {
    let (round, check, items) = &full.next;
    let read = |n: usize| {
        let pupil = &full.pupils[from + n];
        let answer = json!({"check_id": check, "on": "2026-11-24", "answers": [{"item_id": items[0], "outcome": "right"}]});
        full.lead.post(&format!("/check-rounds/{round}/pupils/{pupil}/responses"), answer).expect(201);
        let begun = Instant::now();
        let answer = full.lead.get(path);
        let took = begun.elapsed();
        assert_eq!(answer.status, 200, "{}", answer.text);
        took
    };
    ms((0..TIMES).map(read).collect())
}

/// The rows grouped by pupil once, told by each value, and added up.
const SQL: &str = include_str!("reports.sql");

/// The SQL by itself: time in the middle, how many cells.
fn plain_sql(full: &Full) -> (f64, usize) {
    let url = full.school.server.database.url(&full.school.server.folder);
    match full.school.server.database {
        Database::Sqlite => {
            let script = concat!(env!("CARGO_MANIFEST_DIR"), "/benches/reports_peers.py");
            let python = std::env::var("PLUMBLINE_BENCH_PYTHON").unwrap_or_else(|_| "python3".into());
            let told =
                Command::new(python).arg(script).arg(url.trim_start_matches("sqlite://")).output().unwrap();
            assert!(told.status.success(), "{}", String::from_utf8_lossy(&told.stderr));
            let told: Value = serde_json::from_slice(&told.stdout).unwrap();
            if let Some(polars) = told["polars_ms"].as_f64() {
                println!("  polars, the rows in memory already: {polars:.2} ms");
            }
            (told["sql_ms"].as_f64().unwrap(), usize::try_from(told["cells"].as_u64().unwrap()).unwrap())
        }
        Database::Postgres { .. } => {
            let mut client = postgres::Client::connect(&url, postgres::NoTls).unwrap();
            let mut cells = 0;
            let ask = |_| {
                let begun = Instant::now();
                cells = client.query(SQL, &[]).unwrap().len();
                begun.elapsed()
            };
            let times = (0..TIMES).map(ask).collect();
            (ms(times), cells)
        }
    }
}

fn measure() {
    let begun = Instant::now();
    let full = full();
    println!(
        "{PUPILS} pupils, {CLASSES} classes, {} answers, made over HTTP in {:.0} s",
        PUPILS * ROUNDS * ITEMS,
        begun.elapsed().as_secs_f64()
    );
    let (sql, cells) = plain_sql(&full);
    assert_eq!(cells, CELLS);
    print(&format!("plain SQL, {cells} cells"), sql, sql);
    print("attainment report over HTTP, fresh after a write", fresh(&full, 0, "/reports/attainment"), sql);
    let took = |path: &str, body: Value, status: u16| {
        let begun = Instant::now();
        let answer = full.lead.post(path, body);
        let took = begun.elapsed().as_secs_f64() * 1e3;
        assert_eq!(answer.status, status, "{}", answer.text);
        (took, answer.json())
    };
    let (taking, snapshot) = took("/report-snapshots", json!({}), 201);
    print("snapshot taken", taking, sql);
    let at = format!("/report-snapshots/{}", text(&snapshot["id"]));
    print("snapshot read, every figure", fresh(&full, TIMES, &at), sql);
    let asked = json!({"audience": "closed", "by": ["year_group", "class", "sen"]});
    let (deciding, _) = took(&format!("{at}/release-previews"), asked, 200);
    print("release decided, by year group, class and value", deciding, sql);
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
