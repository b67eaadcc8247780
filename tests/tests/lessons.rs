//! Logging lessons: the place of a group, absences, parts, re-teaching.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Alder, School, TODAY, Value, column, item_ids, json, lesson_ids, text};

#[test]
fn a_teacher_logs_the_next_lesson_and_the_group_moves_on() {
    let school = School::start();
    school.calendar();
    let (sequence, content) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder")]);
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"], &pupils["Max"]]);
    let teacher = school.staff("teacher");
    let next = teacher.get(&format!("/groups/{group}/next-lesson")).expect(200);
    assert_eq!(next["lesson"]["title"], "m and o");
    assert_eq!(next["version_id"], content["id"]);
    let logged = teacher.post(
        &format!("/groups/{group}/lesson-records"),
        json!({"on": "2026-11-24", "lesson_id": next["lesson"]["id"], "outcome": "delivered",
               "register": [{"pupil_id": pupils["Max"], "mark": "absent"}]}),
    );
    let logged = logged.expect(201);
    assert_eq!(logged["warnings"], json!([]));
    assert_eq!(logged["items"].as_array().unwrap().len(), 2);
    let next = teacher.get(&format!("/groups/{group}/next-lesson")).expect(200);
    assert_eq!(next["lesson"]["title"], "d");
    let coverage = teacher.get(&format!("/groups/{group}/coverage")).expect(200);
    assert_eq!(coverage["missed"][0]["name"], "Max Bell");
    assert_eq!(coverage["missed"][0]["items"].as_array().unwrap().len(), 2);
}

#[test]
fn a_record_reads_back_as_it_was_answered() {
    let a = Alder::new();
    let teacher = a.school.staff("teacher");
    let made = a.school.log_lesson(
        &teacher,
        &a.group,
        "2026-11-24",
        &a.lessons[0],
        "delivered",
        &a.mark("Max", "late"),
    );
    let record = made.expect(201);
    assert_eq!(made.header("Location"), format!("/api/v1/lesson-records/{}", text(&record["id"])));
    let read = teacher.get(&format!("/lesson-records/{}", text(&record["id"])));
    assert_eq!((read.expect(200), read.etag()), (record.clone(), made.etag()));
    assert_eq!(json!(a.records()), json!([record]));
    assert_eq!(record["items"], json!(item_ids(&a.content, 0)));
    assert_eq!((&record["group_id"], &record["version_id"]), (&json!(a.group), &a.content["id"]));
    assert_eq!((&record["slot"], &record["reason"]), (&json!(1), &Value::Null));
    // Everyone in the group stands in the register, present unless told otherwise.
    let mut register = [
        json!({"pupil_id": a.pupils["Zoe"], "mark": "present", "missed": false}),
        json!({"pupil_id": a.pupils["Max"], "mark": "late", "missed": false}),
    ];
    register.sort_by_key(|line| text(&line["pupil_id"]));
    assert_eq!(record["register"], json!(register));
}

#[test]
fn a_lesson_in_two_parts_moves_the_place_once() {
    let a = Alder::new();
    let items = item_ids(&a.content, 0);
    let part = a.log("2026-11-23", 0, "part", json!({"items": [items[0]]}));
    assert_eq!(part["items"], json!([items[0]]));
    let next = a.school.lead().get(&format!("/groups/{}/next-lesson", a.group)).expect(200);
    assert_eq!((&next["lesson"]["title"], &next["lesson"]["begun"]), (&json!("m and o"), &json!(true)));
    assert_eq!(column(&next["lesson"]["items"], "id"), [items[1].clone()]);
    // Max, there on Monday, misses the rest on Tuesday.
    let rest = a.log("2026-11-24", 0, "delivered", a.mark("Max", "absent"));
    assert_eq!(rest["items"], json!([items[1]]), "what remained, without being named");
    assert_eq!(a.next().0, "d");
    assert_eq!(a.missed(), [("Max Bell".to_owned(), 1)]);
    let max = a.covered("Max");
    assert_eq!(max[0], ("m /m/".into(), "2026-11-23".into(), String::new(), 1));
    assert_eq!(max[1], ("o /ɒ/".into(), String::new(), "2026-11-24".into(), 0));
}

