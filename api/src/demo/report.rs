//! The report on a terminal: plain text, at most 100 columns, no colours.

use plumbline_core::time::{Date, in_words};
use serde::Deserialize;

/// The server's attainment report, as far as it is printed.
#[derive(Deserialize)]
pub(super) struct Attainment {
    half_term: String,
    as_of: Date,
    secure_means: Secure,
    audience: String,
    caution: String,
    cautions: Vec<String>,
    versions: Vec<Version>,
    school: Row,
    year_groups: Vec<Row>,
    classes: Vec<Row>,
}

#[derive(Deserialize)]
struct Secure {
    right_on_days: u8,
    days_after_teaching: u16,
}

#[derive(Deserialize)]
struct Version {
    sequence: String,
    number: i32,
}

#[derive(Deserialize)]
struct Row {
    name: Option<String>,
    pupils: u64,
    checked: u64,
    median_check_age_days: Option<i64>,
    gpcs: Pairs,
    carried_in: Pairs,
    words: Words,
    read_with_care: bool,
}

#[derive(Deserialize)]
struct Pairs {
    taught: u64,
    secure: u64,
    not_yet_secure: u64,
    right_so_far: u64,
    unknown: u64,
    secure_percent: Option<u8>,
}

#[derive(Deserialize)]
struct Words {
    offered: u64,
    right: u64,
    right_percent: Option<u8>,
}

const WIDTH: usize = 100;

/// The report as text, ending with a line break.
pub(super) fn render(school: &str, from: Date, to: Date, report: &Attainment) -> String {
    let mut lines = Vec::new();
    lines.push(format!("{school}: attainment, {}", report.half_term));
    lines.push("=".repeat(WIDTH));
    lines.push(format!(
        "Half term {}, {} to {}. As of {}.",
        report.half_term,
        in_words(from),
        in_words(to),
        in_words(report.as_of)
    ));
    for version in &report.versions {
        lines.push(format!("Taught from: {}, version {}.", version.sequence, version.number));
    }
    lines.push(format!("Audience: {}. {}", report.audience, report.caution));
    lines.push(String::new());
    lines.push(format!(
        "{:<18}{:>16}{:>48}{:>18}",
        "", "Pupils checked", "GPCs with a lesson recorded, by pupil", "Words read"
    ));
    lines.push(format!(
        "{:<18}{:>10}{:>6}{:>7}{:>7}{:>8}{:>8}{:>8}{:>10}{:>18}",
        "",
        "of all",
        "days",
        "taught",
        "secure",
        "so far",
        "not yet",
        "unknown",
        "% secure",
        "right of asked"
    ));
    for (title, rows) in [("Year group", &report.year_groups), ("Class", &report.classes)] {
        lines.push("-".repeat(WIDTH));
        lines.push(title.to_owned());
        lines.extend(rows.iter().map(|row| line(row, row.name.as_deref().unwrap_or("(none)"))));
    }
    lines.push("-".repeat(WIDTH));
    lines.push(line(&report.school, "Whole school"));
    lines.push("=".repeat(WIDTH));
    lines.extend(notes(report));
    lines.iter().map(|line| format!("{}\n", plain(line.trim_end()))).collect()
}

fn line(row: &Row, name: &str) -> String {
    let (gpcs, words) = (&row.gpcs, &row.words);
    let age = row.median_check_age_days.map_or("-".into(), |days| days.to_string());
    let secure = gpcs.secure_percent.map_or("no checks".into(), |percent| format!("{percent}%"));
    let read = words
        .right_percent
        .map_or("no checks".into(), |percent| format!("{} of {} {percent:>3}%", words.right, words.offered));
    let name = format!(" {name}{}", if row.read_with_care { " *" } else { "" });
    format!(
        "{name:<18}{:>10}{age:>6}{:>7}{:>7}{:>8}{:>8}{:>8}{secure:>10}{read:>18}",
        format!("{} of {}", row.checked, row.pupils),
        gpcs.taught,
        gpcs.secure,
        gpcs.right_so_far,
        gpcs.not_yet_secure.saturating_sub(gpcs.right_so_far),
        gpcs.unknown
    )
}

