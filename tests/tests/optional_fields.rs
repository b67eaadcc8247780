//! Optional fields of pupils: off until somebody says what for, dated, and gone when switched off.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Answer, Client, School, Value, column, json, text};

fn purpose() -> Value {
    json!({"purpose": "Report of gaps to the governors", "review_on": "2027-07-31"})
}

fn switch_on(lead: &Client, field: &str) -> Answer {
    lead.call("PUT", &format!("/optional-fields/{field}"), Some(&purpose()))
}

fn listed(who: &Client, field: &str) -> Value {
    let all = who.get("/optional-fields").expect(200)["items"].clone();
    all.as_array().unwrap().iter().find(|one| one["field"] == field).unwrap().clone()
}

fn set(who: &Client, pupil: &str, field: &str, body: Value) -> Answer {
    let etag = who.get(&format!("/pupils/{pupil}")).etag();
    who.put(&format!("/pupils/{pupil}/fields/{field}"), &etag, body)
}

/// A field of a pupil, as of a day.
fn field(who: &Client, pupil: &str, field: &str, on: &str) -> Value {
    let seen = who.get(&format!("/pupils/{pupil}/fields?on={on}")).expect(200);
    seen["fields"].as_array().unwrap().iter().find(|one| one["field"] == field).cloned().unwrap_or_default()
}

fn switch_off(lead: &Client, field: &str, remove: usize) -> Answer {
    let etag = text(&listed(lead, field)["on"]["etag"]);
    lead.delete(&format!("/optional-fields/{field}?remove={remove}"), &etag)
}

#[test]
fn nothing_is_recorded_until_somebody_says_what_for() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let pupil = school.pupils(&[("Zoe", "Alder")])["Zoe"].clone();
    let all = lead.get("/optional-fields").expect(200)["items"].clone();
    assert_eq!(column(&all, "field"), ["sex", "sen", "eal", "disadvantage"]);
    assert!(all.as_array().unwrap().iter().all(|one| one["on"].is_null()));
    assert_eq!(column(&all[1]["values"], "code"), ["N", "K", "E", "U"]);
    let refused = set(&lead, &pupil, "sen", json!({"value": "K"}));
    refused.problem(409, "conflict");
    assert!(text(&refused.json()["detail"]).starts_with("sen is off"), "{}", refused.text);
    assert_eq!(lead.get(&format!("/pupils/{pupil}/fields")).expect(200)["fields"], json!([]));
    let put = |body: Value| lead.call("PUT", "/optional-fields/sen", Some(&body)).problem(422, "invalid");
    assert_eq!(put(json!({"review_on": "2027-07-31"})).len(), 1);
    assert!(put(json!({"purpose": "   ", "review_on": "2027-07-31"}))[0].starts_with("purpose: "));
    let thin = put(json!({"purpose": "SEN report", "review_on": "2027-07-31"}));
    assert_eq!(thin, ["purpose: say in words what it is recorded for, at least three"]);
    let past = put(json!({"purpose": "Report of gaps to the governors", "review_on": "2026-11-25"}));
    assert_eq!(past, ["review_on: must be a day to come"]);
    assert!(listed(&lead, "sen")["on"].is_null());
    // A kind of need is no field of any pack.
    switch_on(&lead, "sen_need").problem(404, "not_found");
    let on = switch_on(&lead, "sen");
    let body = on.expect(200);
    assert_eq!((&body["on"]["purpose"], &body["on"]["review_due"]), (&purpose()["purpose"], &json!(false)));
    assert_eq!(body["on"]["switched_on_by"], school.staff_id("lead"));
    assert_eq!(listed(&lead, "sen"), body);
    // To say anew what it is for needs the version read.
    switch_on(&lead, "sen").problem(428, "precondition_required");
    lead.put("/optional-fields/sen", "\"v1\"", purpose()).problem(412, "stale");
    lead.put("/optional-fields/sen", &on.etag(), purpose()).expect(200);
    assert_eq!(
        set(&lead, &pupil, "sen", json!({"value": "SpLD"})).problem(422, "invalid"),
        ["value: must be one of N, K, E, U"]
    );
    set(&lead, &pupil, "sen", json!({})).problem(422, "invalid");
    set(&lead, &pupil, "sen", json!({"value": "K"})).expect(200);
    set(&lead, &pupil, "sex", json!({"value": "F"})).problem(409, "conflict");
    // Another school has its own.
    assert!(listed(&school.neighbour(), "sen")["on"].is_null());
}

