//! What a calendar file says only once somebody has said what its words mean.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{School, calendar_file, column, json};

#[test]
fn what_depends_on_an_answer_is_asked_before_it_is_refused() {
    let school = School::start();
    let lead = school.lead();
    let ask = |query: &str, file: &str| {
        let path = format!("/api/v1/calendar/imports{query}");
        let seen = lead.send(
            "POST",
            "/api/v1/calendar/imports?dry_run=true",
            Some("text/calendar"),
            file.as_bytes(),
        );
        lead.with("If-Match", &seen.etag()).send("POST", &path, Some("text/calendar"), file.as_bytes())
    };
    // A school without a calendar: the half term and the closure lie in a year that nobody has said is one.
    let sent = calendar_file(&[
        "DTSTART;VALUE=DATE:20260901\nDTEND;VALUE=DATE:20270722\nSUMMARY:Notre année\nUID:1",
        "DTSTART;VALUE=DATE:20260907\nDTEND;VALUE=DATE:20261024\nSUMMARY:Autumn 1\nCATEGORIES:HALF-TERM\nUID:2",
        "DTSTART;VALUE=DATE:20261012\nSUMMARY:Training\nCATEGORIES:INSET\nUID:3",
    ]);
    let shown = ask("?dry_run=true", &sent).expect(200);
    assert_eq!(column(&shown["questions"], "summary"), ["Notre année"]);
    assert_eq!(column(&shown["faults"], "field"), ["line 10", "line 17"]);
    let refused = ask("", &sent).problem(422, "invalid");
    assert_eq!(refused.len(), 1);
    assert!(
        refused[0].starts_with("line 4: \"Notre année\": nothing says what it is. Name it"),
        "{refused:?}"
    );
    let told = "?dry_run=true&school_years=notre%20ann%C3%A9e";
    let shown = ask(told, &sent).expect(200);
    assert_eq!((&shown["questions"], &shown["faults"]), (&json!([]), &json!([])));
    assert_eq!(column(&shown["closures"], "from"), ["2026-10-12"]);
    // A word may hold the sign that stands between words, and a comma too many says nothing.
    let barred = calendar_file(&[
        "DTSTART;VALUE=DATE:20261012\nSUMMARY:Staff | day\nCATEGORIES:Staff|Pupils,\nUID:4",
        "DTSTART;VALUE=DATE:20261013\nSUMMARY:Cafe\u{301}\u{a0} day\nUID:5",
    ]);
    let all = format!(
        "{}{}",
        &sent[..sent.rfind("END:VCALENDAR").unwrap()],
        &barred[barred.find("BEGIN:VEVENT").unwrap()..]
    );
    let told_all = format!("{told}&insets=staff%5C%7Cpupils%7Ccaf%C3%A9%20day");
    let shown = ask(&told_all, &all).expect(200);
    assert_eq!(shown["questions"], json!([]));
    assert_eq!(column(&shown["closures"], "from"), ["2026-10-12", "2026-10-13"]);
    // What no answer mends is refused once there is none to give.
    let beside = sent.replace("20261012", "20281012");
    let refused = ask(told, &beside).problem(422, "invalid");
    assert_eq!(refused.len(), 1);
    assert!(refused[0].starts_with("line 17: "), "{refused:?}");
}
