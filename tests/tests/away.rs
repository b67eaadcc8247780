//! Who is away with the class or the year group: not due, so neither taught nor missed, in registers, on cover
//! pages, in catch-up and in the report.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Pupils, School, Value, column, json, lesson_ids, text};

/// A group of Ida of class Oak and Ben of class Fir, with a lesson every morning and, on Thursdays, one in the
/// afternoon.
struct Mixed {
    school: School,
    group: String,
    pupils: Pupils,
    lessons: Vec<String>,
}

impl Mixed {
    fn new() -> Self {
        let school = School::start();
        school.calendar();
        let (sequence, content) = school.sequence();
        let pupils = school.pupils(&[("Ida", "Oak"), ("Ben", "Fir")]);
        let group = school.group("Rowan", &sequence, &[&pupils["Ida"], &pupils["Ben"]]);
        let slot = |weekday: &str, part: &str| json!({"weekday": weekday, "part": part});
        let mornings =
            ["monday", "tuesday", "wednesday", "thursday", "friday"].map(|day| slot(day, "morning"));
        let mut slots = mornings.to_vec();
        slots.push(slot("thursday", "afternoon"));
        let (lead, path) = (school.lead(), format!("/groups/{group}"));
        let body = json!({"from": "2026-09-01", "slots": slots});
        lead.put(&format!("{path}/timetable"), &lead.get(&path).etag(), body).expect(200);
        Self { school, group, pupils, lessons: lesson_ids(&content) }
    }

    /// Closes days for class Oak.
    fn oak_is_away(&self, mut body: Value) -> Value {
        let lead = self.school.lead();
        let classes = lead.get("/classes").expect(200)["items"].as_array().unwrap().clone();
        let oak = classes.iter().find(|class| class["name"] == "Oak").unwrap()["id"].clone();
        body["class_ids"] = json!([oak]);
        lead.post("/closures", body).expect(201)
    }

    /// Records the lesson that stands `n`th; answers the register's names and marks.
    fn lesson(&self, n: usize, on: &str, more: &Value) -> Vec<(String, String)> {
        let teacher = self.school.staff("teacher");
        let made = self.school.log_lesson(&teacher, &self.group, on, &self.lessons[n], "delivered", more);
        let made = made.expect(201);
        let name = |id: &str| self.pupils.iter().find(|(_, known)| *known == id).unwrap().0.clone();
        let entries = made["register"].as_array().unwrap().iter();
        let mut lines: Vec<_> =
            entries.map(|one| (name(&text(&one["pupil_id"])), text(&one["mark"]))).collect();
        lines.sort();
        lines
    }

    /// How many items were taught to Ida, and how many she missed.
    fn ida(&self) -> (usize, usize) {
        let path = format!("/pupils/{}/coverage", self.pupils["Ida"]);
        let items = self.school.lead().get(&path).expect(200)["items"].as_array().unwrap().clone();
        let count = |field: &str| items.iter().filter(|item| !item[field].is_null()).count();
        (count("taught_on"), count("missed_on"))
    }
}

fn lines(lines: &[(&str, &str)]) -> Vec<(String, String)> {
    lines.iter().map(|(name, mark)| ((*name).to_owned(), (*mark).to_owned())).collect()
}

#[test]
fn who_is_away_is_neither_taught_nor_missed_and_who_is_named_was_there() {
    let mixed = Mixed::new();
    mixed.oak_is_away(json!({"from": "2026-11-16", "until": "2026-11-17", "kind": "trip"}));
    assert_eq!(mixed.lesson(0, "2026-11-16", &json!({})), lines(&[("Ben", "present")]));
    assert_eq!(mixed.ida(), (0, 0));
    let coverage = mixed.school.lead().get(&format!("/groups/{}/coverage", mixed.group)).expect(200);
    assert_eq!(coverage["missed"], json!([]));
    // GPCs that count in the report: m and o of Ben, none of Ida.
    let report = mixed.school.lead().get("/reports/attainment").expect(200);
    assert_eq!(report["school"]["gpcs"]["taught"], 2);
    let there = json!({"register": [{"pupil_id": mixed.pupils["Ida"], "mark": "present"}]});
    let both = lines(&[("Ben", "present"), ("Ida", "present")]);
    assert_eq!(mixed.lesson(1, "2026-11-17", &there), both);
    assert_eq!(mixed.ida(), (2, 0));
    assert_eq!(mixed.lesson(2, "2026-11-18", &json!({})), both);
}

#[test]
fn half_a_day_is_asked_of_the_half_in_which_the_lesson_is_due() {
    let mixed = Mixed::new();
    mixed.oak_is_away(json!({"from": "2026-11-19", "kind": "trip", "part": "afternoon"}));
    let both = lines(&[("Ben", "present"), ("Ida", "present")]);
    assert_eq!(mixed.lesson(0, "2026-11-19", &json!({})), both);
    assert_eq!(mixed.lesson(1, "2026-11-19", &json!({"slot": 2})), lines(&[("Ben", "present")]));
    // A third lesson is in no half that anybody knows of.
    assert_eq!(mixed.lesson(2, "2026-11-19", &json!({"slot": 3})), both);
}

