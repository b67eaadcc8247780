//! What becomes, in time, of two records that were made one: how long they can be taken apart, and what a
//! device sends late about the one that is gone.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Client, Pupils, School, Value, column, json, lesson_ids, text};

/// Zoe has a second record, Zoé, in a group of its own with Ida; Zoe is in another with Max.
struct Merged {
    school: School,
    pupils: Pupils,
    other: String,
    groups: [String; 2],
    lessons: Vec<String>,
}

impl Merged {
    fn new() -> Self {
        let school = School::start();
        school.calendar();
        let (sequence, content) = school.sequence();
        let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder"), ("Ida", "Alder")]);
        let again = json!({"given_name": "Zoé", "family_name": "Bell", "date_of_birth": "2020-05-31",
                           "pupil_ref": "R07"});
        let other = text(&school.lead().post("/pupils", again).expect(201)["id"]);
        let groups = [
            school.group("Ants", &sequence, &[&pupils["Zoe"], &pupils["Max"]]),
            school.group("Bees", &sequence, &[&other, &pupils["Ida"]]),
        ];
        Self { school, pupils, other, groups, lessons: lesson_ids(&content) }
    }

    fn same(&self) -> Value {
        let body = json!({"verdict": "same", "pupil_id": self.pupils["Zoe"], "other_id": self.other});
        self.school.lead().post("/pupil-decisions", body).expect(201)
    }

    /// The lead on another day.
    fn on(&mut self, day: &str) -> Client {
        self.school.server.stop_and_restart(day);
        let signed_in = self.school.sign_in(&School::email("lead"));
        self.school.nobody().with_token(&text(&signed_in["access_token"]))
    }

    /// Pupil and mark of each line.
    fn register(record: &Value) -> Vec<Value> {
        let lines = record["register"].as_array().unwrap().iter();
        lines.map(|line| json!([line["pupil_id"], line["mark"]])).collect()
    }
}

fn drops(lead: &Client) -> usize {
    let audited = lead.get("/audit-entries").expect(200)["items"].clone();
    column(&audited, "operation").iter().filter(|operation| *operation == "pupil_decision.drop").count()
}

#[test]
fn what_is_sent_late_about_the_record_that_is_gone_is_the_kept_ones() {
    let t = Merged::new();
    let (zoe, ida, lead) = (&t.pupils["Zoe"], &t.pupils["Ida"], t.school.lead());
    let check = t.school.gpc_check("Sounds", &[("m", "m"), ("o", "ɒ")]);
    let round = t.school.round("Autumn 2", "2026-11-16", "2026-11-27", &[&check.0]);
    let decided = t.same();
    // Its teacher was out of reach and knows nothing of it: Zoé was away in a lesson of Bees.
    let teacher = t.school.staff("teacher");
    let log = |on: &str, lesson: usize, register: Value| {
        let more = json!({"register": register});
        let made = t.school.log_lesson(&teacher, &t.groups[1], on, &t.lessons[lesson], "delivered", &more);
        made.expect(201)
    };
    let first = log("2026-11-19", 0, json!([{"pupil_id": t.other, "mark": "absent"}]));
    let mut expected = vec![json!([zoe, "absent"]), json!([ida, "present"])];
    expected.sort_by_key(|line| text(&line[0]));
    assert_eq!(Merged::register(&first), expected);
    // Both in one register: taught, if either line says so.
    let both = json!([{"pupil_id": zoe, "mark": "absent"}, {"pupil_id": t.other, "mark": "late"}]);
    let second = log("2026-11-20", 1, both);
    assert!(Merged::register(&second).contains(&json!([zoe, "late"])), "{second}");
    // One record twice is a mistake as ever.
    let twice = json!({"register": [{"pupil_id": ida, "mark": "late"}, {"pupil_id": ida, "mark": "late"}]});
    let refused =
        t.school.log_lesson(&teacher, &t.groups[1], "2026-11-23", &t.lessons[2], "delivered", &twice);
    assert_eq!(
        refused.problem(422, "invalid"),
        ["register[1].pupil_id: this pupil stands twice in the register"]
    );
    // Put right, by the device that knows the old record still.
    let path = format!("/lesson-records/{}", text(&first["id"]));
    let report = json!({"on": "2026-11-19", "lesson_id": t.lessons[0], "outcome": "delivered",
                        "register": [{"pupil_id": t.other, "mark": "late"}]});
    let amended = teacher.put(&path, &teacher.get(&path).etag(), report).expect(200);
    assert!(Merged::register(&amended).contains(&json!([zoe, "late"])), "{amended}");
    // Answers, and a correction of one.
    let (m, o) = (&check.1[0], &check.1[1]);
    let sent = (round.as_str(), t.other.as_str(), check.0.as_str());
    let answered = t.school.answer(&teacher, sent, "2026-11-24", &[(m, "wrong"), (o, "right")]);
    let place = format!("/api/v1/check-rounds/{round}/pupils/{zoe}/responses");
    assert_eq!(answered.header("Location"), place);
    let answered = answered.expect(201);
    let correction = json!({"response_id": answered["items"][0]["id"], "outcome": "right"});
    teacher.post(&format!("/check-rounds/{round}/pupils/{}/corrections", t.other), correction).expect(201);
    let of = |pupil: &str| {
        let answers = lead.get(&format!("/check-rounds/{round}/pupils/{pupil}/responses")).expect(200);
        column(&answers["items"], "outcome")
    };
    assert_eq!(of(zoe), ["wrong", "right", "right"]);
    // The address of the record that is gone leads nowhere for whoever reads.
    lead.get(&format!("/pupils/{}", t.other)).problem(404, "not_found");
    lead.get(&format!("/check-rounds/{round}/pupils/{}/responses", t.other)).problem(404, "not_found");
    // A correction since stands in the way of taking the two apart.
    let path = format!("/pupil-decisions/{}", text(&decided["id"]));
    lead.delete(&path, &text(&decided["etag"])).problem(409, "conflict");
}

