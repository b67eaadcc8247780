//! Calendar files (iCalendar, RFC 5545): days of whole events in, the school's calendar out.

use icalendar::{Calendar, Component as _, DatePerhapsTime, Event, EventLike as _, parser};
use plumbline_core::{calendar::FileEvent, sequence::Fault, time::Date};

/// The media type.
pub const MEDIA_TYPE: &str = "text/calendar";

/// Most events a file may hold.
const MOST_EVENTS: usize = 2_000;

/// How deep components may stand in one another: an alarm in an event in a calendar, and one more.
const DEEPEST: usize = 4;

/// Properties that make more days of an event than it names.
const REPEATS: [&str; 5] = ["RRULE", "RDATE", "EXRULE", "EXDATE", "RECURRENCE-ID"];

/// Properties of an event that are read, each at most once. Nothing else is given to the parser, whose time grows
/// with the square of the properties of one component.
const READ_ONCE: [&str; 5] = ["DTSTART", "DTEND", "DURATION", "SUMMARY", "STATUS"];

/// How often an event may name categories.
const MOST_CATEGORIES: usize = 20;

/// A file's lines unfolded, with where events begin.
struct Unfolded {
    text: String,
    events: Vec<u64>,
}

/// Reads the events of a file, in its order.
///
/// # Errors
/// Every fault with its line.
pub fn read(bytes: &[u8]) -> Result<Vec<FileEvent>, Vec<Fault>> {
    let Unfolded { text, events } = unfold(bytes)?;
    let parsed = parser::read_calendar(&text)
        .map_err(|_| vec![fault(None, "is not a calendar (RFC 5545), or ends in the middle of one")])?;
    let calendar = Calendar::from(parsed);
    let found: Vec<&Event> = calendar.events().collect();
    if found.len() != events.len() {
        return Err(vec![fault(None, "holds more than one calendar; send one at a time")]);
    }
    let mut faults = Vec::new();
    let mut out = Vec::new();
    for (line, event) in events.into_iter().zip(found) {
        match days(event) {
            Ok(days) => out.push(FileEvent {
                line,
                summary: event.get_summary().unwrap_or_default().trim().to_owned(),
                categories: event.get_categories().unwrap_or_default(),
                cancelled: event
                    .property_value("STATUS")
                    .is_some_and(|status| status.trim().eq_ignore_ascii_case("CANCELLED")),
                days,
            }),
            Err(message) => faults.push(fault(Some(line), message)),
        }
    }
    if faults.is_empty() { Ok(out) } else { Err(faults) }
}

fn fault(line: Option<u64>, message: impl Into<String>) -> Fault {
    let field = line.map_or_else(|| "file".to_owned(), |line| format!("line {line}"));
    Fault { field, message: message.into() }
}

/// The first and the last day of an event; none where it has a time of day. The end of a file is the
/// day after the last one.
fn days(event: &Event) -> Result<Option<(Date, Date)>, &'static str> {
    let from = match event.get_start() {
        Some(DatePerhapsTime::Date(from)) => from,
        Some(DatePerhapsTime::DateTime(_)) => return Ok(None),
        None => return Err("this event has no DTSTART that is a date"),
    };
    if event.property_value("DURATION").is_some() {
        return Err("give DTEND in place of DURATION");
    }
    let until = match event.get_end() {
        None if event.property_value("DTEND").is_some() => {
            return Err("this event has a DTEND that is no date");
        }
        None => Some(from),
        Some(DatePerhapsTime::Date(end)) => end.pred_opt(),
        Some(DatePerhapsTime::DateTime(_)) => return Err("DTSTART is a date and DTEND is not"),
    };
    let in_range = |day: Date| (1900..=2200).contains(&chrono::Datelike::year(&day));
    match until.filter(|until| from <= *until) {
        Some(until) if in_range(from) && in_range(until) => Ok(Some((from, until))),
        Some(_) => Err("dates must lie in the years 1900 to 2200"),
        None => Err("DTEND is the day after the last one, and so after DTSTART"),
    }
}

