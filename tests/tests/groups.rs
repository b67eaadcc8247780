//! Teaching groups: adults, members, the place in the sequence.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Pupils, School, TODAY, Value, column, json, lesson_ids, text};

/// A calendar, a published sequence, and pupils Zoe, Max and Ida.
fn start() -> (School, String, Value, Pupils) {
    let school = School::start();
    school.calendar();
    let (sequence, content) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder"), ("Ida", "Rowan")]);
    (school, sequence, content, pupils)
}

fn names(school: &School, group: &str, on: &str) -> Vec<String> {
    let body = school.lead().get(&format!("/groups/{group}?on={on}")).expect(200);
    assert_eq!(body["on"], on);
    column(&body["members"], "name")
}

#[test]
fn a_group_is_added_and_read_back() {
    let (school, sequence, _, _) = start();
    let lead = school.lead();
    let made = lead.post("/groups", json!({"name": "Alder", "sequence_id": sequence}));
    let group = made.expect(201);
    assert_eq!(made.header("Location"), format!("/api/v1/groups/{}", text(&group["id"])));
    let line = json!({"id": group["id"], "name": "Alder", "sequence_id": sequence, "closed_on": null});
    assert_eq!(group, line);
    let read = lead.get(&format!("/groups/{}", text(&group["id"])));
    assert_eq!(read.etag(), made.etag());
    let body = read.expect(200);
    assert_eq!((&body["on"], &body["adults"], &body["members"]), (&json!(TODAY), &json!([]), &json!([])));
    let stranger = json!({"name": "Birch", "sequence_id": "0199f2c4-0000-7000-8000-00000000000a"});
    let refused = lead.post("/groups", stranger).problem(422, "invalid");
    assert_eq!(refused, ["sequence_id: is not a sequence of this school"]);
}

#[test]
fn members_are_set_from_a_day_and_the_days_before_stay() {
    let (school, sequence, _, pupils) = start();
    let lead = school.lead();
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"], &pupils["Max"]]);
    let path = format!("/groups/{group}/members");
    let etag = lead.get(&format!("/groups/{group}")).etag();
    let body = json!({"from": "2026-11-09", "pupil_ids": [pupils["Max"], pupils["Ida"]]});
    lead.call("PUT", &path, Some(&body)).problem(428, "precondition_required");
    let set = lead.put(&path, &etag, body.clone());
    assert_eq!(column(&set.expect(200)["members"], "name"), ["Ida Bell", "Max Bell"]);
    lead.put(&path, &etag, body).problem(412, "stale");
    assert_eq!(names(&school, &group, "2026-11-08"), ["Max Bell", "Zoe Bell"]);
    assert_eq!(names(&school, &group, "2026-11-09"), ["Ida Bell", "Max Bell"]);
    assert_eq!(names(&school, &group, "2026-08-31"), Vec::<String>::new());
    let before = lead.get(&format!("/groups/{group}?on=2026-11-08")).expect(200);
    let zoe = &before["members"][1];
    assert_eq!((&zoe["from"], &zoe["until"]), (&json!("2026-09-01"), &json!("2026-11-08")));
    // Set again from an earlier day, what was to come is dropped.
    let etag = set.etag();
    let again = lead.put(&path, &etag, json!({"from": "2026-11-02", "pupil_ids": [pupils["Zoe"]]}));
    again.expect(200);
    assert_eq!(names(&school, &group, "2026-11-01"), ["Max Bell", "Zoe Bell"]);
    assert_eq!(names(&school, &group, "2026-11-09"), ["Zoe Bell"]);
    let stranger = json!({"pupil_ids": [group]});
    let refused = lead.put(&path, &again.etag(), stranger).problem(422, "invalid");
    assert_eq!(refused, ["pupil_ids: one of them is not a pupil of this school on that day"]);
    // Twice the same pupil is one pupil; without a day it is from today.
    let twice = json!({"pupil_ids": [pupils["Ida"], pupils["Ida"]]});
    lead.put(&path, &again.etag(), twice).expect(200);
    assert_eq!(names(&school, &group, "2026-11-24"), ["Zoe Bell"]);
    assert_eq!(names(&school, &group, TODAY), ["Ida Bell"]);
}

