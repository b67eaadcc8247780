//! A hard case of content that changes after work was recorded against it.

use plumbline_tests::{School, Value, json, lesson_ids, text};

use super::read;

fn input(name: &str) -> Value {
    serde_json::from_slice(&read(name)).unwrap()
}

/// An item of the case: its note names the word to remember it by.
fn item(entry: &Value) -> Value {
    let keyword = text(&entry["note"]).rsplit(' ').next().unwrap().to_owned();
    json!({"kind": "gpc", "gpc": {"grapheme": entry["grapheme"], "phoneme": entry["phoneme"]}, "keyword": keyword})
}

#[test]
fn o52_a_spelling_put_right() {
    let (case, expect) = (input("O52_restated_content.json"), input("O52_restated_content.expect.json"));
    let want = &expect["assert"];
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let sequence = text(&lead.post("/sequences", json!({"name": "Ours"})).expect(201)["id"]);
    let (draft, versions) =
        (format!("/sequences/{sequence}/draft"), format!("/sequences/{sequence}/versions"));
    let publish = |mut content: Value, items: &Value, on: &str| {
        let items: Vec<Value> = items.as_array().unwrap().iter().map(item).collect();
        content["steps"][0]["lessons"][0]["items"] = json!(items);
        lead.put(&draft, &lead.get(&draft).etag(), json!({"steps": content["steps"]})).expect(200);
        let made = lead.post(&versions, json!({"effective_on": on})).expect(201);
        lead.get(&format!("{versions}/{}", text(&made["id"]))).expect(200)
    };
    let empty = json!({"steps": [{"title": "Step 1", "lessons": [{"title": "ck", "items": []}]}]});
    let first = publish(empty, &case["v1"], "2026-09-01");
    let pupils = school.pupils(&[("Zoe", "Alder")]);
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"]]);
    let lesson = lesson_ids(&first)[0].clone();
    for n in 0..case["logs"].as_u64().unwrap() {
        let (on, outcome) = (format!("2026-11-{:02}", 9 + n), if n == 0 { "delivered" } else { "retaught" });
        school.log_lesson(&lead, &group, &on, &lesson, outcome, &json!({})).expect(201);
    }
    let logs = || lead.get(&format!("/groups/{group}/lesson-records")).expect(200)["items"].clone();
    let counts = || {
        let covered = lead.get(&format!("/pupils/{}/coverage", pupils["Zoe"])).expect(200);
        (covered, lead.get("/reports/attainment").expect(200)["school"].clone())
    };
    let (logged, counted) = (logs(), counts());
    assert_eq!(json!(logged.as_array().unwrap().len()), want["logs_before"]);
    let second = publish(first.clone(), &case["v2"], "2026-11-25");
    assert_eq!((json!(logs().as_array().unwrap().len()), logs()), (want["logs_after"].clone(), logged));
    assert_eq!(counts(), counted);
    // What was on screen when it was logged, and what it is called now: one item.
    let log = &logs()[0];
    let then = lead.get(&format!("{versions}/{}", text(&log["version_id"]))).expect(200);
    let shown = |version: &Value| {
        let items = version["steps"][0]["lessons"][0]["items"].as_array().unwrap().clone();
        let item = items.into_iter().find(|item| item["id"] == log["items"][0]).unwrap();
        format!("{} as in {}", text(&item["gpc"]["grapheme"]), text(&item["keyword"]))
    };
    assert_eq!(
        (json!(shown(&then)), json!(shown(&second))),
        (want["label_then"].clone(), want["label_now"].clone())
    );
    let changes = lead.get(&format!("{versions}/{}/changes", text(&second["id"]))).expect(200);
    assert_eq!(changes["relabelled"][0]["item"]["id"], log["items"][0]);
    assert_eq!(changes["relabelled"][0]["keyword_before"], "dukc");
    assert_eq!((&changes["added"], &changes["withdrawn"]), (&json!([]), &json!([])));
}
