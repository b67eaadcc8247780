//! Classes and their adults.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{School, TODAY, column, json, text};

#[test]
fn a_class_is_added_once_and_read_back() {
    let school = School::start();
    let lead = school.lead();
    let made = lead.post("/classes", json!({"name": "Alder"}));
    let class = made.expect(201);
    assert_eq!(made.header("Location"), format!("/api/v1/classes/{}", text(&class["id"])));
    for spelling in ["alder", " ALDER "] {
        let taken = lead.post("/classes", json!({"name": spelling})).problem(409, "conflict");
        assert_eq!(taken, ["name: belongs to another class"]);
    }
    lead.post("/classes", json!({"name": "Alder 2"})).expect(201);
    assert_eq!(column(&lead.get("/classes").expect(200)["items"], "name"), ["Alder", "Alder 2"]);
    let read = lead.get(&format!("/classes/{}", text(&class["id"])));
    let whole = json!({"id": class["id"], "name": "Alder", "adults": [], "pupils": []});
    assert_eq!((read.expect(200), read.etag()), (whole, made.etag()));
}

#[test]
fn adults_of_a_class_are_replaced_whole_and_with_their_days() {
    let school = School::start();
    let lead = school.lead();
    let made = lead.post("/classes", json!({"name": "Alder"}));
    let path = format!("/classes/{}", text(&made.expect(201)["id"]));
    let (one, two) = (school.staff_id("teacher"), school.staff_id("assistant"));
    let adults = format!("{path}/adults");
    let body = json!({"adults": [{"staff_id": one, "from": "2026-09-01", "until": "2026-10-23"},
                                 {"staff_id": one, "from": "2026-11-02"},
                                 {"staff_id": two, "from": TODAY, "until": TODAY}]});
    lead.call("PUT", &adults, Some(&body)).problem(428, "precondition_required");
    let set = lead.put(&adults, &made.etag(), body.clone());
    let days = |list: &plumbline_tests::Value| {
        column(list, "from").into_iter().zip(column(list, "until")).collect::<Vec<_>>()
    };
    let expected = [("2026-09-01", "2026-10-23"), ("2026-11-02", ""), (TODAY, TODAY)];
    let expected = expected.map(|(from, until)| (from.to_owned(), until.to_owned()));
    assert_eq!(days(&set.expect(200)["items"]), expected);
    let read = lead.get(&path);
    assert_eq!((days(&read.expect(200)["adults"]), read.etag()), (expected.to_vec(), set.etag()));
    lead.put(&adults, &made.etag(), json!({"adults": []})).problem(412, "stale");
    lead.put(&adults, &set.etag(), json!({"adults": []})).expect(200);
    assert_eq!(lead.get(&path).expect(200)["adults"], json!([]));
}

#[test]
fn assignments_that_cannot_be_are_refused_with_their_field() {
    let school = School::start();
    let lead = school.lead();
    let made = lead.post("/classes", json!({"name": "Alder"}));
    let path = format!("/classes/{}", text(&made.expect(201)["id"]));
    let teacher = school.staff_id("teacher");
    let refused = |adults: plumbline_tests::Value| {
        lead.put(&format!("{path}/adults"), &made.etag(), json!({"adults": adults})).problem(422, "invalid")
    };
    assert_eq!(
        refused(json!([{"staff_id": teacher, "from": "2026-09-02", "until": "2026-09-01"}])),
        ["adults[0].until: lies before the first day"]
    );
    assert_eq!(
        refused(
            json!([{"staff_id": teacher, "from": "2026-09-01"}, {"staff_id": teacher, "from": "2026-11-02"}])
        ),
        ["adults[1].from: overlaps another assignment of the same adult"]
    );
    assert_eq!(
        refused(json!([{"staff_id": "0199f2c4-0000-7000-8000-000000000006", "from": "2026-09-01"}])),
        ["adults: one of them is not of this school's staff"]
    );
    assert_eq!(lead.get(&path).expect(200)["adults"], json!([]));
}

#[test]
fn an_adult_sees_the_classes_of_today_only() {
    let school = School::start();
    let lead = school.lead();
    let teacher = school.staff("teacher");
    for (name, from, until) in [
        ("Alder", "2026-09-01", None),
        ("Birch", "2026-09-01", Some("2026-11-24")),
        ("Cedar", "2026-11-26", None),
        ("Damson", TODAY, Some(TODAY)),
    ] {
        let made = lead.post("/classes", json!({"name": name}));
        let path = format!("/classes/{}", text(&made.expect(201)["id"]));
        let adult = json!({"staff_id": school.staff_id("teacher"), "from": from, "until": until});
        lead.put(&format!("{path}/adults"), &made.etag(), json!({"adults": [adult]})).expect(200);
        let seen = teacher.get(&path);
        if ["Alder", "Damson"].contains(&name) {
            seen.expect(200);
        } else {
            seen.problem(404, "not_found");
        }
    }
    assert_eq!(column(&teacher.get("/classes").expect(200)["items"], "name"), ["Alder", "Damson"]);
    assert_eq!(
        column(&lead.get("/classes").expect(200)["items"], "name"),
        ["Alder", "Birch", "Cedar", "Damson"]
    );
}
