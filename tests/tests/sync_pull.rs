//! What devices are given: the scopes one holds today, and nothing else.
#![allow(clippy::unwrap_used)]

use std::collections::{BTreeMap, BTreeSet};

use plumbline_tests::{Client, Replica, School, TODAY, Value, json, new_id, text};

/// What a replica holds but for versions: kind, id and body, whatever scope.
fn held(replica: &Replica) -> BTreeMap<(String, String), Value> {
    let records = replica.records.iter();
    records.map(|((_, kind, id), body)| ((kind.clone(), id.clone()), body.clone())).collect()
}

fn pulled(school: &School, who: &str) -> Replica {
    let mut replica = school.replica(who);
    replica.pull(500);
    replica
}

/// The scopes held, by their kinds.
fn scopes(replica: &Replica) -> BTreeSet<String> {
    replica.cursors.keys().map(|scope| scope.split(':').next().unwrap().to_owned()).collect()
}

fn set(words: &[&str]) -> BTreeSet<String> {
    words.iter().map(|word| (*word).to_owned()).collect()
}

/// Makes the members of a group from a day on exactly these.
fn members(lead: &Client, group: &str, from: &str, pupils: &[&String]) {
    let path = format!("/groups/{group}");
    let body = json!({"from": from, "pupil_ids": pupils});
    lead.put(&format!("{path}/members"), &lead.get(&path).etag(), body).expect(200);
}

/// Makes the adults of a group exactly these, from the first day of the year on.
fn adults(school: &School, group: &str, who: &[&str]) {
    let (lead, path) = (school.lead(), format!("/groups/{group}"));
    let adults: Vec<Value> =
        who.iter().map(|who| json!({"staff_id": school.staff_id(who), "from": "2026-09-01"})).collect();
    lead.put(&format!("{path}/adults"), &lead.get(&path).etag(), json!({"adults": adults})).expect(200);
}

/// The names of a schema's fields, those of what it is made of too.
fn properties(schemas: &Value, schema: &Value) -> Vec<String> {
    if let Some(path) = schema["$ref"].as_str() {
        return properties(schemas, &schemas[path.rsplit('/').next().unwrap()]);
    }
    let own = schema["properties"].as_object().into_iter().flat_map(|fields| fields.keys().cloned());
    let parts = schema["allOf"].as_array().into_iter().flatten();
    own.chain(parts.flat_map(|part| properties(schemas, part))).collect()
}

#[test]
fn what_is_pulled_is_described_kind_by_kind() {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/../openapi/plumbline.v1.json");
    let document: Value = serde_json::from_str(&std::fs::read_to_string(file).unwrap()).unwrap();
    let schemas = &document["components"]["schemas"];
    let (school, _) = School::with_lessons();
    let mine = pulled(&school, "teacher");
    let mut kinds = BTreeSet::new();
    for ((_, kind, _), body) in &mine.records {
        let path = schemas["BodyByKind"]["properties"][kind]["$ref"].as_str();
        let name = path.unwrap_or_else(|| panic!("{kind} is not described")).rsplit('/').next().unwrap();
        let fields = |list: Vec<&String>| list.into_iter().cloned().collect::<BTreeSet<String>>();
        let said = fields(body.as_object().unwrap().keys().collect());
        let described: BTreeSet<String> = properties(schemas, &schemas[name]).into_iter().collect();
        assert_eq!(said, described, "{kind}");
        kinds.insert(kind.clone());
    }
    let there = [
        "group",
        "group_member",
        "lesson_record",
        "pupil",
        "school",
        "school_year",
        "sequence_version",
        "staff_name",
    ];
    assert!(set(&there).is_subset(&kinds), "{kinds:?}");
}

