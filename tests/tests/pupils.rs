//! Pupils: adding, reading, changing, finding, leaving.
#![allow(clippy::unwrap_used)]

use std::collections::BTreeSet;

use plumbline_tests::{Client, School, TODAY, Value, column, json, text};

fn class(who: &Client, name: &str) -> String {
    text(&who.post("/classes", json!({"name": name})).expect(201)["id"])
}

/// Names in the list that a search gives.
fn found(who: &Client, find: &str) -> Vec<String> {
    column(&who.get(&format!("/pupils?find={}", escaped(find))).expect(200)["items"], "name")
}

fn escaped(text: &str) -> String {
    text.bytes().map(|byte| format!("%{byte:02X}")).collect()
}

fn classes_of(pupil: &Value) -> Vec<String> {
    column(&pupil["classes"], "name")
}

#[test]
fn a_pupil_is_added_as_typed_and_read_back() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let alder = class(&lead, "Alder");
    let made = lead.post(
        "/pupils",
        json!({"given_name": " Zoë ", "family_name": "O’Neill", "preferred_name": "Zo", "label": "plays flute",
               "pupil_ref": "A1043", "upn": "b801200005001", "date_of_birth": "2020-02-29", "year_group": "Y1", "class_id": alder,
               "from": "2026-09-01"}),
    );
    let pupil = made.expect(201);
    assert_eq!(made.header("Location"), format!("/api/v1/pupils/{}", text(&pupil["id"])));
    let expected = json!({
        "id": pupil["id"], "name": "Zo O’Neill", "given_name": "Zoë", "family_name": "O’Neill",
        "preferred_name": "Zo", "label": "plays flute", "pupil_ref": "A1043", "upn": "••••••••••001", "date_of_birth": "2020-02-29",
        "left_on": null, "year_group": "year_1", "classes": [{"id": alder, "name": "Alder"}], "groups": []});
    assert_eq!(pupil, expected);
    let read = lead.get(&format!("/pupils/{}", text(&pupil["id"])));
    assert_eq!((read.expect(200), read.etag()), (expected, made.etag()));
    // The least there can be.
    let least = lead.post("/pupils", json!({"given_name": "Sukarno"})).expect(201);
    assert_eq!(
        (&least["name"], &least["year_group"], &least["classes"]),
        (&json!("Sukarno"), &Value::Null, &json!([]))
    );
}

#[test]
fn what_cannot_be_a_pupil_is_refused_with_its_field() {
    let school = School::start();
    let lead = school.lead();
    let refused = |body: Value| lead.post("/pupils", body).problem(422, "invalid");
    let is_about = |errors: Vec<String>, field: &str| {
        assert!(errors[0].starts_with(&format!("{field}: ")), "{errors:?}");
    };
    is_about(refused(json!({"given_name": " "})), "given_name");
    is_about(refused(json!({"given_name": "Zo\u{0}e"})), "given_name");
    is_about(refused(json!({"given_name": "x".repeat(101)})), "given_name");
    is_about(refused(json!({"given_name": "Zoe", "nickname": "Zo"})), "nickname");
    is_about(refused(json!({"given_name": "Zoe", "date_of_birth": "2021-02-29"})), "date_of_birth");
    let tomorrow = refused(json!({"given_name": "Zoe", "date_of_birth": "2026-11-26"}));
    assert_eq!(tomorrow, ["date_of_birth: is in the future"]);
    let old = refused(json!({"given_name": "Zoe", "date_of_birth": "1990-01-01"}));
    assert_eq!(old, ["date_of_birth: is more than 20 years ago"]);
    let year = refused(json!({"given_name": "Zoe", "year_group": "Year 9"}));
    assert_eq!(year, ["year_group: give one of: Nursery, Reception, Year 1, Year 2"]);
    // No school year has been saved.
    is_about(refused(json!({"given_name": "Zoe", "year_group": "Year 1"})), "year_group");
    let nowhere = json!({"given_name": "Zoe", "class_id": "0199f2c4-0000-7000-8000-000000000006"});
    assert_eq!(refused(nowhere), ["class_id: is not a class of this school"]);
    assert_eq!(lead.get("/pupils").expect(200)["items"], json!([]));
}