#[test]
fn a_part_names_some_of_what_remains() {
    let a = Alder::new();
    let items = item_ids(&a.content, 0);
    let rule = ["items: a part names the items taught: at least one, and not all of the lesson"];
    assert_eq!(a.refused("2026-11-23", 0, "part", json!({})), rule);
    assert_eq!(a.refused("2026-11-23", 0, "part", json!({"items": []})), rule);
    assert_eq!(a.refused("2026-11-23", 0, "part", json!({"items": items})), rule);
    let other = item_ids(&a.content, 1);
    let unknown = a.refused("2026-11-23", 0, "part", json!({"items": [items[0], other[0]]}));
    assert_eq!(unknown, ["items[1]: the lesson has no such item"]);
    // The other half comes from another device, of the day before: taken in this order as in the other.
    a.log("2026-11-23", 0, "part", json!({"items": [items[0]]}));
    a.log("2026-11-20", 0, "part", json!({"items": [items[1]]}));
    assert_eq!(a.next().0, "d");
    assert_eq!(a.covered("Max")[1].1, "2026-11-20");
}

#[test]
fn teaching_again_never_moves_the_place_and_clears_what_was_missed() {
    let a = Alder::new();
    let nothing = ["outcome: this group has not been taught this lesson before"];
    assert_eq!(a.refused("2026-11-19", 0, "retaught", json!({})), nothing);
    a.log("2026-11-19", 0, "delivered", a.mark("Max", "absent"));
    a.log("2026-11-20", 1, "delivered", json!({}));
    assert_eq!((a.next().0.as_str(), a.missed()), ("e", vec![("Max Bell".to_owned(), 2)]));
    a.log("2026-11-23", 0, "retaught", a.mark("Zoe", "absent"));
    assert_eq!((a.next().0.as_str(), a.missed()), ("e", vec![]));
    // Taught once to each, on the day each was there.
    assert_eq!(a.covered("Max")[0], ("m /m/".into(), "2026-11-23".into(), String::new(), 1));
    assert_eq!(a.covered("Zoe")[0], ("m /m/".into(), "2026-11-19".into(), String::new(), 1));
    // Only one item, on another day: twice for both.
    let items = item_ids(&a.content, 0);
    let one = a.log("2026-11-24", 0, "retaught", json!({"items": [items[1]]}));
    assert_eq!(one["items"], json!([items[1]]));
    assert_eq!((a.covered("Zoe")[0].3, a.covered("Zoe")[1].3), (1, 2));
    let coverage = a.school.lead().get(&format!("/pupils/{}/coverage", a.pupils["Zoe"])).expect(200);
    assert_eq!((&coverage["lessons_attended"], &coverage["lessons_missed"]), (&json!(3), &json!(1)));
}

#[test]
fn what_another_group_taught_is_missed_no_longer() {
    let a = Alder::new();
    a.log("2026-11-19", 0, "delivered", a.mark("Max", "absent"));
    assert_eq!(a.missed(), [("Max Bell".to_owned(), 2)]);
    let small = a.school.group("Three at a table", &a.sequence, &[&a.pupils["Max"]]);
    let lead = a.school.lead();
    let items = item_ids(&a.content, 0);
    let part = json!({"items": [items[0]]});
    a.school.log_lesson(&lead, &small, "2026-11-20", &a.lessons[0], "part", &part).expect(201);
    assert_eq!(a.missed(), [("Max Bell".to_owned(), 1)]);
    // Not before it happened.
    let earlier = lead.get(&format!("/groups/{}/coverage?on=2026-11-19", a.group)).expect(200);
    assert_eq!(earlier["missed"][0]["items"].as_array().unwrap().len(), 2);
    a.school.log_lesson(&lead, &small, "2026-11-23", &a.lessons[0], "delivered", &json!({})).expect(201);
    assert_eq!(a.missed(), []);
    assert_eq!(a.next().0, "d", "each group has its own place");
    let coverage = lead.get(&format!("/groups/{}/coverage", a.group)).expect(200);
    assert_eq!((&coverage["members"], &coverage["items"][0]["taught"]), (&json!(2), &json!(2)));
}

