//! Closing days: stretches, halves, for the school, for year groups and for classes.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{School, TODAY, Value, column, json, lesson_ids, text};

/// Teaching days from one day to another.
fn taught(school: &School, from: &str, to: &str) -> u64 {
    let days = school.lead().get(&format!("/teaching-days?from={from}&to={to}")).expect(200);
    days["teaching_days"].as_u64().unwrap()
}

/// What the halves of a day are to some: the school, or who the query names.
fn halves(school: &School, on: &str, whom: &str) -> [String; 2] {
    let days = school.lead().get(&format!("/teaching-days?from={on}&to={on}{whom}")).expect(200);
    ["morning", "afternoon"].map(|half| text(&days["days"][0][half]))
}

/// Two classes, the second of mixed ages, and a group of a pupil of each: the ids of the classes and of the group.
fn two_classes(school: &School) -> (String, String, String) {
    let lead = school.lead();
    let class = |name: &str| text(&lead.post("/classes", json!({"name": name})).expect(201)["id"]);
    let (oak, fir) = (class("Oak"), class("Fir"));
    let pupil = |name: &str, class: &str, year: &str| {
        let body = json!({"given_name": name, "class_id": class, "year_group": year, "from": "2026-09-01"});
        text(&lead.post("/pupils", body).expect(201)["id"])
    };
    let ida = pupil("Ida", &oak, "Year 1");
    let ben = pupil("Ben", &fir, "Reception");
    pupil("Una", &fir, "Year 1");
    let group = school.group("Rowan", &school.sequence().0, &[&ida, &ben]);
    (oak, fir, group)
}

#[test]
fn a_stretch_of_days_is_one_action() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    // Wednesday to Tuesday: four school days, a weekend between them.
    let body = json!({"from": "2026-11-11", "until": "2026-11-17", "kind": "closure", "reason": "building"});
    let snow = lead.post("/closures", body).expect(201);
    assert_eq!((&snow["from"], &snow["until"]), (&json!("2026-11-11"), &json!("2026-11-17")));
    assert_eq!((&snow["year_groups"], &snow["class_ids"]), (&Value::Null, &Value::Null));
    // Thirty-five days of the half term less five of these, which is a week.
    assert_eq!(taught(&school, "2026-11-02", "2026-12-18"), 30);
    assert_eq!(halves(&school, "2026-11-14", ""), ["weekend", "weekend"]);
    let into = json!({"from": "2026-11-16", "until": "2026-11-17", "kind": "inset"});
    assert_eq!(
        lead.post("/closures", into).problem(409, "conflict"),
        ["from: 2026-11-16 is closed already: closure of 2026-11-11 to 2026-11-17"]
    );
    // One that closes another day too leaves those as they are, and says which.
    let further = json!({"from": "2026-11-13", "until": "2026-11-18", "kind": "inset"});
    let more = lead.post("/closures", further).expect(201);
    assert_eq!(more["closed_before"], json!(["2026-11-13", "2026-11-16", "2026-11-17"]));
    assert_eq!((&snow["closed_before"], taught(&school, "2026-11-02", "2026-12-18")), (&json!([]), 29));
    lead.call("DELETE", &format!("/closures/{}", text(&more["id"])), None).expect(204);
    let all = json!({"from": "2026-09-01", "until": "2027-08-31", "kind": "closure"});
    assert_eq!(
        lead.post("/closures", all).problem(422, "invalid"),
        ["from: the school year 2026 would have no teaching day"]
    );
    let refused = |body: Value| lead.post("/closures", body).problem(422, "invalid");
    let reversed = json!({"from": "2026-11-20", "until": "2026-11-19", "kind": "inset"});
    assert_eq!(refused(reversed), ["until: is before the first day"]);
    let long = json!({"from": "2026-11-20", "until": "2027-12-06", "kind": "inset"});
    assert_eq!(refused(long), ["until: is more than 380 days after the first"]);

    lead.call("DELETE", &format!("/closures/{}", text(&snow["id"])), None).expect(204);
    assert_eq!(taught(&school, "2026-11-02", "2026-12-18"), 35);
    assert_eq!(lead.get("/closures").expect(200)["items"], json!([]));
    let back = lead.get("/closures?taken_back=true").expect(200);
    assert_eq!(column(&back["items"], "id"), [text(&snow["id"]), text(&more["id"])]);
    assert_eq!(back["items"][0]["reason"], "building");
    assert!(text(&back["items"][0]["taken_back_at"]).starts_with(TODAY));
}

