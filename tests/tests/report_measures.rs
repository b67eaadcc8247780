//! What is said of lessons and of the sequence's expectation in reports, and how pupils moved between two, against figures
//! worked by hand.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Client, Pupils, School, TODAY, Value, json, lesson_ids, text};

const SOUNDS: [(&str, &str); 3] = [("m", "m"), ("o", "ɒ"), ("d", "d")];

/// A school of fifteen in Year 1 of whom the last is in no group.
struct Term {
    school: School,
    half_terms: Vec<String>,
    pupils: Pupils,
    group: String,
    lessons: Vec<String>,
    content: Value,
}

fn name(n: usize) -> String {
    format!("Kim{}", char::from(b'a' + u8::try_from(n).unwrap()))
}

impl Term {
    fn new() -> Self {
        let school = School::start();
        let half_terms = school.calendar();
        let names: Vec<String> = (0..15).map(name).collect();
        let roll: Vec<(&str, &str)> = names.iter().map(|name| (name.as_str(), "Elm")).collect();
        let pupils = school.pupils(&roll);
        let (sequence, content) = school.sequence();
        let members: Vec<&String> = names[..14].iter().map(|name| &pupils[name]).collect();
        let group = school.group("Elm", &sequence, &members);
        let lessons = lesson_ids(&content);
        Self { school, half_terms, pupils, group, lessons, content }
    }

    fn id(&self, n: usize) -> &String {
        &self.pupils[&name(n)]
    }

    fn lead(&self) -> Client {
        self.school.lead()
    }

    /// m and o on the 2nd, d and "the" on the 3rd without 8 to 13, m and o again on the 4th. 8 to 10 catch up on the 20th.
    fn teach(&self) {
        let lead = self.lead();
        let absent = (8..14).map(|n| json!({"pupil_id": self.id(n), "mark": "absent"}));
        let absent = json!({"register": absent.collect::<Vec<_>>()});
        let log = |on: &str, n: usize, outcome: &str, more: &Value| {
            self.school.log_lesson(&lead, &self.group, on, &self.lessons[n], outcome, more).expect(201);
        };
        log("2026-11-02", 0, "delivered", &json!({}));
        log("2026-11-03", 1, "delivered", &absent);
        log("2026-11-04", 0, "retaught", &json!({}));
        let items: Vec<&Value> =
            self.content["steps"][0]["lessons"][1]["items"].as_array().unwrap().iter().collect();
        let items: Vec<&Value> = items.into_iter().map(|item| &item["id"]).collect();
        let pupils: Vec<&String> = (8..11).map(|n| self.id(n)).collect();
        let body = json!({"on": "2026-11-20", "items": items, "pupil_ids": pupils});
        lead.post(&format!("/groups/{}/catch-up-records", self.group), body).expect(201);
    }

    /// 0 to 4 have all three right on three days, the last a week after teaching and more; 5 to 7 have m wrong.
    fn ask(&self) {
        let lead = self.lead();
        let (check, items) = self.school.gpc_check("Sounds", &SOUNDS);
        for on in ["2026-11-05", "2026-11-09", "2026-11-12"] {
            let round = self.school.round(on, on, on, &[&check]);
            for n in 0..5 {
                let answers: Vec<(&str, &str)> = items.iter().map(|item| (item.as_str(), "right")).collect();
                self.school.answer(&lead, (&round, self.id(n), &check), on, &answers).expect(201);
            }
            for n in 5..8 {
                let answers = [(items[0].as_str(), "wrong")];
                self.school.answer(&lead, (&round, self.id(n), &check), on, &answers).expect(201);
            }
        }
    }

    fn plan(&self, lessons: u32, days: u32) {
        let path = format!("/groups/{}/pace-plan", self.group);
        let body = json!({"from": "2026-11-02", "lessons": lessons, "days": days});
        self.lead().call("PUT", &path, Some(&body)).expect(200);
    }

