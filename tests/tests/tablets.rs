//! Tablets: added by whoever works on them, kept by lead and administrator.
#![allow(clippy::unwrap_used)]

use std::time::{Duration, Instant};

use plumbline_tests::{Client, Device, School, Stop, Value, column, json};

const ALDER: &str = "0199f2c4-7777-7000-8000-000000000001";
const BIRCH: &str = "0199f2c4-7777-7000-8000-000000000002";

fn add(who: &Client, id: &str, name: &str) -> plumbline_tests::Answer {
    who.post("/tablets", json!({"id": id, "name": name}))
}

#[test]
fn a_tablet_is_added_once_and_keeps_its_first_name() {
    let school = School::start();
    let (teacher, assistant) = (school.staff("teacher"), school.staff("assistant"));
    let made = add(&teacher, BIRCH, "Carpet tablet");
    assert_eq!(made.header("Location"), format!("/api/v1/tablets/{BIRCH}"));
    made.expect(201);
    let again = add(&assistant, BIRCH, "Something else").expect(201);
    assert_eq!((again["name"].as_str(), again["revoked_at"].is_null()), (Some("Carpet tablet"), true));
    add(&assistant, ALDER, "Alder tablet").expect(201);
    let list = school.lead().get("/tablets").expect(200)["items"].clone();
    assert_eq!(column(&list, "id"), [ALDER, BIRCH]);
    assert_eq!(column(&list, "added_by"), [school.staff_id("assistant"), school.staff_id("teacher")]);
    assert_eq!((list[0]["replicas"].clone(), list[0]["last_seen_on"].clone()), (json!([]), json!(null)));
    // Another school may have one of the same id, and sees none of these.
    let other = school.neighbour();
    assert_eq!(other.get("/tablets").expect(200)["items"], json!([]));
    add(&other, ALDER, "Theirs").expect(201);
    assert_eq!(school.lead().get(&format!("/tablets/{ALDER}")).expect(200)["name"], "Alder tablet");
}

#[test]
fn it_is_renamed_on_the_version_that_was_read() {
    let school = School::start();
    let admin = school.staff("administrator");
    add(&school.staff("teacher"), ALDER, "Alder tablet").expect(201);
    let path = format!("/tablets/{ALDER}");
    let etag = admin.get(&path).etag();
    admin.call("PATCH", &path, Some(&json!({"name": "Oak tablet"}))).problem(428, "precondition_required");
    let renamed = admin.patch(&path, &etag, json!({"name": "Oak tablet"}));
    assert_eq!(renamed.expect(200)["name"], "Oak tablet");
    assert_eq!(admin.get(&path).etag(), renamed.etag());
    admin.patch(&path, &etag, json!({"name": "Elm tablet"})).problem(412, "stale");
    let wrong = admin.patch(&path, &renamed.etag(), json!({"name": " "})).problem(422, "invalid");
    assert_eq!(wrong, ["name: must not be empty"]);
}

#[test]
fn a_revoked_tablet_stays_revoked() {
    let school = School::start();
    let (teacher, lead) = (school.staff("teacher"), school.lead());
    add(&teacher, ALDER, "Alder tablet").expect(201);
    add(&teacher, BIRCH, "Birch tablet").expect(201);
    let path = format!("/tablets/{ALDER}/revoke");
    let revoked = lead.post(&path, json!({"reason": "lost on a school trip"})).expect(200);
    assert!(revoked["revoked_at"].is_string());
    assert_eq!(lead.post(&path, json!({})).expect(200)["revoked_at"], revoked["revoked_at"]);
    assert_eq!(add(&teacher, ALDER, "Alder tablet").expect(201)["revoked_at"], revoked["revoked_at"]);
    // Those in use stand first.
    assert_eq!(column(&lead.get("/tablets").expect(200)["items"], "id"), [BIRCH, ALDER]);
    lead.post("/tablets/0199f2c4-7777-7000-8000-000000000009/revoke", json!({})).problem(404, "not_found");
}

#[test]
fn a_sign_in_stays_on_its_tablet_and_goes_with_it() {
    let school = School::start();
    let there = school.signed_in("teacher");
    let replica = |id: &str| json!({"id": plumbline_tests::new_id(), "tablet_id": id});
    add(&there, ALDER, "Alder tablet").expect(201);
    add(&there, BIRCH, "Birch tablet").expect(201);
    let first = replica(ALDER);
    there.post("/sync/replicas", first.clone()).expect(201);
    there.post("/sync/replicas", first).expect(201);
    let walked = there.post("/sync/replicas", replica(BIRCH)).problem(409, "conflict");
    assert_eq!(walked, ["tablet_id: this sign-in is another tablet's: sign in on this one"]);
    school.lead().post(&format!("/tablets/{ALDER}/revoke"), json!({})).expect(200);
    there.post("/sync/replicas", replica(BIRCH)).problem(403, "tablet_revoked");
}