#[test]
fn a_group_that_is_away_as_a_whole_has_nobody_to_teach() {
    let mixed = Mixed::new();
    let lead = mixed.school.lead();
    lead.post("/closures", json!({"from": "2026-11-16", "kind": "trip", "year_groups": ["Year 1"]}))
        .expect(201);
    let teacher = mixed.school.staff("teacher");
    let log = |on: &str, n: usize| {
        let made =
            mixed.school.log_lesson(&teacher, &mixed.group, on, &mixed.lessons[n], "delivered", &json!({}));
        let made = made.expect(201);
        (made["register"].as_array().unwrap().len(), made["warnings"].clone())
    };
    assert_eq!(log("2026-11-16", 0), (0, json!(["on_closed_day"])));
    // Where the school was shut and a lesson was given all the same, nothing says that somebody was elsewhere.
    lead.post("/closures", json!({"from": "2026-11-17", "kind": "closure"})).expect(201);
    assert_eq!(log("2026-11-17", 1), (2, json!(["on_closed_day"])));
}

#[test]
fn cover_pages_and_catch_up_go_by_the_same() {
    let mixed = Mixed::new();
    let lead = mixed.school.lead();
    let absent = json!({"register": [{"pupil_id": mixed.pupils["Ida"], "mark": "absent"}]});
    mixed.lesson(0, "2026-11-16", &absent);
    mixed.oak_is_away(json!({"from": "2026-11-26", "kind": "trip", "part": "morning"}));
    mixed.oak_is_away(json!({"from": "2026-11-27", "kind": "trip"}));
    let due = |on: &str| {
        let page = lead.get(&format!("/groups/{}/cover-page?on={on}", mixed.group)).expect(200);
        column(&page["members"], "name")
    };
    let both = ["Ben Bell", "Ida Bell"];
    assert_eq!(due("2026-11-25"), both);
    // On Thursday there is a lesson in the afternoon too.
    assert_eq!(due("2026-11-26"), both);
    assert_eq!(due("2026-11-27"), ["Ben Bell"]);
    let teacher = mixed.school.staff_id("teacher");
    let plan = |on: &str| {
        let body = json!({"on": on, "adults": [{"staff_id": teacher, "minutes": 20}]});
        let made = lead.post("/catch-up-plans", body).expect(200);
        (made["sets"].as_array().unwrap().len(), made["left"].as_array().unwrap().len())
    };
    assert_eq!((plan("2026-11-26"), plan("2026-11-27")), ((1, 0), (0, 1)));
}

#[test]
fn what_is_on_record_stays_and_is_asked_about() {
    let mixed = Mixed::new();
    let lead = mixed.school.lead();
    mixed.lesson(0, "2026-11-16", &json!({}));
    let classes = lead.get("/classes").expect(200)["items"].as_array().unwrap().clone();
    let oak = classes.iter().find(|class| class["name"] == "Oak").unwrap()["id"].clone();
    let mut trip = json!({"from": "2026-11-16", "kind": "trip", "class_ids": [oak]});
    let said = "with_records: lessons of Rowan are on record: 2026-11-16. \
        Say true to close the days all the same; the records stay";
    assert_eq!(lead.post("/closures", trip.clone()).problem(409, "conflict"), [said]);
    trip["with_records"] = json!(true);
    lead.post("/closures", trip).expect(201);
    assert_eq!(mixed.ida(), (2, 0));
}

#[test]
fn a_trip_entered_an_hour_after_the_register_leaves_no_miss() {
    let mixed = Mixed::new();
    let absent = json!({"register": [{"pupil_id": mixed.pupils["Ida"], "mark": "absent"}]});
    assert_eq!(mixed.lesson(0, "2026-11-16", &absent), lines(&[("Ben", "present"), ("Ida", "absent")]));
    assert_eq!(mixed.ida(), (0, 2));
    let open = || {
        let list = mixed.school.lead().get(&format!("/groups/{}/catch-up", mixed.group)).expect(200);
        column(&list["pupils"], "name")
    };
    assert_eq!(open(), ["Ida Bell"]);
    let trip = mixed.oak_is_away(json!({"from": "2026-11-16", "kind": "trip"}));
    assert_eq!((mixed.ida(), open()), ((0, 0), vec![]));
    let overview = mixed.school.lead().get("/weekly-overview").expect(200);
    assert_eq!(overview["pupils"], json!([]));
    // Taken back, she was absent.
    let path = format!("/closures/{}", text(&trip["id"]));
    mixed.school.lead().call("DELETE", &path, None).expect(204);
    assert_eq!((mixed.ida(), open()), ((0, 2), vec!["Ida Bell".to_owned()]));
}

#[test]
fn an_absent_mark_of_who_is_away_is_no_mistake_and_no_miss() {
    let mixed = Mixed::new();
    mixed.oak_is_away(json!({"from": "2026-11-16", "kind": "trip"}));
    let absent = json!({"register": [{"pupil_id": mixed.pupils["Ida"], "mark": "absent"}]});
    assert_eq!(mixed.lesson(0, "2026-11-16", &absent), lines(&[("Ben", "present")]));
    assert_eq!(mixed.ida(), (0, 0));
}