#[test]
fn a_patch_changes_what_it_names_and_null_clears() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let made = lead.post(
        "/pupils",
        json!({"given_name": "Zoë", "family_name": "Bell", "preferred_name": "Zo", "pupil_ref": "A1",
               "date_of_birth": "2020-05-31", "year_group": "Year 1"}),
    );
    let before = made.expect(201);
    let path = format!("/pupils/{}", text(&before["id"]));
    let patched = lead.patch(&path, &made.etag(), json!({"preferred_name": null, "family_name": "Hart"}));
    let after = patched.expect(200);
    let mut expected = before.clone();
    expected["preferred_name"] = Value::Null;
    expected["family_name"] = json!("Hart");
    expected["name"] = json!("Zoë Hart");
    assert_eq!(after, expected);
    // Nothing named, nothing changed.
    let nothing = lead.patch(&path, &patched.etag(), json!({}));
    assert_eq!(nothing.expect(200), expected);
    let cleared = lead.patch(
        &path,
        &nothing.etag(),
        json!({"family_name": null, "pupil_ref": null, "date_of_birth": null, "label": "tall"}),
    );
    let cleared = cleared.expect(200);
    assert_eq!(
        (&cleared["name"], &cleared["label"], &cleared["year_group"]),
        (&json!("Zoë"), &json!("tall"), &json!("year_1"))
    );
    assert_eq!((&cleared["pupil_ref"], &cleared["date_of_birth"]), (&Value::Null, &Value::Null));
    assert_eq!(lead.get(&path).expect(200), cleared);
}

#[test]
fn an_edit_says_which_version_it_is_based_on() {
    let school = School::start();
    let lead = school.lead();
    let made = lead.post("/pupils", json!({"given_name": "Zoë"}));
    let path = format!("/pupils/{}", text(&made.expect(201)["id"]));
    let body = json!({"given_name": "Max"});
    lead.call("PATCH", &path, Some(&body)).problem(428, "precondition_required");
    lead.patch(&path, &made.etag(), body).expect(200);
    lead.patch(&path, &made.etag(), json!({"given_name": "Ida"})).problem(412, "stale");
    assert_eq!(lead.get(&path).expect(200)["given_name"], "Max");
}

#[test]
fn a_reference_belongs_to_one_pupil() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    lead.post("/pupils", json!({"given_name": "Zoë", "pupil_ref": "A1"})).expect(201);
    let taken = ["pupil_ref: belongs to another pupil"];
    let second = lead.post("/pupils", json!({"given_name": "Max", "pupil_ref": "A1"}));
    assert_eq!(second.problem(409, "conflict"), taken);
    let max = lead.post("/pupils", json!({"given_name": "Max"}));
    let path = format!("/pupils/{}", text(&max.expect(201)["id"]));
    assert_eq!(lead.patch(&path, &max.etag(), json!({"pupil_ref": "A1"})).problem(409, "conflict"), taken);
    assert_eq!(lead.get("/pupils").expect(200)["items"].as_array().unwrap().len(), 2);
}

#[test]
fn a_move_between_classes_is_dated() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Rowan")]);
    let classes = lead.get("/classes").expect(200);
    let rowan = text(&classes["items"][1]["id"]);
    let path = format!("/pupils/{}", pupils["Zoe"]);
    let first = lead.get(&path);
    // Next Monday: today she is where she was.
    let moved = lead.patch(&path, &first.etag(), json!({"class_id": rowan, "from": "2026-11-30"}));
    assert_eq!(classes_of(&moved.expect(200)), ["Alder"]);
    let in_class = |class: &Value| {
        let body = lead.get(&format!("/classes/{}", text(&class["id"]))).expect(200);
        column(&body["pupils"], "name")
    };
    assert_eq!(in_class(&classes["items"][0]), ["Zoe Bell"]);
    assert_eq!(in_class(&classes["items"][1]), ["Max Bell"]);
    // Today instead: she leaves the one list and joins the other.
    let moved = lead.patch(&path, &moved.etag(), json!({"class_id": rowan, "from": TODAY}));
    assert_eq!(classes_of(&moved.expect(200)), ["Rowan"]);
    assert_eq!(in_class(&classes["items"][0]), Vec::<String>::new());
    assert_eq!(in_class(&classes["items"][1]), ["Max Bell", "Zoe Bell"]);
    // And out of every class.
    let out = lead.patch(&path, &moved.etag(), json!({"class_id": null}));
    assert_eq!(classes_of(&out.expect(200)), Vec::<String>::new());
    assert_eq!(in_class(&classes["items"][1]), ["Max Bell"]);
}

