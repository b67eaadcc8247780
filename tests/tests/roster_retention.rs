//! Imports are listed without pupils, and the rows of a file go when nothing can be done with them.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Client, School, Value, column, json, text};

/// Signs the lead in once more: on another day the earlier sign-in is no use.
fn lead(school: &School) -> Client {
    let signed_in = school.sign_in("lead@farholt.example");
    school.nobody().with_token(signed_in["access_token"].as_str().unwrap())
}

fn upload(lead: &Client, file: &str) -> String {
    text(&lead.post_csv("/roster-imports", file.as_bytes()).expect(201)["id"])
}

fn confirm(lead: &Client, id: &str) {
    lead.post(&format!("/roster-imports/{id}/confirm"), json!({"from": "2026-11-25"})).expect(200);
}

fn listed(lead: &Client) -> Vec<Value> {
    lead.get("/roster-imports").expect(200)["items"].as_array().unwrap().clone()
}

const HEADER: &str = "given_name,family_name,date_of_birth,class_name";

#[test]
fn imports_are_listed_with_numbers_and_nobody() {
    let school = School::start();
    school.calendar();
    let (lead, office) = (school.lead(), school.staff("office"));
    let first = upload(&office, &format!("{HEADER}\nQuilla,Moor,2020-05-31,Alder\nBo,,31/31/2020,Alder\n"));
    confirm(&lead, &first);
    let second = upload(&lead, &format!("{HEADER}\nQuilla,Moor,2020-05-31,Rowan\n"));
    let items = listed(&office);
    assert_eq!(column(&json!(items), "id"), [second.clone(), first.clone()], "latest first");
    assert_eq!(column(&json!(items), "status"), ["preview", "confirmed"]);
    assert_eq!(items[1]["sent_by"]["name"], "office person");
    let counts = |item: &Value| {
        ["created", "updated", "unchanged", "rejected", "new_classes"].map(|key| item["summary"][key].clone())
    };
    // The first added Quilla and her class and refused a birthday; the second moves her to another.
    assert_eq!(
        (counts(&items[1]), counts(&items[0])),
        ([1, 0, 0, 1, 1].map(|n| json!(n)), [0, 1, 0, 0, 1].map(|n| json!(n)))
    );
    assert_eq!(items[0]["summary"]["format"], "text");
    assert!(!json!(items).to_string().contains("Quilla"));
    let page = lead.get("/roster-imports?limit=1").expect(200);
    let next = lead.get(&format!("/roster-imports?limit=1&cursor={}", text(&page["next"]))).expect(200);
    assert_eq!((column(&next["items"], "id"), &next["next"]), (vec![first], &Value::Null));
    assert_eq!(school.neighbour().get("/roster-imports").expect(200)["items"], json!([]));
}

#[test]
fn rows_are_kept_as_long_as_something_can_be_done_with_them() {
    let mut school = School::start();
    school.calendar();
    let before = school.lead();
    let ida = format!("{HEADER}\nIda,Hart,2020-05-31,Alder\n");
    let [confirmed, unanswered] = [ida.clone(), ida].map(|file| upload(&before, &file));
    let undone = upload(&before, &format!("{HEADER}\nJo,Reed,2020-05-31,Rowan\n"));
    for id in [&confirmed, &undone] {
        confirm(&before, id);
    }
    let path = |id: &str| format!("/roster-imports/{id}");
    let shown = before.call("POST", &format!("{}/undo", path(&undone)), None).expect(200);
    assert_eq!((&shown["status"], &shown["created"][0]["name"]), (&json!("undone"), &json!("Jo Reed")));
    before.get(&path(&undone)).problem(410, "gone");

    // England keeps previews for 14 days and what an undo needs for 28, counted in whole days of
    // 24 hours from nine o'clock on 25 November: to 9 and 23 December.
    school.server.stop_and_restart("2026-12-08");
    let on_day_13 = lead(&school);
    on_day_13.get(&path(&unanswered)).expect(200);
    school.server.stop_and_restart("2026-12-10");
    let on_day_15 = lead(&school);
    on_day_15.get(&path(&unanswered)).problem(410, "gone");
    let body = json!({"from": "2026-11-25"});
    on_day_15.post(&format!("{}/confirm", path(&unanswered)), body).problem(410, "gone");
    on_day_15.put(&format!("{}/answers", path(&unanswered)), "\"v1\"", json!({})).problem(410, "gone");
    on_day_15.call("POST", &format!("{}/undo", path(&unanswered)), None).problem(409, "conflict");
    on_day_15.get(&path(&confirmed)).expect(200);
    assert_eq!(column(&json!(listed(&on_day_15)), "status"), ["undone", "expired", "confirmed"]);

    school.server.stop_and_restart("2026-12-24");
    let on_day_29 = lead(&school);
    on_day_29.get(&path(&confirmed)).problem(410, "gone");
    on_day_29.call("POST", &format!("{}/undo", path(&confirmed)), None).problem(410, "gone");
    let items = listed(&on_day_29);
    assert_eq!(column(&json!(items), "status"), ["undone", "expired", "confirmed"]);
    assert!(items.iter().all(|item| item["kept_until"].is_null() && item["summary"]["created"] == 1));
    // What was carried out stays.
    assert_eq!(column(&on_day_29.get("/pupils").expect(200)["items"], "name"), ["Ida Hart"]);
    let audited = column(&on_day_29.get("/audit-entries").expect(200)["items"], "operation");
    assert_eq!(audited.iter().filter(|operation| *operation == "roster_import.drop").count(), 2);
}

#[test]
fn a_repeat_shows_what_there_is_and_nothing_that_is_gone() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let file = format!("{HEADER}\nQuilla,Moor,2020-05-31,Alder\n");
    let sent = lead.with("Idempotency-Key", "upload-1");
    let upload = || sent.post_csv("/roster-imports", file.as_bytes());
    let first = upload().expect(201);
    let path = format!("/roster-imports/{}", text(&first["id"]));
    // Again, it is the same import, as it is by now.
    assert_eq!(upload().expect(201), first);
    let body = json!({"from": "2026-11-25"});
    let confirmed = lead.with("Idempotency-Key", "confirm-1");
    let confirm = || confirmed.post(&format!("{path}/confirm"), body.clone());
    let done = confirm().expect(200);
    assert_eq!(confirm().expect(200), done);
    assert_eq!(upload().expect(201)["status"], "confirmed");
    assert_eq!(listed(&lead).len(), 1);
    sent.post_csv("/roster-imports", b"given_name\nIda\n").problem(422, "idempotency_key_reused");
    // Taken back, its rows are gone, from what was answered too.
    lead.call("POST", &format!("{path}/undo"), None).expect(200);
    for again in [upload(), confirm()] {
        again.problem(410, "gone");
        assert!(!again.text.contains("Quilla"));
    }
}

#[test]
fn a_page_of_an_import_is_in_the_audit_log() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let id = upload(&lead, &format!("{HEADER}\nQuilla,Moor,2020-05-31,Alder\n"));
    lead.get(&format!("/roster-imports/{id}")).expect(200);
    let latest = school.staff("administrator").get("/audit-entries?limit=1").expect(200)["items"][0].clone();
    let said = ["operation", "subject_kind", "staff_id"].map(|field| latest[field].clone());
    assert_eq!(said, [json!("roster_import.read"), json!("roster_import"), json!(school.staff_id("lead"))]);
}