#[test]
fn adults_of_a_group_are_checked_and_replaced_whole() {
    let (school, sequence, _, _) = start();
    let lead = school.lead();
    let group = school.group("Alder", &sequence, &[]);
    let path = format!("/groups/{group}/adults");
    let etag = lead.get(&format!("/groups/{group}")).etag();
    let teacher = school.staff_id("teacher");
    let put = |adults: Value| lead.put(&path, &etag, json!({"adults": adults}));
    let overlap = json!([{"staff_id": teacher, "from": "2026-09-01", "until": "2026-11-02"},
                         {"staff_id": teacher, "from": "2026-11-02"}]);
    let overlaps = ["adults[1].from: overlaps another assignment of the same adult"];
    assert_eq!(put(overlap).problem(422, "invalid"), overlaps);
    let reversed = put(json!([{"staff_id": teacher, "from": "2026-09-02", "until": "2026-09-01"}]));
    assert_eq!(reversed.problem(422, "invalid"), ["adults[0].until: lies before the first day"]);
    let stranger = put(json!([{"staff_id": group, "from": "2026-09-01"}])).problem(422, "invalid");
    assert_eq!(stranger, ["adults: one of them is not of this school's staff"]);
    let listed = || column(&lead.get(&format!("/groups/{group}")).expect(200)["adults"], "staff_id");
    assert_eq!(listed(), vec![teacher.clone()], "nothing was written");
    // Two adults on the same days, and one of them twice with a gap.
    let assistant = school.staff_id("assistant");
    let both = json!([{"staff_id": teacher, "from": "2026-09-01", "until": "2026-10-23"},
                      {"staff_id": assistant, "from": "2026-09-02"},
                      {"staff_id": teacher, "from": "2026-11-02"}]);
    let set = put(both);
    set.expect(200);
    assert_eq!(listed(), [teacher.clone(), assistant, teacher]);
    lead.put(&path, &etag, json!({"adults": []})).problem(412, "stale");
}

#[test]
fn cover_for_one_day_sees_and_records_that_day_and_no_other() {
    let (school, sequence, content, pupils) = start();
    let lead = school.lead();
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"]]);
    let cover = school.staff("cover");
    let etag = lead.get(&format!("/groups/{group}")).etag();
    let adults = json!({"adults": [
        {"staff_id": school.staff_id("teacher"), "from": "2026-09-01"},
        {"staff_id": school.staff_id("cover"), "from": TODAY, "until": TODAY}]});
    lead.put(&format!("/groups/{group}/adults"), &etag, adults).expect(200);
    assert_eq!(column(&cover.get("/groups").expect(200)["items"], "id"), vec![group.clone()]);
    let lessons = lesson_ids(&content);
    let yesterday = school.log_lesson(&cover, &group, "2026-11-24", &lessons[0], "delivered", &json!({}));
    yesterday.problem(404, "not_found");
    let kept = school.log_lesson(&cover, &group, TODAY, &lessons[0], "delivered", &json!({})).expect(201);
    assert_eq!(
        (&kept["taught_by"], &kept["entered_by"]),
        (&json!(school.staff_id("cover")), &json!(school.staff_id("cover")))
    );
    // Assigned for another day: today there is nothing to see, but that day's lesson to record.
    let etag = lead.get(&format!("/groups/{group}")).etag();
    let adults = json!({"adults": [{"staff_id": school.staff_id("cover"), "from": "2026-11-23", "until": "2026-11-23"}]});
    lead.put(&format!("/groups/{group}/adults"), &etag, adults).expect(200);
    cover.get(&format!("/groups/{group}")).problem(404, "not_found");
    assert_eq!(cover.get("/groups").expect(200)["items"], json!([]));
    school.log_lesson(&cover, &group, "2026-11-23", &lessons[1], "delivered", &json!({})).expect(201);
}

#[test]
fn a_teacher_sees_own_groups_and_no_others() {
    let (school, sequence, _, pupils) = start();
    let own = school.group("Alder", &sequence, &[&pupils["Zoe"]]);
    let lead = school.lead();
    let other =
        text(&lead.post("/groups", json!({"name": "Birch", "sequence_id": sequence})).expect(201)["id"]);
    let teacher = school.staff("teacher");
    assert_eq!(column(&teacher.get("/groups").expect(200)["items"], "id"), vec![own.clone()]);
    assert_eq!(column(&lead.get("/groups").expect(200)["items"], "name"), ["Alder", "Birch"]);
    for path in ["", "/next-lesson", "/coverage", "/lesson-records"] {
        teacher.get(&format!("/groups/{own}{path}")).expect(200);
        teacher.get(&format!("/groups/{other}{path}")).problem(404, "not_found");
    }
}

#[test]
fn a_name_is_changed_by_who_read_it_last() {
    let (school, sequence, _, _) = start();
    let lead = school.lead();
    let made = lead.post("/groups", json!({"name": "Alder", "sequence_id": sequence}));
    let path = format!("/groups/{}", text(&made.expect(201)["id"]));
    let patched = lead.patch(&path, &made.etag(), json!({"name": "Birch"}));
    assert_eq!(patched.expect(200)["name"], "Birch");
    lead.patch(&path, &made.etag(), json!({"name": "Cedar"})).problem(412, "stale");
    assert_eq!(lead.patch(&path, &patched.etag(), json!({})).expect(200)["name"], "Birch");
}