#[test]
fn a_revoked_tablet_hands_over_all_that_waits_and_not_what_was_done() {
    let (school, group) = School::with_lessons();
    let folder = tempfile::tempdir().unwrap();
    let mut device = Device::new("lost", &school.signed_in("teacher"), folder.path(), None);
    device.pull(500, Stop::Never);
    let lesson = device.all("lesson_record").into_values().next().unwrap()["lesson_id"].clone();
    let mut write = |on: &str| {
        let set = json!({"group_id": group, "on": on, "lesson_id": lesson, "outcome": "not_delivered", "reason": "fire_drill"});
        device.write("lesson.record", None, set)
    };
    let ops = ["2026-11-23", "2026-11-24", "2026-11-25"].map(&mut write);
    // The first was done, and its answer lost.
    device.push(1, true);
    school.lead().post(&format!("/tablets/{}/revoke", device.tablet()), json!({})).expect(200);
    device.push(2, false);
    assert!(device.kept.outbox.is_empty() && device.kept.records.is_empty() && device.violations.is_empty());
    let held = school.lead().get("/sync/held-ops").expect(200)["items"].clone();
    assert_eq!(column(&held, "id"), ops[1..]);
}

#[test]
fn nothing_on_a_revoked_tablet_opens_anything_and_what_it_still_sends_is_held() {
    let (school, group) = School::with_lessons();
    let fresh = || school.signed_in("teacher");
    let (there, elsewhere, lead) = (fresh(), fresh(), school.lead());
    let folder = tempfile::tempdir().unwrap();
    let mut device = Device::new("lost", &there, folder.path(), None);
    device.pull(500, Stop::Never);
    let (tablet, replica) = (device.tablet().to_owned(), device.kept.replica.clone());
    let lesson = device.all("lesson_record").into_values().next().unwrap()["lesson_id"].clone();
    let entered = json!({"group_id": group, "on": "2026-11-24", "lesson_id": lesson, "outcome": "not_delivered", "reason": "fire_drill"});
    let op = device.write("lesson.record", None, entered.clone());
    let mut again = device.another_tab();
    let mut stream = there.follow();
    stream.head().unwrap();
    lead.post(&format!("/tablets/{tablet}/revoke"), json!({})).expect(200);
    let done = Instant::now();
    while stream.head().is_some() {}
    assert!(done.elapsed() < Duration::from_secs(1), "{:?}", done.elapsed());

    for path in ["/me", "/groups", "/sync/events"] {
        there.get(path).problem(403, "tablet_revoked");
        assert_eq!(elsewhere.get(path).status, 200, "{path}");
    }
    again.pull(500, Stop::Never);
    assert!(again.kept.records.is_empty(), "it wipes itself");
    // However often it sends.
    let mut third = device.another_tab();
    device.push(500, false);
    third.push(500, false);
    assert!(device.kept.records.is_empty() && device.kept.outbox.is_empty());
    // Whoever signs in on it anew.
    let anew = fresh();
    anew.post("/sync/replicas", json!({"id": replica, "tablet_id": tablet})).problem(403, "tablet_revoked");

    let held = lead.get("/sync/held-ops").expect(200)["items"].clone();
    assert_eq!(column(&held, "id"), [op.as_str()]);
    assert_eq!((&held[0]["op"]["set"], &held[0]["staff_id"]), (&entered, &json!(school.staff_id("teacher"))));
    let records = lead.get(&format!("/groups/{group}/lesson-records")).expect(200)["items"].clone();
    assert!(!column(&records, "on").contains(&"2026-11-24".to_owned()), "nothing of it is in the records");
    let path = format!("/sync/held-ops/{replica}/1/discard");
    lead.call("POST", &path, None).expect(204);
    lead.call("POST", &path, None).problem(404, "not_found");
    assert_eq!(lead.get("/sync/held-ops").expect(200)["items"], json!([]));
}