#[test]
fn a_lesson_not_delivered_has_a_reason_and_teaches_nobody() {
    let a = Alder::new();
    let reasons = [
        "reason: give one of the reasons: assembly_overran, adult_absent, group_off_site, fire_drill, other",
    ];
    assert_eq!(a.refused("2026-11-24", 0, "not_delivered", json!({})), reasons);
    assert_eq!(a.refused("2026-11-24", 0, "not_delivered", json!({"reason": "tired"})), reasons);
    let items = json!({"reason": "fire_drill", "items": [item_ids(&a.content, 0)[0]]});
    let leave_out = |field: &str| {
        [format!("{field}: a lesson that was not delivered teaches nothing to nobody: leave out {field}")]
    };
    assert_eq!(a.refused("2026-11-24", 0, "not_delivered", items), leave_out("items"));
    let mut register = a.mark("Max", "absent");
    register["reason"] = json!("fire_drill");
    assert_eq!(a.refused("2026-11-24", 0, "not_delivered", register), leave_out("register"));
    assert_eq!(
        a.refused("2026-11-24", 0, "delivered", json!({"reason": "fire_drill"})),
        ["reason: a reason is for lessons not delivered"]
    );
    let kept = a.log("2026-11-24", 0, "not_delivered", json!({"reason": "fire_drill"}));
    assert_eq!(
        (&kept["reason"], &kept["items"], &kept["register"]),
        (&json!("fire_drill"), &json!([]), &json!([]))
    );
    assert_eq!((a.next(), a.missed()), (("m and o".into(), 2), vec![]));
    assert_eq!(a.covered("Zoe"), []);
}

#[test]
fn late_counts_as_taught_unless_marked_as_missed() {
    let a = Alder::new();
    a.log("2026-11-23", 0, "delivered", a.mark("Max", "late"));
    assert_eq!(a.missed(), []);
    let mut missed = a.mark("Max", "late");
    missed["register"][0]["missed"] = json!(true);
    a.log("2026-11-24", 1, "delivered", missed.clone());
    assert_eq!(a.missed(), [("Max Bell".to_owned(), 2)]);
    missed["register"][0]["mark"] = json!("absent");
    let rule = ["register[0].missed: only a late pupil can be marked as having missed it"];
    assert_eq!(a.refused(TODAY, 2, "delivered", missed), rule);
}

#[test]
fn a_register_is_of_the_members_of_that_day() {
    let a = Alder::new();
    let lead = a.school.lead();
    let ida = lead.post("/pupils", json!({"given_name": "Ida", "family_name": "Bell"})).expect(201);
    let stranger = json!({"register": [{"pupil_id": ida["id"], "mark": "absent"}]});
    let not_there = ["register[0].pupil_id: this pupil was not in the group that day"];
    assert_eq!(a.refused("2026-11-23", 0, "delivered", stranger.clone()), not_there);
    let line = json!({"pupil_id": a.pupils["Max"], "mark": "absent"});
    let twice = a.refused("2026-11-23", 0, "delivered", json!({"register": [line, line]}));
    assert_eq!(twice, ["register[1].pupil_id: this pupil stands twice in the register"]);
    // Ida joins on Tuesday: she is in Tuesday's register and lacks Monday's items.
    let path = format!("/groups/{}", a.group);
    let everyone = [&json!(a.pupils["Zoe"]), &json!(a.pupils["Max"]), &ida["id"]];
    let body = json!({"from": "2026-11-24", "pupil_ids": everyone});
    lead.put(&format!("{path}/members"), &lead.get(&path).etag(), body).expect(200);
    assert_eq!(a.refused("2026-11-23", 0, "delivered", stranger), not_there);
    let monday = a.log("2026-11-23", 0, "delivered", json!({}));
    let tuesday = a.log("2026-11-24", 1, "delivered", json!({}));
    let size = |record: &Value| record["register"].as_array().unwrap().len();
    assert_eq!((size(&monday), size(&tuesday)), (2, 3));
    let coverage = lead.get(&format!("/pupils/{}/coverage", text(&ida["id"]))).expect(200);
    assert_eq!(column(&coverage["items"], "label"), ["d /d/", "the"]);
    assert_eq!(coverage["lessons_missed"], 0, "nobody misses a lesson of a group before being in it");
    let group = lead.get(&format!("{path}/coverage")).expect(200);
    let taught: Vec<_> =
        group["items"].as_array().unwrap().iter().map(|line| line["taught"].clone()).collect();
    assert_eq!((taught, &group["missed"]), (vec![json!(2), json!(2), json!(3), json!(3)], &json!([])));
}

