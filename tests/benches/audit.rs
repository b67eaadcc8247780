//! What the audit log costs: a write over HTTP by itself, beside the end of the log being signed over and over (the
//! server does so once a minute), and going through the log by entries.
//!
//!     cargo build --release && cargo bench -p plumbline-tests --bench audit
//!
//! On PostgreSQL with `PLUMBLINE_TEST_STORE` and `PLUMBLINE_TEST_PG`, as the tests.
#![allow(clippy::unwrap_used)]

use std::{
    path::PathBuf,
    sync::atomic::{AtomicBool, AtomicU32, Ordering},
    time::{Duration, Instant},
};

use plumbline_tests::{School, json};

const WRITES: usize = 400;

fn ms(time: Duration) -> f64 {
    time.as_secs_f64() * 1e3
}

/// The middle of the times that as many writes take, one after another.
fn writes(school: &School, run: &str) -> Duration {
    let lead = school.lead();
    let mut times: Vec<Duration> = (0..WRITES)
        .map(|n| {
            let begun = Instant::now();
            lead.post("/classes", json!({"name": format!("Class {run} {n}")})).expect(201);
            begun.elapsed()
        })
        .collect();
    times.sort_unstable();
    times[WRITES / 2]
}

fn verify(school: &School) -> Duration {
    let begun = Instant::now();
    assert!(school.server.run(&["audit", "verify"]).status.success());
    begun.elapsed()
}

fn main() {
    if !std::env::args().any(|argument| argument == "--bench") {
        return;
    }
    let release = PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../target/release/plumbline"));
    if std::env::var_os("PLUMBLINE_BIN").is_none() {
        assert!(release.exists(), "build it first: cargo build --release");
    }
    let school = School::start();
    let empty = verify(&school);
    writes(&school, "warm");
    for run in ["one", "two", "three"] {
        let alone = writes(&school, run);
        let (over, signed) = (AtomicBool::new(false), AtomicU32::new(0));
        let beside = std::thread::scope(|scope| {
            scope.spawn(|| {
                while !over.load(Ordering::Relaxed) {
                    assert!(school.server.run(&["audit", "head"]).status.success());
                    signed.fetch_add(1, Ordering::Relaxed);
                }
            });
            let beside = writes(&school, &format!("{run} beside"));
            over.store(true, Ordering::Relaxed);
            beside
        });
        println!(
            "  a write {:.2} ms, beside {} signings {:.2} ms: {:.2} times",
            ms(alone),
            signed.into_inner(),
            ms(beside),
            beside.as_secs_f64() / alone.as_secs_f64()
        );
    }
    let entries = 7 * WRITES;
    let whole = verify(&school);
    let each = whole.saturating_sub(empty).as_secs_f64() * 1e6 / f64::from(u32::try_from(entries).unwrap());
    println!("  going through {entries} entries and more {:.0} ms: {each:.1} us an entry", ms(whole));
}