/// Unfolds lines before their bytes are read as UTF-8, since a letter may be folded in its middle. Names are
/// written large, as they may be in any case.
fn unfold(bytes: &[u8]) -> Result<Unfolded, Vec<Fault>> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut lines: Vec<(u64, Vec<u8>)> = Vec::new();
    for (n, line) in (1..).zip(bytes.split(|byte| *byte == b'\n')) {
        let line = line.strip_suffix(b"\r").unwrap_or(line);
        match (line.split_first(), lines.last_mut()) {
            (Some((b' ' | b'\t', rest)), Some((_, last))) => last.extend_from_slice(rest),
            (None, _) => {}
            _ => lines.push((n, line.to_vec())),
        }
    }
    let mut out = Unfolded { text: String::with_capacity(bytes.len()), events: Vec::new() };
    let (mut faults, mut depth, mut in_event) = (Vec::new(), 0usize, false);
    let mut said: Vec<String> = Vec::new();
    for (n, line) in lines {
        let Ok(line) = String::from_utf8(line) else {
            faults.push(fault(Some(n), "is not UTF-8"));
            continue;
        };
        if line.chars().any(|c| c.is_control() && c != '\t') {
            return Err(vec![fault(Some(n), "holds control characters: this is not a calendar")]);
        }
        let end = line.find([':', ';']).unwrap_or(line.len());
        let (name, rest) = line.split_at(end);
        let name = name.to_ascii_uppercase();
        let value = rest.trim_start_matches(':').trim().to_ascii_uppercase();
        match name.as_str() {
            "BEGIN" => {
                depth += 1;
                if depth > DEEPEST {
                    return Err(vec![fault(Some(n), "stands too deep in other components")]);
                }
                if depth == 2 {
                    in_event = value == "VEVENT";
                    out.events.extend(in_event.then_some(n));
                    said.clear();
                }
            }
            "END" => depth = depth.saturating_sub(1),
            repeats if depth == 2 && REPEATS.contains(&repeats) => {
                faults
                    .push(fault(Some(n), format!("{repeats}: write an event that repeats out, one by one")));
            }
            "CATEGORIES" if depth == 2 && in_event => {
                if said.iter().filter(|known| **known == name).count() == MOST_CATEGORIES {
                    faults.push(fault(Some(n), format!("an event has at most {MOST_CATEGORIES} CATEGORIES")));
                    continue;
                }
                said.push(name.clone());
            }
            once if depth == 2 && in_event && READ_ONCE.contains(&once) => {
                if said.contains(&name) {
                    faults.push(fault(Some(n), format!("this event has its {name} twice")));
                    continue;
                }
                said.push(name.clone());
            }
            _ => continue,
        }
        if out.events.len() > MOST_EVENTS {
            return Err(vec![fault(None, format!("holds more than {MOST_EVENTS} events"))]);
        }
        out.text.push_str(&name);
        out.text.push_str(&if matches!(name.as_str(), "BEGIN" | "END") {
            format!(":{value}")
        } else {
            rest.to_owned()
        });
        out.text.push('\n');
    }
    if faults.is_empty() { Ok(out) } else { Err(faults) }
}

/// An event to write: whole days.
pub struct WrittenEvent {
    /// An id that stays the same from file to file.
    pub uid: String,
    /// What it is called.
    pub summary: String,
    /// Its categories.
    pub categories: Vec<String>,
    /// First day.
    pub from: Date,
    /// Last day.
    pub until: Date,
}

/// Writes a file: lines end in CR LF and are folded, the end of an event is the day after its last.
pub fn write(name: &str, stamp: &str, events: Vec<WrittenEvent>) -> String {
    let mut calendar = Calendar::empty();
    calendar
        .append_property(("VERSION", "2.0"))
        .append_property(("PRODID", "-//Plumbline//Teaching year//EN"))
        .append_property(("CALSCALE", "GREGORIAN"))
        .name(name);
    for event in events {
        let end = event.until.succ_opt().unwrap_or(event.until);
        let mut written = Event::with_uid(&event.uid);
        written
            .add_property("DTSTAMP", stamp)
            .summary(&event.summary)
            .starts(event.from)
            .ends(end)
            .categories(&event.categories);
        calendar.push(written.done());
    }
    calendar.to_string()
}