    fn snapshot(&self, body: Value) -> String {
        text(&self.lead().post("/report-snapshots", body).expect(201)["id"])
    }
}

/// The row of all pupils of a measure: how many met it, of how many, and of how many it is not known.
fn whole(tables: &Value, measure: &str) -> (u64, u64, Option<u64>) {
    let table = tables.as_array().unwrap().iter().find(|table| table["measure"] == measure).unwrap();
    let row = &table["rows"][0];
    (row["met"].as_u64().unwrap(), row["pupils"].as_u64().unwrap(), row["not_known"].as_u64())
}

/// By the plan of one lesson in eight teaching days, 17 have passed from 2 to 24 November: two lessons, with m, o and d.
/// Secure are all three of 0 to 4. 5 to 7 have m wrong, and two of three are too few. 8 to 10 were taught all of it and never
/// asked: not known. 11 to 13 were not taught d: two of three are too few. The last is in no group.
/// Lessons given are two: 8 to 13 missed the second, and three of them caught up. Of three sessions they were at two.
#[test]
fn lessons_and_the_expectation_are_counted_as_by_hand() {
    let t = Term::new();
    t.teach();
    t.ask();
    t.plan(1, 8);
    let id = t.snapshot(json!({}));
    let lead = t.lead();
    let tables = lead.get(&format!("/report-snapshots/{id}")).expect(200)["figures"]["tables"].clone();
    assert_eq!(whole(&tables, "expected"), (5, 11, Some(4)));
    assert_eq!(whole(&tables, "coverage"), (11, 14, Some(1)));
    assert_eq!(whole(&tables, "attendance"), (8, 14, Some(1)));
    let means =
        tables.as_array().unwrap().iter().find(|one| one["measure"] == "expected").unwrap()["means"].clone();
    assert!(text(&means).contains("by the plan of the pupil’s groups"), "{means}");
    // To governors: the numbers, and not of how many it is not known.
    let releases = format!("/report-snapshots/{id}/releases");
    let released = lead.post(&releases, json!({"audience": "closed", "measures": ["expected"]})).expect(201);
    assert_eq!(whole(&released["tables"], "expected"), (5, 11, None));
    // What is known of nearly everybody would tell beside it of how many something else is not known.
    for code in ["coverage", "attendance"] {
        let refused =
            lead.post(&releases, json!({"audience": "closed", "measures": [code]})).problem(422, "invalid");
        assert!(refused[0].starts_with("measures[0]: "), "{refused:?}");
    }
    let path = format!("/report-releases/{}", text(&released["id"]));
    let csv = lead.get(&format!("{path}/table.csv")).text;
    assert!(csv.contains("closed,2026-11-25,expected,,,,11,,5,45,21.3,72.0,,,,"), "{csv}");
    let html = lead.get(&format!("{path}/page")).text;
    for said in ["As far as the sequence expects", "<td class=\"told\">21 to 72%</td>"] {
        assert!(html.contains(said), "{said}: {html}");
    }
    let pdf = lopdf::Document::load_mem(&lead.get(&format!("{path}/report.pdf")).bytes).unwrap();
    let pages: Vec<u32> = pdf.get_pages().into_keys().collect();
    let said: String = pdf.extract_text(&pages).unwrap().split_whitespace().collect();
    assert!(said.contains("Wholeschool11545%21to72%"), "{said}");
    let book = lead.get(&format!("{path}/table.xlsx"));
    let mut archive = zip::ZipArchive::new(std::io::Cursor::new(book.bytes)).unwrap();
    let texts = std::io::read_to_string(archive.by_name("xl/sharedStrings.xml").unwrap()).unwrap();
    assert!(texts.contains("expects to be taught by the day"), "{texts}");
    let sheet = std::io::read_to_string(archive.by_name("xl/worksheets/sheet1.xml").unwrap()).unwrap();
    assert!(sheet.contains("<v>21.3</v>") && sheet.contains("<v>72</v>"), "{sheet}");
}