#[test]
fn days_are_checked_and_odd_ones_kept_with_a_warning() {
    let a = Alder::new();
    let lead = a.school.lead();
    assert_eq!(a.refused("2026-11-26", 0, "delivered", json!({})), ["on: 2026-11-26 is in the future"]);
    let out_of_year =
        a.school.log_lesson(&lead, &a.group, "2026-08-31", &a.lessons[0], "delivered", &json!({}));
    // No version of the sequence was in force then either, which is said first.
    assert_eq!(
        out_of_year.problem(422, "invalid"),
        ["on: the group's sequence has no published version in force on that day"]
    );
    assert!(a.refused("2026-02-30", 0, "delivered", json!({}))[0].starts_with("on: "));
    lead.post("/closures", json!({"on": "2026-11-12", "kind": "closure", "reason": "weather"})).expect(201);
    lead.post("/closures", json!({"on": "2026-11-13", "kind": "inset"})).expect(201);
    for (on, n, warnings) in [
        ("2026-10-28", 0, json!(["in_holiday"])),
        ("2026-11-07", 1, json!(["on_weekend"])),
        ("2026-11-12", 2, json!(["on_closed_day"])),
    ] {
        assert_eq!(a.log(on, n, "delivered", json!({}))["warnings"], warnings, "{on}");
    }
    assert_eq!(a.log("2026-11-13", 2, "retaught", json!({}))["warnings"], json!(["on_closed_day"]));
}

#[test]
fn a_date_of_no_school_year_is_refused() {
    let a = Alder::new();
    let lead = a.school.lead();
    // A version that is in force earlier than any school year.
    let other = text(&lead.post("/sequences", json!({"name": "Earlier"})).expect(201)["id"]);
    let draft = format!("/sequences/{other}/draft");
    let steps = json!({"steps": [{"title": "S", "lessons": [{"title": "L", "items": [
        {"kind": "exception_word", "label": "the"}]}]}]});
    let saved = lead.put(&draft, &lead.get(&draft).etag(), steps).expect(200);
    lead.post(&format!("/sequences/{other}/versions"), json!({"effective_on": "2026-01-01"})).expect(201);
    let group = a.school.group("Early", &other, &[]);
    let refused =
        a.school.log_lesson(&lead, &group, "2026-08-31", &lesson_ids(&saved)[0], "delivered", &json!({}));
    assert_eq!(refused.problem(422, "invalid"), ["on: 2026-08-31 is in no school year of the calendar"]);
    // And a lesson of another sequence is none of this group's.
    let foreign = a.school.log_lesson(&lead, &group, TODAY, &a.lessons[0], "delivered", &json!({}));
    assert_eq!(
        foreign.problem(422, "invalid"),
        ["lesson_id: the sequence version in force on that day has no such lesson"]
    );
}

