//! Calendar files damaged in every way chance finds: the reader refuses or reads, and what it read goes through to
//! a plan that the calendar takes. It never panics; one that hangs is ended by the runner.
//!
//! A bounded number of files, more in `tests/run long`. A failure names the number of the file:
//! `PLUMBLINE_FUZZ_ONE=number` tries that one alone.
#![allow(clippy::unwrap_used, clippy::expect_used)]

#[path = "fuzz/mutate.rs"]
mod mutate;

use std::{
    panic::{AssertUnwindSafe, catch_unwind},
    time::Instant,
};

use mutate::{Chance, mutate};
use plumbline_api::files::calendar_ics;
use plumbline_core::{
    calendar::{
        Calendar, CalendarImport, FileEvent, Meaning, Meanings, Said, Words, check_closure, check_year,
        plan_import,
    },
    rules::pack,
    sequence::Fault,
};

/// Files that are tried.
const RUNS: u64 = 3_000;
/// The same in the long run.
const LONG_RUNS: u64 = 100_000;
/// Longest complaint, in bytes: it goes into an answer.
const MOST_SAID: usize = 1_000;

/// Events that are whole, and lines that are not, or not where they stand.
const EVENTS: &[&str] = &[
    "UID:1\r\nDTSTART;VALUE=DATE:20260901\r\nDTEND;VALUE=DATE:20270901\r\nSUMMARY:School year\r\nCATEGORIES:SCHOOL-YEAR",
    "UID:2\r\nDTSTART;VALUE=DATE:20260901\r\nDTEND;VALUE=DATE:20261024\r\nSUMMARY:Autumn 1\r\nCATEGORIES:HALF-TERM",
    "UID:3\r\nDTSTART;VALUE=DATE:20261102\r\nDTEND;VALUE=DATE:20261219\r\nSUMMARY:Autumn 2\r\nCATEGORIES:HALF-TERM",
    "UID:4\r\nDTSTART;VALUE=DATE:20261120\r\nSUMMARY:Staff training\r\nCATEGORIES:INSET",
    "UID:5\r\nDTSTART;VALUE=DATE:20261112\r\nDTEND;VALUE=DATE:20261114\r\nSUMMARY:Snow\\, and ice\r\nCATEGORIES:CLOSURE",
    "UID:6\r\nDTSTART;VALUE=DATE:20261118\r\nSUMMARY:Farm\r\nCATEGORIES:TRIP,MORNING,RECEPTION",
    "UID:7\r\nDTSTART;VALUE=DATE:20261119\r\nSUMMARY:A long name that is fol\r\n ded over two lines\r\nCATEGORIES:TRIP,CLASS",
    "UID:8\r\nDTSTART:20261119T090000Z\r\nSUMMARY:Assembly\r\nCATEGORIES:OTHER",
    "UID:9\r\nDTSTART;VALUE=DATE:20261123\r\nSTATUS:CANCELLED\r\nSUMMARY:Fair\r\nCATEGORIES:CLOSURE",
];
const LINES: &[&str] = &[
    "BEGIN:VEVENT",
    "END:VEVENT",
    "BEGIN:VCALENDAR",
    "END:VCALENDAR",
    "BEGIN:VALARM",
    "END:VALARM",
    "DTSTART;VALUE=DATE:20261123",
    "DTSTART;VALUE=DATE:20270230",
    "DTSTART;VALUE=DATE:99991231",
    "DTSTART:20261125",
    "DTEND;VALUE=DATE:20260101",
    "DTEND;VALUE=DATE:99991231",
    "DURATION:P3D",
    "DURATION:P99999999999W",
    "RRULE:FREQ=DAILY",
    "CATEGORIES:HALF-TERM",
    "CATEGORIES:CLOSURE,INSET",
    "CATEGORIES:AFTERNOON",
    "SUMMARY:",
    "SUMMARY;ALTREP=\"x:y\":Autumn 1",
    " continued",
    "\tcontinued",
    "X-A;B=\"c;d:e\":f",
    ":",
    "",
];

fn corpus() -> Vec<Vec<u8>> {
    let file = |events: &[&str]| {
        let events: String =
            events.iter().map(|event| format!("BEGIN:VEVENT\r\n{event}\r\nEND:VEVENT\r\n")).collect();
        format!("BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//T//EN\r\n{events}END:VCALENDAR\r\n").into_bytes()
    };
    vec![file(EVENTS), file(&EVENTS[..3]), file(&EVENTS[3..]), file(&[])]
}

fn one(chance: &mut Chance, of: &'static [&'static str]) -> &'static str {
    of[chance.below(of.len())]
}