/// How to read the table, and what to keep in mind.
fn notes(report: &Attainment) -> Vec<String> {
    let carried = &report.school.carried_in;
    let Secure { right_on_days, days_after_teaching } = report.secure_means;
    let mut notes = vec![
        format!(
            "Secure: right on {right_on_days} separate days, one of them {days_after_teaching} days or more \
             after it was taught, and right the last time. A working rule, not a validated threshold."
        ),
        "So far: right every time, but not asked on enough days to be secure; it counts as not secure \
         in the percentage. Not yet: the others that were asked."
            .to_owned(),
        "Unknown: taught to the group and not asked of the pupil; left out of the percentage.".to_owned(),
        format!(
            "Carried in as taught before the lessons recorded here, and in no column: {} GPCs by pupil, of \
             them {} secure, {} checked and not yet secure, {} unknown.",
            carried.taught, carried.secure, carried.not_yet_secure, carried.unknown
        ),
        "Days: the middle age of the pupils' latest checks on the as-of date. Lessons and checks after \
         that date are not in this report."
            .to_owned(),
    ];
    if report.year_groups.iter().chain(&report.classes).any(|row| row.read_with_care) {
        notes.push("*: so few pupils that one of them moves the percentages.".to_owned());
    }
    notes.extend(report.cautions.iter().take(2).cloned());
    notes.iter().flat_map(|note| wrapped(note)).collect()
}

/// Breaks a text at spaces.
fn wrapped(text: &str) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.is_empty() => line.push_str(word),
            Some(line) if line.chars().count() + 1 + word.chars().count() <= WIDTH => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(format!("  {word}")),
        }
    }
    lines
}

/// Typographic marks as a plain terminal has them.
fn plain(text: &str) -> String {
    text.replace(['\u{2019}', '\u{2018}'], "'").replace(['\u{2013}', '\u{2014}'], "-")
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::{Value, json};

    fn row(name: Option<&str>, pupils: u64, figures: [u64; 6], percents: [Option<u8>; 2]) -> Value {
        let [taught, secure, not_yet_secure, unknown, offered, right] = figures;
        json!({"name": name, "pupils": pupils, "checked": pupils.min(offered), "read_with_care": pupils < 10,
               "median_check_age_days": if offered > 0 { json!(3) } else { Value::Null },
               "gpcs": {"taught": taught, "secure": secure, "not_yet_secure": not_yet_secure, "right_so_far": 0,
                        "unknown": unknown, "secure_percent": percents[0]},
               "carried_in": {"taught": 70, "secure": 3, "not_yet_secure": 7, "right_so_far": 5, "unknown": 60,
                              "secure_percent": 30},
               "words": {"offered": offered, "right": right, "right_percent": percents[1]}})
    }

    fn text() -> String {
        let report = json!({
            "half_term": "Autumn 1", "as_of": "2026-10-23", "audience": "internal",
            "secure_means": {"right_on_days": 3, "days_after_teaching": 7},
            "caution": "Contains personal data, do not publish.",
            "cautions": ["The school’s special lead.", "One two ".repeat(40), "never shown"],
            "versions": [{"version_id": "x", "sequence": "Our sequence", "number": 1}],
            "school": row(None, 204, [99_999, 60_000, 30_000, 9_999, 9_999, 9_999], [Some(83), Some(100)]),
            "year_groups": [row(Some("Nursery"), 44, [0; 6], [None, None])],
            "classes": [row(Some("Aspen"), 9, [90, 30, 40, 20, 99, 50], [Some(43), Some(51)])]
        });
        let report: Attainment = serde_json::from_value(report).unwrap();
        render("Farholt", "2026-09-01".parse().unwrap(), "2026-10-23".parse().unwrap(), &report)
    }

    #[test]
    fn it_fits_a_terminal_and_a_line_printer() {
        for line in text().lines() {
            assert!(line.is_ascii() && line.len() <= 100 && line.trim_end() == line, "{line}");
        }
    }

    #[test]
    fn it_says_what_the_figures_are_of() {
        let text = text();
        for part in [
            "Half term Autumn 1, 1 September 2026 to 23 October 2026. As of 23 October 2026.",
            "Our sequence, version 1",
            "internal. Contains personal data, do not publish.",
            "Secure: right on 3 separate days, one of them 7 days or more",
            "in no column: 70 GPCs by pupil,",
            "The school's special lead.",
        ] {
            assert!(text.contains(part), "{part} is missing from\n{text}");
        }
        assert!(!text.contains("never shown"));
    }

    #[test]
    fn nothing_asked_is_no_percentage_and_few_pupils_are_marked() {
        let text = text();
        let line = |name: &str| {
            let found = text.lines().find(|line| line.trim_start().starts_with(name)).unwrap();
            found.split_whitespace().collect::<Vec<_>>().join(" ")
        };
        assert_eq!(line("Nursery"), "Nursery 0 of 44 - 0 0 0 0 0 no checks no checks");
        assert_eq!(line("Aspen"), "Aspen * 9 of 9 3 90 30 0 40 20 43% 50 of 99 51%");
    }
}