#[test]
fn a_leaver_goes_from_lists_and_groups_and_stays_in_the_records() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let (sequence, content) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder")]);
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"], &pupils["Max"]]);
    let lesson = text(&content["steps"][0]["lessons"][0]["id"]);
    let logged = school.log_lesson(&lead, &group, "2026-11-19", &lesson, "delivered", &json!({}));
    let record = format!("/lesson-records/{}", text(&logged.expect(201)["id"]));
    let path = format!("/pupils/{}", pupils["Zoe"]);
    let etag = lead.get(&path).etag();
    // Friday was the last day.
    let left = lead.patch(&path, &etag, json!({"left_on": "2026-11-20"})).expect(200);
    assert_eq!((&left["classes"], &left["groups"]), (&json!([]), &json!([])));
    let names = |path: &str, list: &str| column(&lead.get(path).expect(200)[list], "name");
    assert_eq!(names("/pupils", "items"), ["Max Bell"]);
    assert_eq!(names("/pupils?leavers=true", "items"), ["Max Bell", "Zoe Bell"]);
    let class = text(&lead.get("/classes").expect(200)["items"][0]["id"]);
    assert_eq!(names(&format!("/classes/{class}"), "pupils"), ["Max Bell"]);
    assert_eq!(names(&format!("/groups/{group}"), "members"), ["Max Bell"]);
    assert_eq!(names(&format!("/groups/{group}?on=2026-11-20"), "members"), ["Max Bell", "Zoe Bell"]);
    assert_eq!(lead.get(&record).expect(200)["register"].as_array().unwrap().len(), 2);
    let learned = lead.get(&format!("{path}/coverage")).expect(200);
    assert_eq!((&learned["lessons_attended"], learned["items"].as_array().unwrap().len()), (&json!(1), 2));
    // From Monday on she is in no register.
    let lesson = text(&content["steps"][0]["lessons"][1]["id"]);
    let logged = school.log_lesson(&lead, &group, "2026-11-23", &lesson, "delivered", &json!({})).expect(201);
    assert_eq!(column(&logged["register"], "pupil_id"), [pupils["Max"].clone()]);
}

#[test]
fn a_search_sees_through_accents_apostrophes_hyphens_spaces_and_order() {
    let school = School::start();
    let lead = school.lead();
    for (given, family, preferred) in [
        ("Zoë", "O’Neill", None),
        ("Aleksandra", "Nowak-Reed", Some("Ola")),
        ("Pieter", "van der Meer", None),
        ("Łukasz", "Žák", None),
    ] {
        let body = json!({"given_name": given, "family_name": family, "preferred_name": preferred});
        lead.post("/pupils", body).expect(201);
    }
    // The accent typed as its own character is the same letter.
    for typed in
        ["oneill", "o neill", "O’Neill", "O'NEILL", "zoe", "Zoe\u{308}", "zoë o'neill", "O'Neill, Zoë"]
    {
        assert_eq!(found(&lead, typed), ["Zoë O’Neill"], "{typed}");
    }
    for typed in [
        "nowak",
        "Nowak Reed",
        "ola",
        "Ola Nowak",
        "nowak-reed ola",
        "Aleksandra Nowak",
        "nowakreed aleksandra",
    ] {
        assert_eq!(found(&lead, typed), ["Ola Nowak-Reed"], "{typed}");
    }
    assert_eq!(found(&lead, "vandermeer"), ["Pieter van der Meer"]);
    assert_eq!(found(&lead, "Lukasz"), ["Łukasz Žák"]);
    assert_eq!(found(&lead, "zak"), ["Łukasz Žák"]);
    assert_eq!(found(&lead, "olga"), Vec::<String>::new());
    // What a database takes for "anything" is a letter like any other.
    assert_eq!(found(&lead, "z_e").len(), 0);
    assert_eq!(found(&lead, "n%k").len(), 0);
}