#[test]
fn a_teacher_is_given_the_group_and_what_it_stands_on() {
    let (school, group) = School::with_lessons();
    let mine = pulled(&school, "teacher");
    assert_eq!(scopes(&mine), set(&["group", "school"]));
    let count = |kind: &str| mine.of(kind).len();
    let counts =
        ["group", "pupil", "group_member", "lesson_record", "sequence_version", "school_year", "school"]
            .map(count);
    assert_eq!(counts, [1, 2, 2, 3, 1, 1, 1]);
    let records = school.lead().get(&format!("/groups/{group}/lesson-records")).expect(200);
    for record in records["items"].as_array().unwrap() {
        assert_eq!(mine.of("lesson_record")[&text(&record["id"])], *record);
    }
    let names: BTreeSet<String> = mine.of("staff_name").values().map(|body| text(&body["name"])).collect();
    assert_eq!(names, set(&["Ada Admin", "lead person", "teacher person"]));
    // Of a pupil no more than a carpet needs.
    for pupil in mine.of("pupil").values() {
        let keys: BTreeSet<String> = pupil.as_object().unwrap().keys().cloned().collect();
        assert_eq!(keys, set(&["class_ids", "id", "label", "name", "year_group"]));
    }
    let version = mine.of("sequence_version").into_values().next().unwrap();
    assert_eq!(version["steps"][0]["lessons"][0]["title"], "m and o");
}

#[test]
fn who_is_assigned_to_nothing_holds_no_pupil() {
    let (school, _) = School::with_lessons();
    for who in ["lead", "head", "teacher:2", "office"] {
        let theirs = pulled(&school, who);
        assert_eq!(scopes(&theirs), set(&["school"]), "{who}");
        let pupils = ["pupil", "lesson_record", "group", "response"].map(|kind| theirs.of(kind).len());
        assert_eq!(pupils, [0; 4], "{who}");
    }
}

#[test]
fn the_size_of_pages_changes_nothing() {
    let (school, _) = School::with_lessons();
    let whole = pulled(&school, "teacher");
    for size in [1, 2, 7] {
        let mut paged = school.replica("teacher");
        assert!(paged.pull(size) > 1);
        assert_eq!((held(&paged), paged.cursors.len()), (held(&whole), 2), "{size}");
    }
}

#[test]
fn what_others_write_comes_with_the_next_pull_and_nothing_else() {
    let (school, group) = School::with_lessons();
    let mut mine = pulled(&school, "teacher");
    let empty = mine.page(500).expect(200);
    assert_eq!((&empty["rows"], &empty["more"]), (&json!([]), &json!(false)));
    let lead = school.lead();
    let next = lead.get(&format!("/groups/{group}/next-lesson")).expect(200);
    let lesson = json!({"on": "2026-11-24", "lesson_id": next["lesson"]["id"], "outcome": "delivered"});
    let made = lead.post(&format!("/groups/{group}/lesson-records"), lesson).expect(201);
    let page = mine.page(500).expect(200);
    let rows: Vec<String> = page["rows"].as_array().unwrap().iter().map(|row| text(&row["id"])).collect();
    assert_eq!(rows, [text(&made["id"])]);
    mine.take(&page);
    let path = format!("/lesson-records/{}", text(&made["id"]));
    lead.delete(&path, &lead.get(&path).etag()).expect(204);
    let page = mine.page(500).expect(200);
    assert_eq!((&page["rows"][0]["is"], &page["rows"][0]["body"]), (&json!("del"), &Value::Null));
    mine.take(&page);
    assert_eq!(mine.of("lesson_record").len(), 3);
}