#[test]
fn the_next_lesson_says_what_day_it_is_and_when_the_end_is_reached() {
    let (school, sequence, content, pupils) = start();
    let lead = school.lead();
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"]]);
    let next = |on: &str| lead.get(&format!("/groups/{group}/next-lesson?on={on}")).expect(200);
    let first = next(TODAY);
    assert_eq!(
        (&first["day"], &first["recorded_today"], &first["finished"]),
        (&json!("teaching"), &json!(false), &json!(false))
    );
    assert_eq!(first["lesson"]["place"], json!({"step": 1, "lesson": 1}));
    assert_eq!(
        (&first["lesson"]["step_title"], &first["lesson"]["begun"]),
        (&json!("Step 1"), &json!(false))
    );
    assert_eq!(next("2026-10-28")["day"], "holiday");
    for (n, lesson) in lesson_ids(&content).iter().enumerate() {
        let on = format!("2026-11-{}", 16 + n);
        school.log_lesson(&lead, &group, &on, lesson, "delivered", &json!({})).expect(201);
    }
    let end = next("2026-11-19");
    assert_eq!(
        (&end["finished"], &end["lesson"], &end["recorded_today"]),
        (&json!(true), &Value::Null, &json!(true))
    );
    assert_eq!(next("2026-11-20")["recorded_today"], false);
}

#[test]
fn a_closed_group_keeps_its_records_and_takes_none_after_its_last_day() {
    let (school, sequence, content, pupils) = start();
    let lead = school.lead();
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"]]);
    let lessons = lesson_ids(&content);
    let record =
        school.log_lesson(&lead, &group, "2026-11-19", &lessons[0], "delivered", &json!({})).expect(201);
    let path = format!("/groups/{group}");
    let close = format!("{path}/close");
    let etag = lead.get(&path).etag();
    // Not before what is on record: a slip of the pen in the date would take its pupils away.
    let refused = lead.with("If-Match", &etag).post(&close, json!({"on": "2026-11-18"}));
    assert_eq!(refused.problem(409, "conflict"), ["on: teaching is on record of 2026-11-19"]);
    let body = json!({"on": "2026-11-20"});
    lead.post(&close, body.clone()).problem(428, "precondition_required");
    lead.with("If-Match", "\"v0\"").post(&close, body.clone()).problem(412, "stale");
    lead.with("If-Match", &etag).post(&close, body).expect(204);
    assert_eq!(lead.get(&path).expect(200)["closed_on"], "2026-11-20");
    let after = school.log_lesson(&lead, &group, "2026-11-23", &lessons[1], "delivered", &json!({}));
    assert_eq!(after.problem(409, "conflict"), ["on: the group was closed before that day"]);
    // A late record of its last day is taken.
    school.log_lesson(&lead, &group, "2026-11-20", &lessons[1], "delivered", &json!({})).expect(201);
    let records = lead.get(&format!("{path}/lesson-records")).expect(200);
    assert_eq!(records["items"].as_array().unwrap().len(), 2);
    lead.get(&format!("/lesson-records/{}", text(&record["id"]))).expect(200);
}

#[test]
fn namesakes_in_a_group_carry_what_tells_them_apart() {
    let school = School::start();
    school.calendar();
    let (sequence, _) = school.sequence();
    let lead = school.lead();
    let mut ids = Vec::new();
    for class in ["Alder", "Rowan"] {
        let class = text(&lead.post("/classes", json!({"name": class})).expect(201)["id"]);
        let body =
            json!({"given_name": "Maya", "family_name": "Okafor", "class_id": class, "from": "2026-09-01"});
        ids.push(text(&lead.post("/pupils", body).expect(201)["id"]));
    }
    let group = school.group("Both", &sequence, &[&ids[0], &ids[1]]);
    let members = lead.get(&format!("/groups/{group}")).expect(200)["members"].clone();
    let mut apart = column(&members, "apart");
    apart.sort();
    assert_eq!(apart, ["Alder", "Rowan"]);
}

#[test]
fn closing_a_group_ends_its_members_and_adults_days() {
    let school = School::start();
    school.calendar();
    let (sequence, _) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder")]);
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"]]);
    let (lead, teacher) = (school.lead(), school.staff("teacher"));
    let etag = lead.get(&format!("/groups/{group}")).etag();
    let close = json!({"on": "2026-11-24"});
    lead.with("If-Match", &etag).call("POST", &format!("/groups/{group}/close"), Some(&close)).expect(204);
    let yesterday = lead.get(&format!("/groups/{group}?on=2026-11-24")).expect(200);
    assert_eq!(yesterday["members"].as_array().unwrap().len(), 1);
    let today = lead.get(&format!("/groups/{group}")).expect(200);
    assert_eq!((&today["members"], &today["adults"][0]["until"]), (&json!([]), &json!("2026-11-24")));
    // The teacher reached the pupil by this group alone.
    teacher.get(&format!("/pupils/{}", pupils["Zoe"])).problem(404, "not_found");
    teacher.get(&format!("/groups/{group}")).problem(404, "not_found");
}
