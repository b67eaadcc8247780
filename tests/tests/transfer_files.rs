//! Common Transfer Files over the API.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{School, column, json, text};

const TRANSFER: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<CTfile><Header><CTFversion>25.0</CTFversion></Header><CTFpupilData>
<Pupil><UPN>P207000016049</UPN><Surname>O&#8217;Neill</Surname><Forename>Max</Forename><DOB>2020-09-15</DOB><Sex>M</Sex></Pupil>
<Pupil><UPN>P207000016040</UPN><Surname>Bell</Surname><Forename>Zoë</Forename><DOB>2020-10-01</DOB></Pupil>
</CTFpupilData></CTfile>"#;

#[test]
fn a_transfer_file_brings_the_basics_of_those_who_move() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    lead.post("/pupils", json!({"given_name": "Ida", "family_name": "Moor"})).expect(201);
    let answer = lead.send("POST", "/api/v1/roster-imports", Some("application/xml"), TRANSFER.as_bytes());
    let shown = answer.expect(201);
    assert_eq!(
        [&shown["format"], &shown["format_version"], &shown["changes_only"], &shown["absent"]],
        [&json!("ctf"), &json!("25.0"), &json!(true), &json!(0)]
    );
    assert_eq!(
        shown["created"],
        json!([{"line": 2, "name": "Max O’Neill", "class_name": null, "date_of_birth": "2020-09-15", "year_group": "year_1", "optional_fields": {}}])
    );
    // P207000016049 is right by the facts page; with a 0 at the end the letter is another.
    assert_eq!([&shown["rejected"][0]["line"], &shown["rejected"][0]["field"]], [&json!(3), &json!("upn")]);
    let confirm = format!("/roster-imports/{}/confirm", text(&shown["id"]));
    lead.post(&confirm, json!({"from": "2026-11-23"})).expect(200);
    assert_eq!(column(&lead.get("/pupils").expect(200)["items"], "name"), ["Ida Moor", "Max O’Neill"]);
    let refused = |file: &str| {
        lead.send("POST", "/api/v1/roster-imports", Some("text/xml"), file.as_bytes())
            .problem(422, "invalid")
            .join(" ")
    };
    assert!(refused("<!DOCTYPE CTfile [<!ENTITY a \"b\">]><CTfile/>").contains("a document type"));
    let cut = TRANSFER.split_once("</Forename>").unwrap().0;
    assert_eq!(refused(cut), "file: line 3, character 77: the file ends before <Forename> is closed");
}