#[test]
fn what_was_held_and_answered_is_gone_after_its_days() {
    let (mut school, _) = School::with_lessons();
    let replica = plumbline_tests::held_op(&school.lead());
    let mut device = school.replica("teacher");
    let op = device.op("lesson.delete", None, json!({"id": plumbline_tests::new_id()}));
    let answered = device.send(&[&op], 0).expect(200);
    let held = |school: &School| school.signed_in("lead").get("/sync/held-ops").expect(200)["items"].clone();
    assert_eq!(held(&school)[0]["replica"], replica.as_str());
    // Kept over a summer: 120 days by the rule pack.
    school.server.stop_and_restart("2027-03-24");
    device.client = school.signed_in("teacher");
    assert_eq!(held(&school).as_array().unwrap().len(), 1);
    assert_eq!(device.send(&[&op], 0).expect(200)["outcomes"], answered["outcomes"]);
    school.server.stop_and_restart("2027-03-26");
    device.client = school.signed_in("teacher");
    assert_eq!(held(&school), json!([]));
    // Without its answer the number is taken: a device begins anew under another replica.
    device.send(&[&op], 0).problem(422, "op_reused");
}

/// The numbers of what is held, page by page.
fn numbers(lead: &Client) -> Vec<i64> {
    let (mut held, mut cursor) = (Vec::new(), String::new());
    loop {
        let page = lead.get(&format!("/sync/held-ops?limit=300{cursor}")).expect(200);
        let items = page["items"].as_array().unwrap();
        assert!(items.len() <= 300);
        held.extend(items.iter().map(|one| one["n"].as_i64().unwrap()));
        let Some(next) = page["next"].as_str() else { return held };
        cursor = format!("&cursor={next}");
    }
}

#[test]
fn large_operations_fill_a_tablets_room_too() {
    let school = School::start();
    let mut device = school.replica("teacher");
    school.lead().post(&format!("/tablets/{}/revoke", device.tablet), json!({})).expect(200);
    let lead = school.lead();
    // Four megabytes by the rule pack: of operations of a little more than 100 kB, 39.
    let long = "x".repeat(100_000);
    let ops: Vec<Value> = (0..45).map(|_| device.op("lesson.invent", None, json!({"note": long}))).collect();
    let answers: Vec<_> = ops.chunks(9).map(|ops| device.send(&ops.iter().collect::<Vec<_>>(), 0)).collect();
    for answer in &answers[..4] {
        answer.problem(403, "tablet_revoked");
    }
    answers[4].problem(409, "holds_no_more");
    assert_eq!(numbers(&lead), (1..=39).collect::<Vec<_>>());
    // What does not fit holds back what comes after it.
    lead.call("POST", &format!("/sync/held-ops/{}/1/discard", device.id), None).expect(204);
    device.send(&ops[36..].iter().collect::<Vec<_>>(), 0).problem(409, "holds_no_more");
    assert_eq!(numbers(&lead), (2..=40).collect::<Vec<_>>());
    lead.get("/sync/held-ops?cursor=bm8").problem(422, "invalid");
}

#[test]
fn only_so_much_is_held_of_one_tablet() {
    let school = School::start();
    let mut device = school.replica("teacher");
    school.lead().post(&format!("/tablets/{}/revoke", device.tablet), json!({})).expect(200);
    let lead = school.lead();
    let ops: Vec<Value> = (0..2500).map(|_| device.op("lesson.invent", None, json!({}))).collect();
    let rounds: Vec<&[Value]> = ops.chunks(500).collect();
    let send = |ops: &[Value]| device.send(&ops.iter().collect::<Vec<_>>(), 0);
    for ops in rounds[..4].iter().copied() {
        send(ops).problem(403, "tablet_revoked");
    }
    let held = || numbers(&lead);
    // The device is told that the rest was not kept, so that it keeps it.
    send(rounds[4]).problem(409, "holds_no_more");
    assert_eq!((held().len(), held().last().copied()), (2000, Some(2000)));
    // A number under which another operation is held takes its place from none.
    let mut other = ops[6].clone();
    other["op_id"] = json!(plumbline_tests::new_id());
    send(&[other]).problem(422, "op_reused");
    // What is kept is not kept twice, and needs no room.
    send(rounds[3]).problem(403, "tablet_revoked");
    // What the lead discards makes room, and does not come back.
    lead.call("POST", &format!("/sync/held-ops/{}/7/discard", device.id), None).expect(204);
    send(rounds[0]).problem(403, "tablet_revoked");
    assert_eq!((held().len(), held().contains(&7)), (1999, false));
    send(rounds[4]).problem(409, "holds_no_more");
    assert_eq!((held().len(), held().last().copied()), (2000, Some(2001)));
}