#[test]
fn a_search_finds_a_reference_whole_and_only_whole() {
    let school = School::start();
    let lead = school.lead();
    lead.post("/pupils", json!({"given_name": "Zoë", "pupil_ref": "A1043"})).expect(201);
    lead.post("/pupils", json!({"given_name": "Max", "pupil_ref": "A104"})).expect(201);
    assert_eq!(found(&lead, "A104"), ["Max"]);
    assert_eq!(found(&lead, "A10"), Vec::<String>::new());
    assert_eq!(found(&lead, "?"), Vec::<String>::new(), "no letter to look for is not everybody");
    assert_eq!(found(&lead, " "), ["Max", "Zoë"]);
    let nul = lead.get("/pupils?find=%00").problem(422, "invalid");
    assert_eq!(nul, ["find: must not contain control characters"]);
}

#[test]
fn paging_gives_each_of_250_pupils_exactly_once() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let mut csv = String::from("pupil_ref,given_name,family_name,date_of_birth\n");
    for n in 0..250 {
        // Fifty names five times over: the order must not hang on the name alone.
        csv.push_str(&format!("R{n},Pupil {},Bell,2020-05-31\n", n % 50));
    }
    let preview = lead.post_csv("/roster-imports", csv.as_bytes()).expect(201);
    lead.post(&format!("/roster-imports/{}/confirm", text(&preview["id"])), json!({"from": "2026-09-01"}))
        .expect(200);
    let (mut ids, mut pages, mut path) = (Vec::new(), 0, String::from("/pupils?limit=50"));
    loop {
        let page = lead.get(&path).expect(200);
        let items = column(&page["items"], "id");
        assert!(items.len() <= 50);
        ids.extend(items);
        pages += 1;
        match page["next"].as_str() {
            Some(next) => path = format!("/pupils?limit=50&cursor={next}"),
            None => break,
        }
        assert!(pages < 10, "the pages go on and on");
    }
    assert_eq!((ids.len(), ids.iter().collect::<BTreeSet<_>>().len()), (250, 250));
    assert_eq!(pages, 5, "the fifth page is full and says that it is the last");
    let whole = column(&lead.get("/pupils?limit=500").expect(200)["items"], "id");
    assert_eq!(ids, whole);
}

#[test]
fn namesakes_in_a_list_carry_what_tells_them_apart() {
    let school = School::start();
    let lead = school.lead();
    for (given, label, born) in [
        ("Leo", Some("plays flute"), "2020-05-01"),
        ("Leo", None, "2020-05-02"),
        ("Ida", None, "2020-05-03"),
        ("Ida", None, "2020-06-03"),
        ("Max", None, "2020-05-03"),
    ] {
        let body = json!({"given_name": given, "family_name": "Hart", "label": label, "date_of_birth": born});
        lead.post("/pupils", body).expect(201);
    }
    let listed = lead.get("/pupils").expect(200);
    let mut marks: Vec<(String, String)> =
        column(&listed["items"], "name").into_iter().zip(column(&listed["items"], "apart")).collect();
    marks.sort();
    let expected = [
        ("Ida Hart", "3 June"),
        ("Ida Hart", "3 May"),
        ("Leo Hart", ""),
        ("Leo Hart", "plays flute"),
        ("Max Hart", ""),
    ];
    assert_eq!(marks, expected.map(|(name, mark)| (name.to_owned(), mark.to_owned())));
}