#[test]
fn a_day_has_nine_slots_and_each_one_record() {
    let a = Alder::new();
    a.log(TODAY, 0, "delivered", json!({}));
    let teacher = a.school.staff("teacher");
    let twice = a.school.log_lesson(&teacher, &a.group, TODAY, &a.lessons[1], "delivered", &json!({}));
    let taken = [
        "slot: a lesson is already recorded for this group, day and slot: amend that record, or give the next slot",
    ];
    assert_eq!(twice.problem(409, "conflict"), taken);
    a.log(TODAY, 1, "delivered", json!({"slot": 2}));
    a.log(TODAY, 2, "delivered", json!({"slot": 9}));
    for slot in [0, 10] {
        assert_eq!(a.refused(TODAY, 3, "delivered", json!({"slot": slot})), ["slot: a day has slots 1 to 9"]);
    }
    assert!(a.refused(TODAY, 3, "delivered", json!({"slot": -1}))[0].starts_with("slot: "));
    let slots: Vec<_> = a.records().iter().map(|r| r["slot"].clone()).collect();
    assert_eq!(slots, [9, 2, 1]);
}

#[test]
fn an_amended_record_keeps_its_id_and_moves_the_place_both_ways() {
    let a = Alder::new();
    let teacher = a.school.staff("teacher");
    let made = a.school.log_lesson(&teacher, &a.group, TODAY, &a.lessons[0], "delivered", &json!({}));
    let record = made.expect(201);
    let path = format!("/lesson-records/{}", text(&record["id"]));
    let body = |outcome: &str, more: Value| {
        let mut body = json!({"on": TODAY, "lesson_id": a.lessons[0], "outcome": outcome});
        for (name, value) in more.as_object().unwrap() {
            body[name] = value.clone();
        }
        body
    };
    let not_delivered = body("not_delivered", json!({"reason": "other"}));
    teacher.call("PUT", &path, Some(&not_delivered)).problem(428, "precondition_required");
    let amended = teacher.put(&path, &made.etag(), not_delivered);
    let shown = amended.expect(200);
    assert_eq!((&shown["id"], &shown["items"], &shown["register"]), (&record["id"], &json!([]), &json!([])));
    assert_eq!(a.next(), ("m and o".into(), 2));
    teacher.put(&path, &made.etag(), body("delivered", json!({}))).problem(412, "stale");
    let item = &item_ids(&a.content, 0)[1];
    let part = teacher.put(&path, &amended.etag(), body("part", json!({"items": [item]})));
    part.expect(200);
    assert_eq!(a.next(), ("m and o".into(), 1));
    let whole = teacher.put(&path, &part.etag(), body("delivered", a.mark("Max", "absent")));
    assert_eq!(whole.expect(200)["items"].as_array().unwrap().len(), 2);
    assert_eq!((a.next().0, a.missed()), ("d".into(), vec![("Max Bell".into(), 2)]));
    assert_eq!(teacher.get(&path).expect(200)["register"], whole.json()["register"]);
    // Another day or slot would be another record.
    let cannot = "cannot change: delete the record and record the lesson anew";
    for (field, value) in [("on", json!("2026-11-24")), ("slot", json!(2))] {
        let refused = teacher.put(&path, &whole.etag(), body("delivered", json!({field: value})));
        assert_eq!(refused.problem(422, "invalid"), [format!("{field}: {cannot}")]);
    }
}

#[test]
fn who_amends_a_record_is_not_therefore_who_taught() {
    let a = Alder::new();
    let record = a.log("2026-11-24", 0, "delivered", json!({}));
    let path = format!("/lesson-records/{}", text(&record["id"]));
    let lead = a.school.lead();
    let body = json!({"on": "2026-11-24", "lesson_id": a.lessons[0], "outcome": "delivered"});
    let amended = lead.put(&path, &lead.get(&path).etag(), body.clone());
    let shown = amended.expect(200);
    assert_eq!(
        (&shown["taught_by"], &shown["entered_by"]),
        (&json!(a.school.staff_id("teacher")), &json!(a.school.staff_id("lead")))
    );
    let mut told = body;
    told["taught_by"] = json!(a.school.staff_id("assistant"));
    let shown = lead.put(&path, &amended.etag(), told).expect(200);
    assert_eq!(shown["taught_by"], a.school.staff_id("assistant"));
}