#[test]
fn a_pupil_who_leaves_a_group_leaves_its_devices_with_all_that_belongs() {
    let (school, group) = School::with_lessons();
    let lead = school.lead();
    let pupils: BTreeMap<String, String> = lead.get("/pupils").expect(200)["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|line| (text(&line["name"])[..3].to_owned(), text(&line["id"])))
        .collect();
    let (check, items) = school.word_check("Words", &["mat"]);
    let round = school.round("Now", "2026-11-23", "2026-11-27", &[&check]);
    school
        .answer(&school.staff("teacher"), (&round, &pupils["Zoe"], &check), TODAY, &[(&items[0], "right")])
        .expect(201);
    let (mut mine, mut whole) = (pulled(&school, "teacher"), school.replica("teacher"));
    assert_eq!((mine.of("pupil").len(), mine.of("response").len()), (2, 1));
    members(&lead, &group, TODAY, &[&pupils["Max"]]);
    mine.pull(1);
    whole.pull(500);
    assert_eq!((mine.of("pupil").len(), mine.of("group_member").len(), mine.of("response").len()), (1, 1, 0));
    // Devices that were there before and that come new hold the same.
    assert_eq!(held(&mine), held(&whole));
    // The answer comes back with the pupil.
    members(&lead, &group, TODAY, &[&pupils["Max"], &pupils["Zoe"]]);
    mine.pull(500);
    assert_eq!((mine.of("pupil").len(), mine.of("response").len()), (2, 1));
    // Who goes to a class of the same adult stays, in that scope.
    let classes = lead.get("/classes").expect(200);
    let class = format!("/classes/{}", text(&classes["items"][0]["id"]));
    let adult = json!({"adults": [{"staff_id": school.staff_id("teacher"), "from": "2026-09-01"}]});
    lead.put(&format!("{class}/adults"), &lead.get(&class).etag(), adult).expect(200);
    mine.pull(500);
    members(&lead, &group, TODAY, &[]);
    mine.pull(500);
    assert_eq!((mine.of("pupil").len(), mine.of("group_member").len(), mine.of("response").len()), (2, 0, 1));
}

#[test]
fn a_new_grant_brings_old_records_and_its_end_takes_them() {
    let (school, group) = School::with_lessons();
    let mut other = pulled(&school, "teacher:2");
    adults(&school, &group, &["teacher", "teacher:2"]);
    other.pull(2);
    assert_eq!((other.of("lesson_record").len(), other.of("pupil").len()), (3, 2));
    adults(&school, &group, &["teacher"]);
    let page = other.page(500).expect(200);
    assert_eq!(page["drop"], json!([format!("group:{group}")]));
    other.take(&page);
    assert_eq!((other.of("lesson_record").len(), other.of("pupil").len()), (0, 0));
}

#[test]
fn a_cursor_that_is_none_or_of_elsewhere_gives_nothing_foreign() {
    let (school, group) = School::with_lessons();
    let mine = pulled(&school, "teacher");
    let mut other = pulled(&school, "teacher:2");
    let scope = format!("group:{group}");
    // Another's cursor, and one made up: the scope is not held.
    for cursor in [mine.cursors[&scope].as_str(), "0...0.0"] {
        other.cursors.insert(scope.clone(), cursor.to_owned());
        let page = other.page(500).expect(200);
        assert_eq!((&page["drop"], &page["rows"]), (&json!([scope]), &json!([])));
    }
    for wrong in ["", "7", "1.x.pupil.2.0", "-1...2.0"] {
        other.cursors.insert(scope.clone(), wrong.to_owned());
        assert_eq!(
            other.page(500).problem(422, "invalid"),
            [format!("cursors.{scope}: is no cursor of this server")]
        );
    }
    // One of a version that is yet to come is of another history.
    let mut mine = mine;
    let page = mine.page(500).expect(200);
    mine.take(&page);
    let before = held(&mine);
    mine.cursors.insert(scope.clone(), format!("{}...{}.0", i64::MAX, i64::MAX));
    let page = mine.page(500).expect(200);
    assert_eq!(page["reset"], json!([scope]));
    mine.take(&page);
    assert_eq!(held(&mine), before);
}

#[test]
fn who_may_see_more_or_less_reads_the_scope_anew() {
    let (school, group) = School::with_lessons();
    let lead = school.lead();
    let zoe = text(&lead.get("/pupils").expect(200)["items"][0]["id"]);
    let (check, items) = school.word_check("Words", &["mat"]);
    let round = school.round("Now", "2026-11-23", "2026-11-27", &[&check]);
    school.answer(&lead, (&round, &zoe, &check), TODAY, &[(&items[0], "right")]).expect(201);
    adults(&school, &group, &["teacher", "cover"]);
    let mut cover = pulled(&school, "cover");
    assert_eq!(
        (cover.of("pupil").len(), cover.of("lesson_record").len(), cover.of("response").len()),
        (2, 3, 0)
    );
    let staff = format!("/staff/{}", school.staff_id("cover"));
    let roles = |role: &str| json!({"roles": [{"role": role, "from": "2026-09-01", "until": "2026-12-18"}]});
    let admin = school.staff("administrator");
    admin.put(&format!("{staff}/roles"), &admin.get(&staff).etag(), roles("teacher")).expect(200);
    assert_eq!(cover.page(500).expect(200)["reset"].as_array().unwrap().len(), 2);
    cover.pull(500);
    assert_eq!((cover.of("response").len(), cover.of("check").len()), (1, 1));
    admin.put(&format!("{staff}/roles"), &admin.get(&staff).etag(), roles("cover")).expect(200);
    cover.pull(500);
    assert_eq!((cover.of("pupil").len(), cover.of("response").len(), cover.of("check").len()), (2, 0, 0));
}

#[test]
fn a_place_dated_ahead_is_seen_on_its_day() {
    let (mut school, group) = School::with_lessons();
    let lead = school.lead();
    let ids: Vec<String> = lead.get("/pupils").expect(200)["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|line| text(&line["id"]))
        .collect();
    members(&lead, &group, "2026-11-30", &[&ids[0]]);
    let mut mine = pulled(&school, "teacher");
    assert_eq!(mine.of("pupil").len(), 2);
    school.server.stop_and_restart("2026-11-30");
    mine.client = again(&school, "teacher");
    mine.pull(500);
    assert_eq!((mine.of("pupil").len(), mine.of("group_member").len()), (1, 1));
}

#[test]
fn another_epoch_is_begun_anew() {
    let (school, _) = School::with_lessons();
    let mut mine = pulled(&school, "teacher");
    let known = std::mem::replace(&mut mine.epoch, new_id());
    let page = mine.page(500).expect(200);
    assert_eq!(
        (text(&page["epoch"]), page["reset"].as_array().unwrap().len(), &page["rows"]),
        (known, 2, &json!([]))
    );
    assert_eq!((mine.take(&page), mine.records.len()), (true, 0));
}

#[test]
fn departures_are_purged_after_their_time_and_an_old_device_reads_anew() {
    let (mut school, group) = School::with_lessons();
    let lead = school.lead();
    let mut old = pulled(&school, "teacher");
    let record = lead.get(&format!("/groups/{group}/lesson-records")).expect(200)["items"][0].clone();
    let path = format!("/lesson-records/{}", text(&record["id"]));
    lead.delete(&path, &lead.get(&path).etag()).expect(204);
    let mut new = pulled(&school, "teacher");
    // More than 400 days on, what is no longer kept is dropped as the server starts.
    school.server.stop_and_restart("2028-01-10");
    (old.client, new.client) = (again(&school, "teacher"), again(&school, "teacher"));
    let page = old.page(500).expect(200);
    assert!(page["reset"].as_array().unwrap().contains(&json!(format!("group:{group}"))));
    old.take(&page);
    old.pull(500);
    new.pull(500);
    assert_eq!((held(&old), old.of("lesson_record").len()), (held(&new), 2));
}

/// Signs someone in anew, after a restart on another day.
fn again(school: &School, who: &str) -> Client {
    let signed_in = school.sign_in(&School::email(who));
    school.nobody().with_token(signed_in["access_token"].as_str().unwrap())
}
