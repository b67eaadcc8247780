//! The weekly lessons of groups, and which are due.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Answer, School, TODAY, Value, json, text};

struct Group {
    school: School,
    id: String,
}

impl Group {
    fn new() -> Self {
        let school = School::start();
        school.calendar();
        let zoe = school.pupils(&[("Zoe", "Alder")])["Zoe"].clone();
        let id = school.group("Alder", &school.sequence().0, &[&zoe]);
        Self { school, id }
    }

    fn set(&self, body: Value) -> Answer {
        let (lead, path) = (self.school.lead(), format!("/groups/{}", self.id));
        lead.put(&format!("{path}/timetable"), &lead.get(&path).etag(), body)
    }

    /// The lessons due: day, slot, half and time.
    fn due(&self, from: &str, to: &str) -> Vec<String> {
        let due =
            self.school.lead().get(&format!("/groups/{}/sessions?from={from}&to={to}", self.id)).expect(200);
        let line = |one: &Value| {
            let starts_at = one["starts_at"].as_str().unwrap_or("-");
            format!("{} {} {} {starts_at}", text(&one["on"]), one["slot"], text(&one["part"]))
        };
        due["items"].as_array().unwrap().iter().map(line).collect()
    }
}

#[test]
fn without_a_timetable_one_lesson_is_due_on_every_teaching_day() {
    let group = Group::new();
    let lead = group.school.lead();
    let close = |body: Value| lead.post("/closures", body).expect(201);
    close(json!({"from": "2026-11-10", "kind": "inset"}));
    close(json!({"from": "2026-11-11", "kind": "closure", "part": "morning"}));
    close(json!({"from": "2026-11-12", "kind": "trip", "year_groups": ["Year 1"]}));
    let trip = close(json!({"from": "2026-11-13", "kind": "trip", "year_groups": ["Reception"]}));
    // Zoe is in Year 1: Monday, Wednesday afternoon and Friday are left of this week.
    assert_eq!(
        group.due("2026-11-07", "2026-11-15"),
        ["2026-11-09 1 morning -", "2026-11-11 1 afternoon -", "2026-11-13 1 morning -"]
    );
    lead.call("DELETE", &format!("/closures/{}", text(&trip["id"])), None).expect(204);
    assert_eq!(group.due("2026-11-07", "2026-11-15").len(), 3);
    assert_eq!(group.due("2026-10-24", "2026-11-01"), [""; 0], "the autumn break");
    let none = lead.get(&format!("/groups/{}/timetable", group.id)).expect(200);
    assert_eq!(none["lines"], json!([]));
}

#[test]
fn a_timetable_counts_from_a_day_on() {
    let group = Group::new();
    let lead = group.school.lead();
    let slots = json!([
        {"weekday": "thursday", "part": "afternoon", "starts_at": "13:15", "minutes": 20},
        {"weekday": "monday", "part": "morning", "starts_at": "11:00"},
        {"weekday": "monday", "part": "morning", "starts_at": "09:00", "minutes": 30},
        {"weekday": "saturday", "part": "morning"}]);
    let set = group.set(json!({"from": "2026-11-09", "slots": slots})).expect(200);
    assert_eq!(set["lines"][0]["never_taught"], json!(["saturday"]));
    assert_eq!(set["lines"][0]["slots"][0]["starts_at"], "09:00", "in order");
    group.set(json!({"from": "2026-11-23", "slots": null})).expect(200);
    let due = [
        "2026-11-05 1 morning -",
        "2026-11-06 1 morning -",
        "2026-11-09 1 morning 09:00",
        "2026-11-09 2 morning 11:00",
        "2026-11-12 1 afternoon 13:15",
    ];
    assert_eq!(group.due("2026-11-05", "2026-11-15"), due);
    assert_eq!(group.due("2026-11-19", "2026-11-24").len(), 3, "Thursday, and every day from Monday on");
    let read = lead.get(&format!("/groups/{}/timetable", group.id));
    assert_eq!(read.etag(), lead.get(&format!("/groups/{}", group.id)).etag());
    let lines = read.expect(200)["lines"].clone();
    assert_eq!((&lines[0]["from"], &lines[1]["from"]), (&json!("2026-11-09"), &json!("2026-11-23")));
    assert_eq!(lines[1]["slots"], Value::Null);
    // Said again for the same day, it takes the place of what was said.
    let again = group.set(json!({"from": "2026-11-23", "slots": [{"weekday": "friday", "part": "morning"}]}));
    assert_eq!(again.expect(200)["lines"].as_array().unwrap().len(), 2);
    assert_eq!(group.due("2026-11-23", "2026-11-27"), ["2026-11-27 1 morning -"]);
    // The group's last day is the last on which a lesson is due.
    let path = format!("/groups/{}", group.id);
    lead.with("If-Match", &lead.get(&path).etag())
        .post(&format!("{path}/close"), json!({"on": "2026-11-26"}))
        .expect(204);
    assert_eq!(group.due("2026-11-23", "2026-12-18"), [""; 0]);
}