#[test]
fn a_value_has_its_days_and_unknown_is_not_no_nor_not_recorded() {
    let school = School::start();
    school.calendar();
    let (lead, office) = (school.lead(), school.staff("office"));
    let pupil = school.pupils(&[("Zoe", "Alder")])["Zoe"].clone();
    switch_on(&lead, "sen").expect(200);
    let value = |on: &str| field(&lead, &pupil, "sen", on)["value"].clone();
    assert_eq!(value("2026-11-25"), Value::Null, "nothing is recorded");
    set(&office, &pupil, "sen", json!({"value": "U", "from": "2026-09-01"})).expect(200);
    set(&office, &pupil, "sen", json!({"value": "N", "from": "2026-10-05"})).expect(200);
    let last = set(&lead, &pupil, "sen", json!({"value": "K", "from": "2026-11-02"}));
    last.expect(200);
    let days = ["2026-08-31", "2026-09-01", "2026-10-04", "2026-10-05", "2026-11-01", "2026-11-02"];
    let wanted = [Value::Null, json!("U"), json!("U"), json!("N"), json!("N"), json!("K")];
    assert_eq!(days.map(value), wanted);
    assert_eq!(field(&lead, &pupil, "sen", "2026-10-04")["value_name"], "Not known");
    // A correction of the past counts from its day on; what was said before stays on record.
    set(&lead, &pupil, "sen", json!({"value": "E", "from": "2026-10-19"})).expect(200);
    let now = field(&lead, &pupil, "sen", "2026-11-25");
    assert_eq!(
        now["days"],
        json!([{"from": "2026-09-01", "until": "2026-10-04", "value": "U"},
               {"from": "2026-10-05", "until": "2026-10-18", "value": "N"},
               {"from": "2026-10-19", "until": null, "value": "E"}])
    );
    assert_eq!(column(&now["words"], "value"), ["U", "N", "K", "E"]);
    assert_eq!(now["words"][0]["entered_by"], school.staff_id("office"));
    // Taken back, nothing is recorded.
    set(&lead, &pupil, "sen", json!({"value": null, "from": "2026-11-25"})).expect(200);
    assert_eq!([value("2026-11-24"), value("2026-11-25")], [json!("E"), Value::Null]);
    // Who read an earlier version is told so.
    let path = format!("/pupils/{pupil}/fields/sen");
    lead.put(&path, &last.etag(), json!({"value": "N"})).problem(412, "stale");
    // Each reading is written down, and so is each change; neither says what it was about.
    let audited = column(&lead.get("/audit-entries?limit=500").expect(200)["items"], "operation");
    let count = |operation: &str| audited.iter().filter(|one| *one == operation).count();
    assert_eq!([count("pupil.fields"), count("pupil.set_field")], [11, 5]);
    assert_eq!(count("optional_field.switch_on"), 1);
}

#[test]
fn whoever_teaches_sees_nothing_of_it() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let (sequence, _) = school.sequence();
    let pupil = school.pupils(&[("Zoe", "Alder")])["Zoe"].clone();
    school.group("Alder", &sequence, &[&pupil]);
    switch_on(&lead, "sen").expect(200);
    set(&lead, &pupil, "sen", json!({"value": "K"})).expect(200);
    let path = format!("/pupils/{pupil}/fields");
    let etag = lead.get(&path).etag();
    for role in ["teacher", "assistant", "cover", "administrator"] {
        let who = school.staff(role);
        who.get(&path).problem(404, "not_found");
        who.put(&format!("{path}/sen"), &etag, json!({"value": "N"})).problem(404, "not_found");
        who.get("/optional-fields").problem(403, "forbidden");
    }
    // The teacher's own page of the pupil, and the head's, hold none of it.
    for role in ["teacher", "head"] {
        let page = school.staff(role).get(&format!("/pupils/{pupil}")).expect(200);
        assert!(page.as_object().unwrap().keys().all(|key| !key.contains("field")), "{page}");
    }
    assert_eq!(school.staff("head").get(&path).expect(200)["fields"][0]["value"], "K");
    school.staff("head").put(&format!("{path}/sen"), &etag, json!({"value": "N"})).problem(403, "forbidden");
    school.staff("office").put(&format!("{path}/sen"), &etag, json!({"value": "N"})).expect(200);
}