#[test]
fn one_adult_may_enter_what_another_taught() {
    let a = Alder::new();
    let assistant = a.school.staff_id("assistant");
    let record = a.log("2026-11-24", 0, "delivered", json!({"taught_by": assistant}));
    assert_eq!(
        (&record["taught_by"], &record["entered_by"]),
        (&json!(assistant), &json!(a.school.staff_id("teacher")))
    );
    let stranger = a.refused(TODAY, 1, "delivered", json!({"taught_by": a.group}));
    assert_eq!(stranger, ["taught_by: is not of this school's staff"]);
}

#[test]
fn a_deleted_record_counts_no_more_and_its_place_is_free() {
    let a = Alder::new();
    let teacher = a.school.staff("teacher");
    let made =
        a.school.log_lesson(&teacher, &a.group, TODAY, &a.lessons[0], "delivered", &a.mark("Max", "absent"));
    let first = text(&made.expect(201)["id"]);
    let path = format!("/lesson-records/{first}");
    teacher.call("DELETE", &path, None).problem(428, "precondition_required");
    teacher.delete(&path, "\"v0\"").problem(412, "stale");
    teacher.delete(&path, &made.etag()).expect(204);
    teacher.get(&path).problem(404, "not_found");
    teacher.delete(&path, &made.etag()).problem(404, "not_found");
    assert_eq!((a.next().0, a.missed(), json!(a.records())), ("m and o".into(), vec![], json!([])));
    assert_eq!(a.covered("Zoe"), []);
    let second = text(&a.log(TODAY, 0, "delivered", json!({}))["id"]);
    assert_ne!(first, second);
    let etag = teacher.get(&format!("/lesson-records/{second}")).etag();
    teacher.delete(&format!("/lesson-records/{second}"), &etag).expect(204);
    let third = text(&a.log(TODAY, 0, "delivered", json!({}))["id"]);
    assert!(third != first && third != second);
    // The third can be amended like any other.
    let path = format!("/lesson-records/{third}");
    let body = json!({"on": TODAY, "lesson_id": a.lessons[0], "outcome": "not_delivered", "reason": "other"});
    let amended = teacher.put(&path, &teacher.get(&path).etag(), body).expect(200);
    assert_eq!(amended["id"], third);
}

#[test]
fn records_keep_the_version_of_their_day() {
    let a = Alder::new();
    let lead = a.school.lead();
    let record = a.log("2026-11-24", 0, "delivered", json!({}));
    // From today on the first lesson is gone; a lesson of Tuesday may still come in late.
    let draft = format!("/sequences/{}/draft", a.sequence);
    let mut steps = a.content["steps"].clone();
    steps[0]["lessons"].as_array_mut().unwrap().remove(0);
    lead.put(&draft, &lead.get(&draft).etag(), json!({"steps": steps})).expect(200);
    let path = format!("/sequences/{}/versions", a.sequence);
    let second = text(&lead.post(&path, json!({"effective_on": TODAY})).expect(201)["id"]);
    let kept = lead.get(&format!("/lesson-records/{}", text(&record["id"]))).expect(200);
    assert_eq!(kept, record);
    // A part of it on Monday may still come in late.
    let first = item_ids(&a.content, 0)[0].clone();
    let late = a.log("2026-11-23", 0, "part", json!({"items": [first]}));
    assert_eq!(late["version_id"], a.content["id"]);
    let today = a.log(TODAY, 1, "delivered", json!({}));
    assert_eq!(today["version_id"], second);
    let gone = a.refused(TODAY, 0, "retaught", json!({"slot": 2}));
    assert_eq!(gone, ["lesson_id: the sequence version in force on that day has no such lesson"]);
    assert_eq!(a.next().0, "e");
    assert_eq!(a.covered("Zoe").len(), 4, "what was taught under the first version stays taught");
}

