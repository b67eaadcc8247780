//! Devices that write offline, lose answers, break off pulls and crash, while the lead writes, moves pupils and takes
//! groups away: at the end every device has what it should, and each operation had one effect. A schedule is its seed;
//! `PLUMBLINE_SIMULATE=seed` runs that one alone, `PLUMBLINE_SCHEDULES` says how many are run.
#![allow(clippy::unwrap_used)]

mod simulated;

use plumbline_tests::Fault;
use simulated::{run, world::Ground};

/// Schedules of a run, where it is not said how many.
const RUNS: u64 = 12;
/// Schedules within which every put-in fault has to show.
const PATIENCE: u64 = 25;

#[test]
fn devices_converge_whatever_happens() {
    let number = |name: &str| std::env::var(name).ok().map(|text| text.parse::<u64>().unwrap());
    let seeds = match number("PLUMBLINE_SIMULATE") {
        Some(seed) => seed..seed + 1,
        None => 0..number("PLUMBLINE_SCHEDULES").unwrap_or(RUNS),
    };
    // Each half has a server of its own, as each schedule has a school.
    let half = seeds.start + (seeds.end - seeds.start) / 2;
    std::thread::scope(|scope| {
        scope.spawn(|| every(seeds.start..half));
        every(half..seeds.end);
    });
}

fn every(seeds: std::ops::Range<u64>) {
    let ground = Ground::new();
    for seed in seeds {
        let (wrong, told) = run(&ground, seed, None);
        assert!(
            wrong.is_empty(),
            "schedule {seed} (PLUMBLINE_SIMULATE={seed}):\n{}\n\nwhat happened:\n{}",
            wrong.join("\n"),
            told.join("\n")
        );
    }
}

/// That a device with this fault is found out.
#[track_caller]
fn shows(fault: Fault, by: &str) {
    let ground = Ground::new();
    let found = (0..PATIENCE).find_map(|seed| {
        let (wrong, _) = run(&ground, seed, Some(fault));
        (!wrong.is_empty()).then_some(wrong)
    });
    let wrong = found.unwrap_or_else(|| panic!("{fault:?} shows in none of {PATIENCE} schedules"));
    assert!(wrong.iter().any(|line| line.starts_with(by)), "{}", wrong.join("\n"));
}

#[test]
fn an_outbox_that_forgets_what_was_not_answered_shows() {
    shows(Fault::ForgetsUnanswered, "I5 A");
}

#[test]
fn sending_again_under_a_new_number_shows() {
    shows(Fault::NumbersAnew, "I5 A");
}

#[test]
fn cursors_kept_before_their_rows_show() {
    shows(Fault::CursorsFirst, "I1 A");
}

#[test]
fn a_record_removed_though_another_scope_has_it_shows() {
    shows(Fault::ForgetsOtherScopes, "I1 A");
}

#[test]
fn keeping_what_a_dropped_scope_held_shows() {
    shows(Fault::KeepsDropped, "I2 A");
}

#[test]
fn keeping_what_was_deleted_shows() {
    shows(Fault::KeepsDeleted, "I1 A");
}

#[test]
fn removing_in_the_middle_of_a_pull_shows() {
    shows(Fault::SweepsEarly, "I6 A");
}

#[test]
fn ending_a_pull_at_its_first_page_shows() {
    shows(Fault::OnePageOnly, "I1 A");
}

#[test]
fn keeping_what_a_record_said_before_shows() {
    shows(Fault::KeepsOld, "I1 A");
}
