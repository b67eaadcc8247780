//! The table of what is promised of security names tests that exist.
#![allow(clippy::unwrap_used)]

use std::{collections::BTreeSet, path::Path};

const TABLE: &str = include_str!("acceptance.tsv");
const ROOT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/..");

/// Whether a file has a test of this name.
fn has(path: &str, name: &str) -> bool {
    let text = std::fs::read_to_string(Path::new(ROOT).join(path)).unwrap_or_default();
    let function = format!("fn {name}()");
    text.split("#[test]").chain(text.split("#[tokio::test]")).skip(1).any(|test| {
        let head = test.split_once('{').map_or(test, |(head, _)| head);
        head.contains(&function)
    })
}

/// Where a test is that the table names.
fn place(test: &str) -> Option<(String, &str)> {
    let (place, name) = test.rsplit_once("::")?;
    let path = if place.ends_with(".rs") { place.to_owned() } else { format!("tests/tests/{place}.rs") };
    Some((path, name))
}

#[test]
fn every_line_names_tests_that_exist_or_says_what_is_missing() {
    let mut lines = TABLE.lines().filter(|line| !line.starts_with('#'));
    assert_eq!(lines.next(), Some("line\tname\ttests"));
    let (mut wrong, mut numbers, mut names) = (Vec::new(), Vec::new(), BTreeSet::new());
    for line in lines {
        let cells: Vec<&str> = line.split('\t').collect();
        let [number, name, tests] = cells[..] else { panic!("{line}") };
        numbers.push(number.parse::<u32>().unwrap());
        assert!(names.insert(name), "{name} stands twice");
        let held = tests.split("not yet").next().unwrap().trim_end_matches([';', ' ']);
        assert!(!held.is_empty() || tests.starts_with("not yet"), "{number} {name} says nothing");
        for test in held.split(", ").filter(|test| !test.is_empty()) {
            if !place(test).is_some_and(|(path, name)| has(&path, name)) {
                wrong.push(format!("{number} {name}: there is no test {test}"));
            }
        }
    }
    assert_eq!(numbers, (1..=30).collect::<Vec<u32>>());
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_test_that_is_not_there_is_noticed() {
    let here = "tests/tests/acceptance.rs";
    assert!(has(here, "a_test_that_is_not_there_is_noticed"));
    // A function that is no test, and no function at all.
    assert!(!has(here, "place") && !has(here, "nothing_like_it") && !has("tests/tests/none.rs", "main"));
    assert_eq!(place("sessions::x"), Some(("tests/tests/sessions.rs".into(), "x")));
    assert_eq!(place("core/src/audit.rs::x"), Some(("core/src/audit.rs".into(), "x")));
    assert_eq!(place("x"), None);
}