#[test]
fn an_amended_record_stays_with_its_version_even_where_another_was_in_force() {
    let a = Alder::new();
    let lead = a.school.lead();
    let draft = format!("/sequences/{}/draft", a.sequence);
    let steps = json!({"steps": [a.content["steps"][1]]});
    lead.put(&draft, &lead.get(&draft).etag(), steps).expect(200);
    // In force from Monday, published on Wednesday; Tuesday's lesson was taught from the first.
    let path = format!("/sequences/{}/versions", a.sequence);
    lead.post(&path, json!({"effective_on": "2026-11-23"})).expect(201);
    let record = a.log("2026-11-24", 0, "delivered", json!({"version_id": a.content["id"]}));
    let path = format!("/lesson-records/{}", text(&record["id"]));
    let mut body = a.mark("Max", "absent");
    body["on"] = json!("2026-11-24");
    body["lesson_id"] = json!(a.lessons[0]);
    body["outcome"] = json!("delivered");
    let amended = lead.put(&path, &lead.get(&path).etag(), body).expect(200);
    assert_eq!((&amended["version_id"], &amended["items"]), (&a.content["id"], &record["items"]));
    assert_eq!(a.missed(), [("Max Bell".to_owned(), 2)]);
}

#[test]
fn records_are_paged_latest_first() {
    let a = Alder::new();
    a.log("2026-11-23", 0, "delivered", json!({}));
    a.log("2026-11-24", 1, "delivered", json!({}));
    a.log("2026-11-24", 2, "delivered", json!({"slot": 2}));
    let path = format!("/groups/{}/lesson-records?limit=2", a.group);
    let first = a.school.lead().get(&path).expect(200);
    assert_eq!(column(&first["items"], "on"), ["2026-11-24", "2026-11-24"]);
    assert_eq!(first["items"][0]["slot"], 2);
    let second = a.school.lead().get(&format!("{path}&cursor={}", text(&first["next"]))).expect(200);
    assert_eq!(
        (column(&second["items"], "on"), &second["next"]),
        (vec!["2026-11-23".to_owned()], &Value::Null)
    );
}

#[test]
fn what_a_record_said_before_stays_in_its_history() {
    let a = Alder::new();
    let record = a.log("2026-11-24", 0, "delivered", a.mark("Max", "absent"));
    let path = format!("/lesson-records/{}", text(&record["id"]));
    let lead = a.school.lead();
    let body = json!({"on": "2026-11-24", "lesson_id": a.lessons[0], "outcome": "delivered"});
    let amended = lead.put(&path, &lead.get(&path).etag(), body);
    amended.expect(200);
    lead.delete(&path, &amended.etag()).expect(204);
    lead.get(&path).problem(404, "not_found");
    let history = lead.get(&format!("{path}/history")).expect(200)["items"].clone();
    // First word, amendment, deletion; each by whom it was.
    assert_eq!(column(&history, "by"), ["teacher", "lead", "lead"].map(|who| a.school.staff_id(who)));
    assert_eq!(history[0]["record"], record);
    assert_eq!((&history[1]["record"], &history[2]["record"]), (&amended.json(), &Value::Null));
}

#[test]
fn delivered_means_all_that_remained() {
    let school = School::start();
    school.calendar();
    let (sequence, content) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder")]);
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"]]);
    let teacher = school.staff("teacher");
    let (lesson, items) = (&lesson_ids(&content)[0], item_ids(&content, 0));
    for few in [json!([]), json!([items[0]])] {
        let refused =
            school.log_lesson(&teacher, &group, "2026-11-24", lesson, "delivered", &json!({"items": few}));
        assert!(refused.problem(422, "invalid")[0].starts_with("items: names too few"));
    }
    // Last Monday knows nothing of a lesson given since.
    school.log_lesson(&teacher, &group, "2026-11-24", lesson, "delivered", &json!({})).expect(201);
    let asked = teacher.get(&format!("/groups/{group}/next-lesson?on=2026-11-23")).expect(200);
    assert_eq!(asked["lesson"]["id"], **lesson);
    teacher.get(&format!("/groups/{group}/next-lesson?on=-0001-01-01")).problem(422, "invalid");
}
