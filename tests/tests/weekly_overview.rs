//! The week's list of what wants doing. Today is Wednesday 25 November 2026.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{School, Value, column, item_ids, json, lesson_ids};

#[test]
fn groups_without_records_short_of_their_plan_and_pupils_with_missed_items_are_listed_with_what_to_do() {
    let school = School::start();
    school.calendar();
    let (sequence, content) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder"), ("Ida", "Beech"), ("Kit", "Beech")]);
    let alder = school.group("Alder", &sequence, &[&pupils["Zoe"], &pupils["Max"]]);
    let beech = school.group("Beech", &sequence, &[&pupils["Ida"]]);
    // Nobody is in it: nothing to list.
    school.group("Empty", &sequence, &[]);
    let (lead, teacher) = (school.lead(), school.staff("teacher"));
    let lessons = lesson_ids(&content);
    let log = |group: &str, on: &str, lesson: usize, absent: Value| {
        let more = json!({ "register": absent });
        school.log_lesson(&teacher, group, on, &lessons[lesson], "delivered", &more).expect(201);
    };
    let seen = || lead.get("/weekly-overview").expect(200);
    let away = json!([{"pupil_id": pupils["Max"], "mark": "absent"}]);
    // m and o on Tuesday 17, d and "the" on Wednesday 18, both without Max; then nothing for four days.
    log(&alder, "2026-11-17", 0, away.clone());
    log(&alder, "2026-11-18", 1, away);
    let told = seen();
    let quiet = |told: &Value| {
        let lines = told["without_record"].as_array().unwrap().iter();
        lines.map(|line| json!([line["name"], line["days"], line["last_record_on"]])).collect::<Vec<_>>()
    };
    // Beech: 39 days before the holiday and 17 after it.
    let listed = vec![json!(["Alder", 4, "2026-11-18"]), json!(["Beech", 56, null])];
    assert_eq!((&told["groups"], quiet(&told)), (&json!(2), listed));
    let line = &told["without_record"][1]["action"];
    let path = format!("/api/v1/groups/{beech}/lesson-records");
    assert_eq!(line, &json!({"operation": "record_lesson", "method": "POST", "path": path}));
    // The head records no lessons: what the head is given to go on with can be done.
    let head = school.staff("head");
    let of_head = head.get("/weekly-overview").expect(200)["without_record"][1]["action"].clone();
    assert_eq!(of_head, json!({"operation": "list_lesson_records", "method": "GET", "path": path}));
    head.get(&path["/api/v1".len()..]).expect(200);
    // One lesson a day since September is planned, four at most: two short; so many days short the pack lists.
    assert_eq!(told["days_short"], 5);
    assert_eq!(told["short_of_plan"], json!([]));
    let pupil = &told["pupils"][0];
    let listed = json!([pupil["name"], pupil["group"], pupil["to_teach"], pupil["to_check"], pupil["since"]]);
    assert_eq!(listed, json!(["Max Bell", "Alder", 4, 0, "2026-11-17"]));
    assert_eq!(pupil["action"]["path"], format!("/api/v1/groups/{alder}/catch-up"));
    lead.get(&pupil["action"]["path"].as_str().unwrap()["/api/v1".len()..]).expect(200);
    // Days that are closed count for nobody: with two of them Alder has none for two days only.
    lead.post("/closures", json!({"from": "2026-11-20", "until": "2026-11-23", "kind": "closure"}))
        .expect(201);
    assert_eq!(quiet(&seen()), [json!(["Beech", 54, null])]);
    lead.get("/weekly-overview?on=2026-11-26").problem(422, "invalid");
    // One lesson every third day leaves four planned by the twelfth day: Beech finished none of them.
    let plan = json!({"from": "2026-11-02", "lessons": 1, "days": 3});
    lead.call("PUT", &format!("/groups/{beech}/pace-plan"), Some(&plan)).expect(200);
    let told = seen();
    let short = &told["short_of_plan"][0];
    assert_eq!(json!([short["name"], short["lessons"], short["days"]]), json!(["Beech", 4, 12]));
    assert_eq!(short["action"]["path"], format!("/api/v1/groups/{beech}/pace"));
    // Two of the four are taught to Max: they wait for a check and stay on the list, as the group's own shows them.
    let items = item_ids(&content, 0);
    let caught_up = json!({"on": "2026-11-25", "pupil_ids": [pupils["Max"]], "items": items});
    teacher.post(&format!("/groups/{alder}/catch-up-records"), caught_up).expect(201);
    let pupil = seen()["pupils"][0].clone();
    assert_eq!(json!([pupil["to_teach"], pupil["to_check"]]), json!([2, 2]));
    // m and o answered right: two are left, fewer than the pack lists.
    let (check, asked) = school.gpc_check("m and o", &[("m", "m"), ("o", "ɒ")]);
    let round = school.round("Now", "2026-11-23", "2026-11-27", &[&check]);
    let right: Vec<_> = asked.iter().map(|item| (item.as_str(), "right")).collect();
    school.answer(&lead, (&round, &pupils["Max"], &check), "2026-11-25", &right).expect(201);
    assert_eq!(seen()["pupils"], json!([]));
    // Who may not, may not; and each reading is written down.
    for who in ["teacher", "assistant", "cover", "office", "administrator"] {
        school.staff(who).get("/weekly-overview").problem(403, "forbidden");
    }
    let entries = school.staff("administrator").get("/audit-entries?limit=50").expect(200);
    let read = column(&entries["items"], "operation").into_iter().filter(|one| one == "overview.read");
    assert_eq!(read.count(), 6);
}