#[test]
fn a_trip_of_a_year_group_leaves_the_others_their_lessons() {
    let school = School::start();
    school.calendar();
    let (oak, fir, group) = two_classes(&school);
    let lead = school.lead();
    let trip = json!({"from": "2026-11-12", "kind": "trip", "reason": "trip", "year_groups": ["Year 1"]});
    let trip = lead.post("/closures", trip).expect(201);
    assert_eq!(trip["year_groups"], json!(["year_1"]));
    let teaching = ["teaching", "teaching"];
    assert_eq!(halves(&school, "2026-11-12", ""), teaching);
    assert_eq!(halves(&school, "2026-11-12", "&year_group=year_1"), ["trip", "trip"]);
    assert_eq!(halves(&school, "2026-11-12", "&year_group=Reception"), teaching);
    assert_eq!(halves(&school, "2026-11-12", &format!("&class_id={oak}")), ["trip", "trip"]);
    // The class of mixed ages and the group have a reception pupil left.
    assert_eq!(halves(&school, "2026-11-12", &format!("&class_id={fir}")), teaching);
    assert_eq!(halves(&school, "2026-11-12", &format!("&group_id={group}")), teaching);
    // In the afternoon the other class is away too, and nobody of the group is left.
    let body = json!({"from": "2026-11-12", "kind": "trip", "part": "afternoon", "class_ids": [fir]});
    lead.post("/closures", body).expect(201);
    assert_eq!(halves(&school, "2026-11-12", &format!("&group_id={group}")), ["teaching", "trip"]);
    let days = |whom: &str| {
        let days = lead.get(&format!("/teaching-days?from=2026-11-09&to=2026-11-13{whom}")).expect(200);
        (days["teaching_days"].clone(), days["teaching_half_days"].clone())
    };
    assert_eq!(days(""), (json!(5), json!(10)));
    assert_eq!(days(&format!("&group_id={group}")), (json!(5), json!(9)));
    assert_eq!(days("&year_group=year_1"), (json!(4), json!(8)));

    let refused = |body: Value| lead.post("/closures", body).problem(422, "invalid");
    assert_eq!(
        refused(json!({"from": "2026-11-13", "kind": "trip", "year_groups": ["Year 9"]})),
        ["year_groups[0]: give one of: nursery, reception, year_1, year_2"]
    );
    let nobody = "names nobody; leave it out for the whole school";
    assert_eq!(
        refused(json!({"from": "2026-11-13", "kind": "trip", "year_groups": []})),
        [format!("year_groups: {nobody}")]
    );
    assert_eq!(
        refused(json!({"from": "2026-11-13", "kind": "trip", "class_ids": [group]})),
        ["class_ids: names a class that is not of this school"]
    );
    assert_eq!(
        refused(json!({"from": "2026-11-13", "kind": "trip", "class_ids": [fir], "year_groups": ["Year 1"]})),
        ["class_ids: give year groups or classes, not both"]
    );
    let both = lead.get(&format!("/teaching-days?from={TODAY}&to={TODAY}&class_id={fir}&group_id={group}"));
    assert_eq!(both.problem(422, "invalid"), ["group_id: give one of class_id, year_group and group_id"]);
}

#[test]
fn a_lesson_is_odd_on_a_day_that_is_closed_for_its_group() {
    let school = School::start();
    school.calendar();
    let (oak, _, _) = two_classes(&school);
    let lead = school.lead();
    let (sequence, content) = school.sequence();
    let pupils = lead.get("/pupils").expect(200);
    let ida = pupils["items"].as_array().unwrap().iter().find(|one| one["name"] == "Ida").unwrap();
    let own = school.group("Elder", &sequence, &[&text(&ida["id"])]);
    let body = json!({"from": "2026-11-12", "kind": "trip", "class_ids": [oak]});
    lead.post("/closures", body).expect(201);
    let lesson = &lesson_ids(&content)[0];
    let made = school.log_lesson(&lead, &own, "2026-11-12", lesson, "delivered", &json!({})).expect(201);
    assert_eq!(made["warnings"], json!(["on_closed_day"]));
    let next = lead.get(&format!("/groups/{own}/next-lesson?on=2026-11-12")).expect(200);
    assert_eq!(next["day"], "trip");
    // Who may not see the group is not told its days.
    let days = format!("/teaching-days?from={TODAY}&to={TODAY}&group_id={own}");
    school.staff("office").get(&days).problem(404, "not_found");
}

