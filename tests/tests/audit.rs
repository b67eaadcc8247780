//! The audit log from outside: searched, verified, noted and erased from.
#![allow(clippy::unwrap_used)]

use std::process::Output;

use plumbline_tests::{Client, School, Value, json, text};

fn said(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

/// The end of the log, as an operator notes it.
fn head(school: &School) -> String {
    let printed = school.server.run(&["audit", "head", "--today", &school.server.today]);
    assert!(printed.status.success(), "{}", String::from_utf8_lossy(&printed.stderr));
    let printed = said(&printed);
    let (end, name) = printed.trim().split_once("  ").unwrap();
    assert_eq!(name, "Farholt Infant School");
    end.to_owned()
}

fn number_of(end: &str) -> i64 {
    end.split(':').nth(1).unwrap().parse().unwrap()
}

#[test]
fn a_log_verifies_against_what_was_noted_of_it() {
    let school = School::start();
    school.lead();
    let noted = head(&school);
    // The making of the school, and of each of two people: invited (but for the first), joined, signed in.
    assert_eq!(number_of(&noted), 6);
    assert_eq!(head(&school), noted);
    school.lead().post("/classes", json!({"name": "Alder"})).expect(201);
    let verified = school.server.run(&["audit", "verify", "--noted", &noted]);
    let line = said(&verified);
    assert!(line.starts_with("Farholt Infant School: 7 entries hold; signed up to entry "), "{line}");
    assert!(line.ends_with(", 0 months, 0 erased.\n"), "{line}");
    assert!(verified.status.success());
    // An end that this log never had.
    let (entry, digest) = noted.rsplit_once(':').unwrap();
    let other = format!("{entry}:{}", digest.chars().rev().collect::<String>());
    let refused = school.server.run(&["audit", "verify", "--noted", &other]);
    assert_eq!(said(&refused), "Farholt Infant School: entry 6 is not the one that was noted\n");
    assert_eq!(refused.status.code(), Some(1));
    let later = noted.replacen(":6:", ":9:", 1);
    let refused = school.server.run(&["audit", "verify", "--noted", &later]);
    let cut = "Farholt Infant School: the log was cut off: entry 8 and what came after it are gone\n";
    assert_eq!(said(&refused), cut);
    for none in ["x", &noted[1..], &format!("{noted}00")] {
        assert_eq!(school.server.run(&["audit", "verify", "--noted", none]).status.code(), Some(2), "{none}");
    }
}

#[test]
fn stopping_the_server_signs_the_end() {
    let mut school = School::start();
    school.lead().post("/classes", json!({"name": "Alder"})).expect(201);
    school.server.stop_and_restart("2026-12-02");
    let verified = said(&school.server.run(&["audit", "verify"]));
    // In December November is over, and signed by itself.
    assert_eq!(
        verified,
        "Farholt Infant School: 7 entries hold; signed up to entry 7, 1 months, 0 erased.\n"
    );
}

#[test]
fn who_and_whom_are_erased_and_the_log_holds() {
    let school = School::start();
    school.calendar();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder")]);
    let (lead, zoe) = (school.lead(), &pupils["Zoe"]);
    for _ in 0..2 {
        lead.get(&format!("/pupils/{zoe}")).expect(200);
    }
    lead.get(&format!("/pupils/{}", pupils["Max"])).expect(200);
    let of = |pupil: &str| {
        let path = format!("/audit-entries?pupil_id={pupil}&operation=pupil.read");
        lead.get(&path).expect(200)["items"].as_array().unwrap().len()
    };
    assert_eq!((of(zoe), of(&pupils["Max"])), (2, 1));
    head(&school);
    // Twice looked at, and once looked for in the log.
    let erased = school.server.run(&["audit", "erase", zoe]);
    assert_eq!(said(&erased), "Took who and whom out of 3 entries.\n");
    assert_eq!(school.server.run(&["audit", "erase", zoe]).status.code(), Some(1));
    assert_eq!((of(zoe), of(&pupils["Max"])), (0, 1));
    let verified = school.server.run(&["audit", "verify"]);
    assert!(verified.status.success() && said(&verified).contains(" 3 erased."), "{}", said(&verified));
    let entries = lead.get("/audit-entries?operation=pupil.read").expect(200);
    let by: Vec<&Value> =
        entries["items"].as_array().unwrap().iter().map(|entry| &entry["staff_id"]).collect();
    let staff = json!(school.staff_id("lead"));
    assert_eq!(by, [&staff, &Value::Null, &Value::Null]);
}

fn operations(client: &Client, query: &str) -> Vec<String> {
    let found = client.get(&format!("/audit-entries?limit=500{query}")).expect(200);
    found["items"].as_array().unwrap().iter().map(|entry| text(&entry["operation"])).collect()
}

#[test]
fn the_log_is_searched_by_day_adult_kind_and_child() {
    let mut school = School::start();
    school.calendar();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder")]);
    let office = school.staff("office");
    for name in ["Zoe", "Max"] {
        office.get(&format!("/pupils/{}", pupils[name])).expect(200);
    }
    let lead = school.lead();
    let by_office = format!("&staff_id={}", school.staff_id("office"));
    // Latest first.
    let all = operations(&lead, &by_office);
    assert_eq!(all, ["pupil.read", "pupil.read", "session.create", "invitation.accept"]);
    assert_eq!(operations(&lead, &format!("{by_office}&subject_kind=session")), ["session.create"]);
    let zoe = format!("&pupil_id={}", pupils["Zoe"]);
    assert_eq!(operations(&lead, &format!("{by_office}{zoe}")), ["pupil.read"]);
    assert_eq!(operations(&lead, "&subject_kind=nothing"), [""; 0]);
    // Looking for a child's entries is one of them, by who looked.
    let looked = operations(&lead, &format!("{zoe}&staff_id={}", school.staff_id("lead")));
    assert_eq!(looked, ["audit_log.read"]);
    school.server.stop_and_restart("2026-11-26");
    let signed_in = school.sign_in(&School::email("lead"));
    let lead = school.nobody().with_token(&text(&signed_in["access_token"]));
    assert_eq!(operations(&lead, "&on=2026-11-26"), ["session.create"]);
    assert_eq!(operations(&lead, &format!("&on=2026-11-25{by_office}")), all);
    assert_eq!(operations(&lead, "&on=2026-11-24"), [""; 0]);
    // Pages of what was found go on where they were.
    let first = lead.get(&format!("/audit-entries?limit=3{by_office}")).expect(200);
    let next = format!("/audit-entries?limit=3{by_office}&cursor={}", text(&first["next"]));
    assert_eq!(lead.get(&next).expect(200)["items"].as_array().unwrap().len(), 1);
    for wrong in ["on=yesterday", "staff_id=x", "pupil_id=Zoe", "operation=%00", "who=x"] {
        lead.get(&format!("/audit-entries?{wrong}")).problem(422, "invalid");
    }
    // Nothing that is found says more than before, nor whom it is about.
    let found = lead.get(&format!("/audit-entries?limit=500{zoe}"));
    assert!(!found.text.contains(&pupils["Zoe"]) && !found.text.contains("Zoe"));
    let known = ["at", "operation", "seq", "staff_id", "subject_kind"];
    for entry in found.expect(200)["items"].as_array().unwrap() {
        let mut keys: Vec<&String> = entry.as_object().unwrap().keys().collect();
        keys.sort();
        assert_eq!(keys, known);
    }
}