#[test]
fn switching_off_removes_every_value_once_their_number_is_given() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder"), ("Ida", "Alder")]);
    switch_on(&lead, "sen").expect(200);
    switch_on(&lead, "sex").expect(200);
    set(&lead, &pupils["Zoe"], "sen", json!({"value": "K"})).expect(200);
    set(&lead, &pupils["Zoe"], "sen", json!({"value": "E", "from": "2026-11-26"})).expect(200);
    set(&lead, &pupils["Max"], "sen", json!({"value": "N"})).expect(200);
    set(&lead, &pupils["Max"], "sex", json!({"value": "M"})).expect(200);
    // Ida has two records, of which one is kept: hers say it too.
    let again = json!({"given_name": "Ida", "family_name": "Bell", "date_of_birth": "2020-05-31"});
    let other = text(&lead.post("/pupils", again).expect(201)["id"]);
    set(&lead, &other, "sen", json!({"value": "K"})).expect(200);
    let same = json!({"verdict": "same", "pupil_id": pupils["Ida"], "other_id": other});
    let decision = lead.post("/pupil-decisions", same).expect(201);
    for number in [0, 2, 4] {
        assert_eq!(
            switch_off(&lead, "sen", number).problem(422, "invalid"),
            ["remove: values of 3 pupils are recorded"]
        );
    }
    lead.call("DELETE", "/optional-fields/sen?remove=3", None).problem(428, "precondition_required");
    lead.delete("/optional-fields/sen?remove=3", "\"v1\"").problem(412, "stale");
    assert_eq!(field(&lead, &pupils["Zoe"], "sen", "2026-11-25")["value"], "K");
    assert_eq!(switch_off(&lead, "sen", 3).expect(200), json!({"field": "sen", "removed_of": 3}));
    assert!(listed(&lead, "sen")["on"].is_null());
    assert_eq!(field(&lead, &pupils["Zoe"], "sen", "2026-11-25"), Value::Null);
    lead.delete("/optional-fields/sen", "\"v1\"").problem(404, "not_found");
    // On again it starts from nothing, also in the record that comes back.
    switch_on(&lead, "sen").expect(200);
    let path = format!("/pupil-decisions/{}", text(&decision["id"]));
    lead.delete(&path, &text(&decision["etag"])).expect(204);
    for pupil in [&pupils["Zoe"], &pupils["Max"], &pupils["Ida"], &other] {
        let seen = field(&lead, pupil, "sen", "2026-11-26");
        assert_eq!((&seen["value"], &seen["words"]), (&Value::Null, &json!([])), "{pupil}");
    }
    // The other field is as it was.
    assert_eq!(field(&lead, &pupils["Max"], "sex", "2026-11-25")["value"], "M");
}

#[test]
fn values_follow_a_record_that_is_merged_and_come_back_apart() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder")]);
    let (kept, other) = (&pupils["Zoe"], &pupils["Max"]);
    for name in ["sen", "sex"] {
        switch_on(&lead, name).expect(200);
    }
    set(&lead, kept, "sex", json!({"value": "F", "from": "2026-09-01"})).expect(200);
    set(&lead, other, "sex", json!({"value": "U", "from": "2026-10-05"})).expect(200);
    set(&lead, other, "sen", json!({"value": "K", "from": "2026-10-05"})).expect(200);
    let all = |pupil: &str| lead.get(&format!("/pupils/{pupil}/fields")).expect(200)["fields"].clone();
    let before = [all(kept), all(other)];
    let same = json!({"verdict": "same", "pupil_id": kept, "other_id": other});
    let merge = || lead.post("/pupil-decisions", same.clone()).expect(201);
    let take_back = |decision: &Value| {
        lead.delete(&format!("/pupil-decisions/{}", text(&decision["id"])), &text(&decision["etag"]))
    };
    let decision = merge();
    // Of a field both speak of, the record that is kept counts; the rest follows.
    assert_eq!(all(kept), json!([before[0][0], before[1][1]]));
    take_back(&decision).expect(204);
    assert_eq!([all(kept), all(other)], before);
    // Said of the child since: the two stay one.
    let decision = merge();
    set(&lead, kept, "sen", json!({"value": "E"})).expect(200);
    take_back(&decision).problem(409, "conflict");
}
