//! A round of a whole class: 30 pupils are asked 25 items each over HTTP, answer by answer and in runs of five,
//! while the live list is asked for. Prints how long beginning, answering and the list take, in the middle and at
//! worst.
//!
//!     cargo build --release && cargo bench -p plumbline-tests --bench rounds
//!
//! On PostgreSQL with `PLUMBLINE_TEST_STORE` and `PLUMBLINE_TEST_PG`, as the tests.
#![allow(clippy::unwrap_used)]

use std::{
    path::PathBuf,
    time::{Duration, Instant},
};

use plumbline_tests::{Answer, ClassRound};

const PUPILS: usize = 30;
const ITEMS: usize = 25;

/// Times of one sort of request.
#[derive(Default)]
struct Times(Vec<Duration>);

impl Times {
    fn of(&mut self, status: u16, ask: impl FnOnce() -> Answer) {
        let begun = Instant::now();
        let answer = ask();
        self.0.push(begun.elapsed());
        assert_eq!(answer.status, status, "{}", answer.text);
    }

    fn print(mut self, what: &str) {
        self.0.sort_unstable();
        let ms = |time: Duration| time.as_secs_f64() * 1e3;
        let (middle, worst) = (self.0[self.0.len() / 2], self.0[self.0.len() - 1]);
        println!(
            "  {what:<28} {:>5}   median {:>7.2} ms   worst {:>7.2} ms",
            self.0.len(),
            ms(middle),
            ms(worst)
        );
    }
}

/// Asks the class, sending so many answers at a time.
fn round(run: usize) {
    let class = ClassRound::start(PUPILS, ITEMS);
    let lead = class.school.lead();
    let list = format!("/check-rounds/{}/list", class.round);
    let (mut begin, mut answer, mut finish) = (Times::default(), Times::default(), Times::default());
    let (mut listed, mut unchanged) = (Times::default(), Times::default());
    let all = Instant::now();
    for (n, pupil) in class.pupils.iter().enumerate() {
        let mut at = String::new();
        begin.of(201, || {
            let path = format!("/check-rounds/{}/pupils/{pupil}/sittings", class.round);
            let made = lead.post(&path, plumbline_tests::json!({"check_id": class.check}));
            at = format!("{path}/{}", plumbline_tests::text(&made.json()["id"]));
            made
        });
        for part in class.answers(n).chunks(run) {
            answer.of(200, || class.send(&lead, &at, part));
        }
        finish.of(200, || lead.call("POST", &format!("{at}/finish"), None));
        listed.of(200, || lead.get(&list));
        let known = lead.with("If-None-Match", &lead.get(&list).etag());
        unchanged.of(304, || known.get(&list));
    }
    println!("{PUPILS} pupils, {ITEMS} items, {run} at a time: {:.1} s", all.elapsed().as_secs_f64());
    begin.print("begin");
    answer.print("answer");
    finish.print("finish");
    listed.print("list");
    unchanged.print("list, unchanged");
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
    round(1);
    round(5);
}