#[test]
fn a_line_is_taken_back() {
    let group = Group::new();
    let lead = group.school.lead();
    let friday = json!([{"weekday": "friday", "part": "morning"}]);
    group.set(json!({"from": "2026-11-09", "slots": friday})).expect(200);
    let set = group.set(json!({"from": "2026-11-16", "slots": null}));
    set.expect(200);
    let path = format!("/groups/{}/timetable", group.id);
    let remove = |from: &str, etag: &str| {
        lead.with("If-Match", etag).call("DELETE", &format!("{path}?from={from}"), None)
    };
    lead.call("DELETE", &format!("{path}?from=2026-11-16"), None).problem(428, "precondition_required");
    remove("2026-11-16", "\"v0\"").problem(412, "stale");
    remove("2026-11-17", &set.etag()).problem(404, "not_found");
    assert_eq!(group.due("2026-11-16", "2026-11-20").len(), 5);
    remove("2026-11-16", &set.etag()).expect(204);
    assert_eq!(
        group.due("2026-11-16", "2026-11-20"),
        ["2026-11-20 1 morning -"],
        "the line before counts on"
    );
    remove("2026-11-09", &set.etag()).problem(412, "stale");
    remove("2026-11-09", &lead.get(&path).etag()).expect(204);
    assert_eq!(lead.get(&path).expect(200)["lines"], json!([]));
    assert_eq!(group.due("2026-11-09", "2026-11-13").len(), 5);
}

#[test]
fn nothing_is_said_of_days_after_the_last() {
    let group = Group::new();
    let (lead, path) = (group.school.lead(), format!("/groups/{}", group.id));
    lead.with("If-Match", &lead.get(&path).etag())
        .post(&format!("{path}/close"), json!({"on": "2026-11-26"}))
        .expect(204);
    let refused = group.set(json!({"from": "2026-11-27", "slots": null})).problem(422, "invalid");
    assert_eq!(refused, ["from: the group was closed before that day"]);
    group.set(json!({"from": "2026-11-26", "slots": null})).expect(200);
}

#[test]
fn a_timetable_that_cannot_be_is_refused() {
    let group = Group::new();
    let refused = |body: Value| group.set(body).problem(422, "invalid");
    let nine = json!({"weekday": "monday", "part": "morning", "starts_at": "09:00", "minutes": 30});
    let at = |time: &str| json!({"weekday": "monday", "part": "morning", "starts_at": time});
    assert_eq!(
        refused(json!({"from": "2027-09-01", "slots": [nine]})),
        ["from: 2027-09-01 is in no school year of the calendar"]
    );
    assert_eq!(
        refused(json!({"slots": [nine, at("09:29")]})),
        ["slots: monday 09:29 begins before the lesson before it has ended"]
    );
    assert_eq!(
        refused(json!({"slots": [at("9 am")]})),
        ["slots[0].starts_at: is not a time of day; write 09:00"]
    );
    assert_eq!(
        refused(json!({"slots": [nine, at("15:00")]})),
        ["slots[1].starts_at: no morning lesson begins from 13:00 on"]
    );
    assert_eq!(
        refused(json!({"slots": []})),
        ["slots: names no lesson; null is for one on every teaching day"]
    );
    assert!(refused(json!({"from": TODAY}))[0].starts_with("slots: "));
    let path = format!("/groups/{}/sessions", group.id);
    let asked = group.school.lead().get(&format!("{path}?from=2026-09-01&to=2027-10-07"));
    assert_eq!(asked.problem(422, "invalid"), ["to: must be the first day or up to 400 days later"]);
}