#[test]
fn what_was_sent_late_stays_with_the_kept_one_when_they_are_taken_apart() {
    let t = Merged::new();
    let (lead, decided) = (t.school.lead(), t.same());
    let more = json!({"register": [{"pupil_id": t.other, "mark": "late"}]});
    let log = |on: &str, lesson: usize| {
        t.school.log_lesson(&lead, &t.groups[1], on, &t.lessons[lesson], "delivered", &more).expect(201)
    };
    log("2026-11-19", 0);
    let path = format!("/pupil-decisions/{}", text(&decided["id"]));
    lead.delete(&path, &text(&decided["etag"])).expect(204);
    let lessons =
        |pupil: &str| lead.get(&format!("/pupils/{pupil}/coverage")).expect(200)["lessons_attended"].clone();
    assert_eq!([lessons(&t.pupils["Zoe"]), lessons(&t.other)], [1, 0]);
    // From then on a line about the other is the other's again.
    log("2026-11-20", 1);
    assert_eq!([lessons(&t.pupils["Zoe"]), lessons(&t.other)], [1, 1]);
}

#[test]
fn two_records_can_be_taken_apart_until_a_last_day() {
    let mut t = Merged::new();
    let decided = t.same();
    // England keeps what each record had for 180 days.
    assert_eq!(decided["undo_until"], "2027-05-24");
    let path = format!("/pupil-decisions/{}", text(&decided["id"]));
    let lead = t.on("2027-05-24");
    assert_eq!(drops(&lead), 0);
    lead.delete(&path, &text(&decided["etag"])).expect(204);
    let body = json!({"verdict": "same", "pupil_id": t.pupils["Zoe"], "other_id": t.other});
    let decided = lead.post("/pupil-decisions", body).expect(201);
    assert_eq!(decided["undo_until"], "2027-11-20");
    let lead = t.on("2027-11-21");
    let path = format!("/pupil-decisions/{}", text(&decided["id"]));
    let refused = lead.delete(&path, &text(&decided["etag"]));
    refused.problem(410, "gone");
    let said = "it can no longer be taken back: what was before was kept until 2027-11-20";
    assert_eq!(refused.json()["detail"], said);
    assert_eq!(drops(&lead), 1);
    // The decision stands, and files know the child by either record.
    let listed = lead.get("/pupil-decisions").expect(200)["items"].clone();
    assert_eq!((&listed[0]["verdict"], &listed[0]["other"]["name"]), (&json!("same"), &json!("Zoé Bell")));
    let file = "pupil_ref,given_name,family_name,date_of_birth\nR07,Zoé,Bell,2020-05-31\n";
    let shown = lead.post_csv("/roster-imports", file.as_bytes()).expect(201);
    assert_eq!((&shown["created"], &shown["held"]), (&json!([]), &json!([])));
}

#[test]
fn suspected_duplicates_and_decisions_are_looked_at_in_the_audit_log() {
    let school = School::start();
    school.calendar();
    let office = school.staff("office");
    office.get("/suspected-duplicates").expect(200);
    office.get("/pupil-decisions").expect(200);
    let log = school.staff("administrator").get("/audit-entries?limit=20").expect(200)["items"].clone();
    let by_office: Vec<String> = log
        .as_array()
        .unwrap()
        .iter()
        .filter(|entry| entry["staff_id"] == school.staff_id("office"))
        .map(|entry| text(&entry["operation"]))
        .filter(|operation| operation.starts_with("pupil"))
        .collect();
    assert_eq!(by_office, ["pupil_decision.list", "pupil.list_suspected"]);
}

#[test]
fn a_repeated_decision_is_read_anew_and_made_once() {
    let t = Merged::new();
    let lead = t.school.lead().with("Idempotency-Key", "once");
    let body = json!({"verdict": "same", "pupil_id": t.pupils["Zoe"], "other_id": t.other});
    let made = lead.post("/pupil-decisions", body.clone());
    let again = lead.post("/pupil-decisions", body);
    assert_eq!((again.expect(201), again.header("Location")), (made.expect(201), made.header("Location")));
    assert_eq!(t.school.lead().get("/pupil-decisions").expect(200)["items"].as_array().unwrap().len(), 1);
}