#[test]
fn days_of_which_lessons_are_on_record_are_closed_only_by_who_knows() {
    let school = School::start();
    school.calendar();
    let (oak, fir, group) = two_classes(&school);
    let lead = school.lead();
    let version = lead.get(&format!("/groups/{group}/next-lesson")).expect(200)["version_id"].clone();
    let sequence = lead.get(&format!("/groups/{group}")).expect(200)["sequence_id"].clone();
    let path = format!("/sequences/{}/versions/{}", text(&sequence), text(&version));
    let lessons = lesson_ids(&lead.get(&path).expect(200));
    let log = |on: &str, n: usize, outcome: &str, more: Value| {
        school.log_lesson(&lead, &group, on, &lessons[n], outcome, &more).expect(201);
    };
    log("2026-11-12", 0, "delivered", json!({}));
    log("2026-11-16", 1, "delivered", json!({}));
    log("2026-11-17", 2, "not_delivered", json!({"reason": "adult_absent"}));
    let close = |body: Value| lead.post("/closures", body);
    let refused = |body: Value| close(body).problem(409, "conflict");
    let said = |days: &str| {
        vec![format!(
            "with_records: lessons of Rowan are on record: {days}. \
             Say true to close the days all the same; the records stay"
        )]
    };
    let week = json!({"from": "2026-11-12", "until": "2026-11-18", "kind": "closure"});
    assert_eq!(refused(week.clone()), said("2026-11-12, 2026-11-16"));
    // Of one class only the group is still taught, but Ida was there; of both it is not.
    let mut of_oak = json!({"from": "2026-11-12", "kind": "trip", "class_ids": [oak]});
    assert_eq!(refused(of_oak.clone()), said("2026-11-12"));
    of_oak["with_records"] = json!(true);
    close(of_oak).expect(201);
    assert_eq!(
        refused(json!({"from": "2026-11-12", "kind": "trip", "class_ids": [fir]})),
        said("2026-11-12")
    );
    // A half day leaves the lesson of the day due, unless it is one of the half that is closed.
    let half = close(json!({"from": "2026-11-16", "kind": "closure", "part": "morning"})).expect(201);
    assert_eq!(half["recorded"], json!([]));
    lead.call("DELETE", &format!("/closures/{}", text(&half["id"])), None).expect(204);
    let at = format!("/groups/{group}");
    let slots = json!([{"weekday": "monday", "part": "morning"}, {"weekday": "thursday", "part": "morning"}]);
    let body = json!({"from": "2026-09-01", "slots": slots});
    lead.put(&format!("{at}/timetable"), &lead.get(&at).etag(), body).expect(200);
    assert_eq!(
        refused(json!({"from": "2026-11-16", "kind": "closure", "part": "morning"})),
        said("2026-11-16")
    );
    close(json!({"from": "2026-11-16", "kind": "closure", "part": "afternoon"})).expect(201);
    // Who knows closes them, and nothing recorded is lost either way.
    let records = || lead.get(&format!("{at}/lesson-records")).expect(200)["items"].clone();
    let before = records();
    let mut known = week;
    known["with_records"] = json!(true);
    let made = close(known).expect(201);
    let days = json!([{"group_id": group, "name": "Rowan", "days": ["2026-11-12", "2026-11-16"]}]);
    assert_eq!(made["recorded"], days);
    assert_eq!(records(), before);
    lead.call("DELETE", &format!("/closures/{}", text(&made["id"])), None).expect(204);
    assert_eq!(records(), before);
}

#[test]
fn a_lesson_is_odd_in_a_half_that_is_closed_and_in_a_slot_the_timetable_has_not() {
    let school = School::start();
    school.calendar();
    let (_, _, group) = two_classes(&school);
    let lead = school.lead();
    let next = lead.get(&format!("/groups/{group}/next-lesson")).expect(200);
    let sequence = lead.get(&format!("/groups/{group}")).expect(200)["sequence_id"].clone();
    let path = format!("/sequences/{}/versions/{}", text(&sequence), text(&next["version_id"]));
    let lessons = lesson_ids(&lead.get(&path).expect(200));
    let timetable = json!({"from": "2026-11-09", "slots": [
        {"weekday": "thursday", "part": "morning"}, {"weekday": "thursday", "part": "afternoon"},
        {"weekday": "friday", "part": "morning"}]});
    let etag = lead.get(&format!("/groups/{group}")).etag();
    lead.put(&format!("/groups/{group}/timetable"), &etag, timetable).expect(200);
    let afternoon =
        json!({"from": "2026-11-12", "part": "afternoon", "kind": "closure", "reason": "weather"});
    lead.post("/closures", afternoon).expect(201);
    let log = |on: &str, slot: u8, n: usize| {
        let more = json!({"slot": slot});
        school.log_lesson(&lead, &group, on, &lessons[n], "delivered", &more).expect(201)["warnings"].clone()
    };
    // Before the timetable began every slot may be.
    assert_eq!(log("2026-11-05", 2, 0), json!([]));
    assert_eq!(log("2026-11-12", 1, 1), json!([]));
    assert_eq!(log("2026-11-12", 2, 2), json!(["on_closed_day"]));
    assert_eq!(log("2026-11-12", 3, 2), json!(["not_in_timetable", "taught_again"]));
    assert_eq!(log("2026-11-13", 2, 2), json!(["not_in_timetable", "taught_again"]));
}