/// With every lesson expected by now there are e and n too, which nobody was taught: three of five are too few, whatever
/// else is known. With none expected yet nothing is known of anybody.
#[test]
fn another_plan_expects_something_else() {
    let t = Term::new();
    t.teach();
    t.ask();
    let lead = t.lead();
    let of = |id: &str| lead.get(&format!("/report-snapshots/{id}")).expect(200)["figures"]["tables"].clone();
    t.plan(1, 1);
    let all = t.snapshot(json!({}));
    assert_eq!(whole(&of(&all), "expected"), (0, 14, Some(1)));
    let path = format!("/groups/{}/pace-plan", t.group);
    let later = json!({"from": "2026-11-02", "lessons": 1, "days": 40});
    lead.put(&path, &lead.get(&path).etag(), later).expect(200);
    let none = of(&t.snapshot(json!({})));
    let table = none.as_array().unwrap().iter().find(|table| table["measure"] == "expected").unwrap();
    assert_eq!(table["rows"][0]["symbol"], "x");
    // What was frozen stays.
    assert_eq!(whole(&of(&all), "expected"), (0, 14, Some(1)));
}

/// As of the 9th nobody has anything secure: it was right on two days. As of the 25th 0 to 4 have three each. 1
/// left in between, and one came.
#[test]
fn progress_is_of_who_is_in_both_snapshots_and_for_those_who_answer_for_them() {
    let t = Term::new();
    t.teach();
    t.ask();
    let lead = t.lead();
    let earlier = t.snapshot(json!({"as_of": "2026-11-09"}));
    let path = format!("/pupils/{}", t.id(1));
    lead.patch(&path, &lead.get(&path).etag(), json!({"left_on": "2026-11-20"})).expect(200);
    let class = lead.get("/classes").expect(200)["items"][0]["id"].clone();
    let new = json!({"given_name": "Lou", "year_group": "Year 1", "class_id": class, "from": "2026-11-23"});
    lead.post("/pupils", new).expect(201);
    let later = t.snapshot(json!({"as_of": TODAY}));
    let path = format!("/report-snapshots/{later}/progress?since={earlier}");
    let seen = lead.get(&path).expect(200);
    assert_eq!((&seen["earlier"]["as_of"], &seen["later"]["as_of"]), (&json!("2026-11-09"), &json!(TODAY)));
    let progress = &seen["progress"];
    // Fourteen are in both; four of them have three more: 12 of 14 are 0.86.
    assert_eq!(progress["pupils"], 14);
    assert_eq!(progress["secure"][0], json!({"by": null, "name": null, "pupils": 14, "mean_tenths": 9}));
    // Of GPCs taught and asked: none was secure on the 9th, all three are now of 0, 2, 3 and 4; 5 to 7 have none; the rest
    // were not asked.
    let table = progress["tables"].as_array().unwrap().iter().find(|one| one["measure"] == "gpcs").unwrap();
    assert_eq!(
        table["rows"][0],
        json!({"by": null, "name": null, "met_in_both": 0, "met_since": 4, "met_no_more": 0, "met_in_neither": 3,
               "not_known": 7})
    );
    assert!(text(&seen["cautions"][0]).contains("do not publish"), "{seen}");
    let entry = lead.get("/audit-entries?limit=1").expect(200)["items"][0].clone();
    assert_eq!(
        (&entry["operation"], &entry["subject_kind"]),
        (&json!("report_snapshot.read_progress"), &json!("report_snapshot"))
    );
    let swapped = lead.get(&format!("/report-snapshots/{earlier}/progress?since={later}"));
    let said = "since: is of 2026-11-25: the snapshot in the address has to be of a later day";
    assert_eq!(swapped.problem(422, "invalid"), [said]);
    let none = lead.get(&format!("/report-snapshots/{later}/progress?since={}", t.half_terms[0]));
    assert_eq!(none.problem(422, "invalid"), ["since: is no snapshot of this school"]);
    assert_eq!(t.school.staff("teacher").get(&path).status, 403);
}