/// A file with lines out of place, and now and then with bytes damaged.
fn damaged(corpus: &[Vec<u8>], chance: &mut Chance) -> Vec<u8> {
    let whole = String::from_utf8(chance.one(corpus).clone()).unwrap();
    let mut lines: Vec<&str> = whole.split("\r\n").collect();
    for _ in 0..chance.below(4) {
        let at = chance.below(lines.len());
        match chance.below(4) {
            0 => lines.insert(at, one(chance, LINES)),
            1 => lines[at] = one(chance, LINES),
            2 => lines.insert(at, one(chance, EVENTS)),
            _ => drop(lines.remove(at)),
        }
        if lines.is_empty() {
            lines.push("");
        }
    }
    let mut bytes = lines.join(one(chance, &["\r\n", "\r\n", "\n"])).into_bytes();
    if chance.below(2) == 0 {
        mutate(&mut bytes, corpus, chance);
    }
    bytes
}

/// Whether a file was read and planned; what is wrong with how it was.
fn try_file(bytes: &[u8]) -> Result<bool, String> {
    let short = |faults: &[Fault]| match faults.iter().find(|fault| fault.message.len() > MOST_SAID) {
        Some(fault) => Err(format!("says too much: {:.100}", fault.message)),
        None if faults.is_empty() => Err("is refused without a word".into()),
        None => Ok(false),
    };
    let events = match calendar_ics::read(bytes) {
        Ok(events) => events,
        Err(faults) => return short(&faults),
    };
    if !events.is_sorted_by(|one, next| one.line < next.line) {
        return Err("two events begin in one line".into());
    }
    let mut meanings = Meanings::default();
    meanings.say("Assembly", Said::Is(Meaning::LeftOut)).unwrap();
    let words = Words { said: &meanings, rules: pack("england").unwrap(), classes: &[] };
    let plan = |calendar: &Calendar, events: Vec<FileEvent>| plan_import(calendar, events, words);
    let made = match plan(&Calendar::default(), events.clone()) {
        Ok(made) => made,
        Err(faults) => return short(&faults),
    };
    let told: usize = made.left_out.len() + made.questions.len();
    if told > events.len() {
        return Err("tells of more events than there are".into());
    }
    let calendar = applied(&made)?;
    // What was imported says nothing new.
    let again =
        plan(&calendar, events).map_err(|faults| format!("is refused the second time: {faults:?}"))?;
    match again.years.is_empty() && again.closures.is_empty() {
        true => Ok(true),
        false => Err("changes something the second time".into()),
    }
}

/// The calendar as the plan would make it, each line of it as somebody would type it into the years of the file.
fn applied(made: &CalendarImport) -> Result<Calendar, String> {
    let mut years = Calendar::default();
    for (year, plan) in &made.years {
        check_year(plan, *year, &years.years).map_err(|error| format!("{year}: {error}"))?;
        years = years.with_year(*year, plan);
    }
    let mut calendar = years.clone();
    for (line, plan) in &made.closures {
        check_closure(&years, plan).map_err(|error| format!("line {line}: {error}"))?;
        calendar = calendar.with_closure(plan);
    }
    Ok(calendar)
}

#[test]
fn calendar_files() {
    let corpus = corpus();
    // What is damaged is right before; the third file closes days of no school year.
    let read: Vec<_> = corpus.iter().map(|whole| try_file(whole)).collect();
    assert_eq!(read, [Ok(true), Ok(true), Ok(false), Ok(true)]);
    let runs = if std::env::var_os("PLUMBLINE_LONG").is_some() { LONG_RUNS } else { RUNS };
    let one = std::env::var("PLUMBLINE_FUZZ_ONE").ok().map(|one| one.parse().unwrap());
    let (begun, mut taken, mut refused) = (Instant::now(), 0_u64, 0_u64);
    for number in one.map_or(0..runs, |one: u64| one..one + 1) {
        let bytes = damaged(&corpus, &mut Chance::new(number));
        let tried = catch_unwind(AssertUnwindSafe(|| try_file(&bytes)));
        match tried.unwrap_or_else(|_| panic!("file {number} makes the reader panic")) {
            Ok(true) => taken += 1,
            Ok(false) => refused += 1,
            Err(what) => panic!("file {number}: {what}\n{}", String::from_utf8_lossy(&bytes)),
        }
    }
    let each_second = ((taken + refused) as f64 / begun.elapsed().as_secs_f64()) as u64;
    eprintln!("calendars: {taken} read, {refused} refused, {each_second} a second");
    // Files that are all refused at the door, or none of them, would show nothing.
    let both = taken > runs / 20 && refused > runs / 20;
    assert!(one.is_some() || both, "{taken} read, {refused} refused");
}