#[test]
fn reading_a_pupil_is_in_the_audit_log_without_the_pupil() {
    let school = School::start();
    school.calendar();
    let (sequence, _) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder")]);
    school.group("Alder", &sequence, &[&pupils["Zoe"]]);
    let teacher = school.staff("teacher");
    teacher.get(&format!("/pupils/{}", pupils["Zoe"])).expect(200);
    teacher.get(&format!("/pupils/{}/coverage", pupils["Zoe"])).expect(200);
    let log = school.staff("administrator").get("/audit-entries?limit=500");
    let entries = log.expect(200)["items"].clone();
    let latest: Vec<_> = entries.as_array().unwrap().iter().take(2).cloned().collect();
    for (entry, operation) in latest.iter().zip(["pupil.read_coverage", "pupil.read"]) {
        assert_eq!(entry["operation"], operation);
        assert_eq!(entry["subject_kind"], "pupil");
        assert_eq!(entry["staff_id"], school.staff_id("teacher"));
    }
    assert!(!log.text.contains(&pupils["Zoe"]) && !log.text.contains("Zoe"));
    let seqs: Vec<i64> = entries.as_array().unwrap().iter().map(|e| e["seq"].as_i64().unwrap()).collect();
    let count = i64::try_from(seqs.len()).unwrap();
    assert_eq!(seqs, (1..=count).rev().collect::<Vec<_>>(), "from 1 without a gap, latest first");
    // One who may not read leaves no entry of a reading.
    school.staff("teacher:2").get(&format!("/pupils/{}", pupils["Zoe"])).problem(404, "not_found");
    let after = school.staff("administrator").get("/audit-entries?limit=500").expect(200);
    let reads = |list: &Value| column(list, "operation").iter().filter(|o| *o == "pupil.read").count();
    assert_eq!(reads(&after["items"]), reads(&entries));
}

#[test]
fn a_upn_is_checked_masked_unique_and_kept_with_those_of_before() {
    let school = School::start();
    let lead = school.lead();
    let wrong = json!({"given_name": "Zoe", "upn": "Q207000016049"});
    assert!(lead.post("/pupils", wrong).problem(422, "invalid")[0].starts_with("upn: the check letter"));
    let zoe = lead.post("/pupils", json!({"given_name": "Zoe", "upn": "M80120000500A"}));
    let path = format!("/pupils/{}", text(&zoe.expect(201)["id"]));
    // A temporary number becomes a permanent one.
    let changed = lead.patch(&path, &zoe.etag(), json!({"upn": "P207000016049"}));
    assert_eq!(changed.expect(200)["upn"], "••••••••••049");
    assert!(!changed.text.contains("P207000016049"));
    let taken = json!({"given_name": "Max", "upn": "P207000016049"});
    assert!(lead.post("/pupils", taken).problem(409, "conflict")[0].starts_with("upn: belongs"));
    // The one of before is nobody else's either, and can come back.
    let back = lead.patch(&path, &changed.etag(), json!({"upn": "M80120000500A"}));
    assert_eq!(back.expect(200)["upn"], "••••••••••00A");
    assert_eq!(lead.patch(&path, &back.etag(), json!({"upn": null})).expect(200)["upn"], Value::Null);
}

#[test]
fn null_clears_what_can_be_cleared_and_is_refused_elsewhere() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let body = json!({"given_name": "Zoe", "family_name": "Bell", "label": "plays", "year_group": "Year 1"});
    let path = format!("/pupils/{}", lead.post("/pupils", body).expect(201)["id"].as_str().unwrap());
    let patch = |body: Value| lead.patch(&path, &lead.get(&path).etag(), body);
    let refused = patch(json!({"year_group": null})).problem(422, "invalid");
    assert_eq!(refused, ["year_group: expected text, found null"]);
    let refused = patch(json!({"given_name": null, "family_name": null})).problem(422, "invalid");
    assert_eq!(refused, ["given_name: a pupil needs a name"]);
    // One of the two names may be the only one, and is then needed.
    let cleared = patch(json!({"given_name": null, "label": null})).expect(200);
    assert_eq!((&cleared["name"], &cleared["label"]), (&json!("Bell"), &Value::Null));
    assert_eq!(cleared["year_group"], "year_1");
    assert_eq!(
        patch(json!({"family_name": null})).problem(422, "invalid"),
        ["family_name: a pupil needs a name"]
    );
    patch(json!({"given_name": "Zoe", "family_name": null})).expect(200);
    assert_eq!(
        patch(json!({"given_name": null})).problem(422, "invalid"),
        ["given_name: a pupil needs a name"]
    );
}
