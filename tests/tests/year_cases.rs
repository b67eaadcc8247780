//! Hard cases of the teaching year with their right answers, from the files of `tests/cases`.
#![allow(clippy::unwrap_used)]

use std::{fs, path::PathBuf};

use plumbline_tests::{School, Server, Value, column, json, lesson_ids, text};

fn case(name: &str) -> (Value, Value) {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("cases");
    let read =
        |end: &str| serde_json::from_slice(&fs::read(folder.join(format!("{name}{end}"))).unwrap()).unwrap();
    let expect: Value = read(".expect.json");
    (read(".json"), expect["assert"].clone())
}

fn year(half_terms: &[Value]) -> Value {
    json!({"starts_on": "2025-09-01", "ends_on": "2026-08-31", "half_terms": half_terms})
}

/// A group of one pupil from September 2025, and the two lessons of its sequence.
fn group_of_one(school: &School) -> (String, Vec<String>) {
    let lead = school.lead();
    let sequence = lead.post("/sequences", json!({"name": "Our sequence"})).expect(201);
    let path = format!("/sequences/{}", text(&sequence["id"]));
    let lesson = |letter: &str| {
        let item = json!({"kind": "gpc", "gpc": {"grapheme": letter, "phoneme": letter}});
        json!({"title": letter, "items": [item]})
    };
    let draft = json!({"steps": [{"title": "S", "lessons": [lesson("m"), lesson("s")]}]});
    lead.put(&format!("{path}/draft"), &lead.get(&format!("{path}/draft")).etag(), draft).expect(200);
    let version = lead.post(&format!("{path}/versions"), json!({"effective_on": "2025-09-01"})).expect(201);
    let content = lead.get(&format!("{path}/versions/{}", text(&version["id"]))).expect(200);
    let pupil = json!({"given_name": "Ida", "from": "2025-09-01"});
    let pupil = text(&lead.post("/pupils", pupil).expect(201)["id"]);
    let made = lead.post("/groups", json!({"name": "Alder", "sequence_id": sequence["id"]}));
    let group = text(&made.expect(201)["id"]);
    let members = json!({"from": "2025-09-01", "pupil_ids": [pupil]});
    lead.put(&format!("/groups/{group}/members"), &made.etag(), members).expect(200);
    (group, lesson_ids(&content))
}

#[test]
fn o43_terms_that_touch_overlap_leave_gaps_or_are_reversed() {
    let (input, assert) = case("O43_terms_overlap");
    let terms: Vec<Value> = input["terms"]
        .as_array()
        .unwrap()
        .iter()
        .map(|term| json!({"name": term["id"], "starts_on": term["from"], "ends_on": term["to"]}))
        .collect();
    let school = School::on(Server::start("2026-01-12"));
    let lead = school.lead();
    let save = |half_terms: &[Value]| lead.call("PUT", "/school-years/2025", Some(&year(half_terms)));
    assert_eq!(assert["refused"], json!(["T1/T2", "T4"]));
    assert_eq!(
        save(&terms[..2]).problem(422, "invalid"),
        ["half_terms[1].starts_on: T2 starts before T1 has ended"]
    );
    assert_eq!(
        save(&terms[3..]).problem(422, "invalid"),
        ["half_terms[0].ends_on: T4 ends before it starts"]
    );
    // A day later there is no fault, and the gap between T2 and T3 is a holiday.
    let second = json!({"name": "T2", "starts_on": "2025-10-25", "ends_on": terms[1]["ends_on"]});
    save(&[terms[0].clone(), second, terms[2].clone()]).expect(200);
    assert_eq!(
        (&assert["gap_ok"], &assert["log_in_gap"]),
        (&json!("T2/T3"), &json!("accepted_with_warning"))
    );

    let (group, lessons) = group_of_one(&school);
    let on = text(&input["log_date"]);
    let logged = school.log_lesson(&lead, &group, &on, &lessons[0], "delivered", &json!({}));
    assert_eq!(logged.expect(201)["warnings"], json!(["in_holiday"]));
    // Counted in no term: 38 weekdays of T1, 40 of T2, 30 of T3, and the report is made.
    let taught = |from: &str, to: &str| {
        let days = lead.get(&format!("/teaching-days?from={from}&to={to}&group_id={group}")).expect(200);
        days["teaching_days"].clone()
    };
    let counted = [("2025-09-03", "2025-10-24"), ("2025-10-25", "2025-12-19"), ("2026-01-05", "2026-02-13")];
    assert_eq!(counted.map(|(from, to)| taught(from, to)), [json!(38), json!(40), json!(30)]);
    assert_eq!(taught("2025-09-01", "2026-08-31"), json!(108));
    let terms = lead.get("/school-years").expect(200)["items"][0]["half_terms"].clone();
    for term in column(&terms, "id") {
        lead.get(&format!("/reports/attainment?half_term_id={term}")).expect(200);
    }
    lead.get(&format!("/groups/{group}/coverage")).expect(200);
}

#[test]
fn o44_a_date_does_not_shift_with_a_zone() {
    let (input, assert) = case("O44_utc_date_shift");
    let school = School::on(Server::start("2026-07-20"));
    let lead = school.lead();
    let term =
        |name: &str, from: &str, until: &str| json!({"name": name, "starts_on": from, "ends_on": until});
    let terms = [term("Spring 1", "2026-01-05", "2026-02-13"), term("Summer 2", "2026-06-01", "2026-07-21")];
    lead.call("PUT", "/school-years/2025", Some(&year(&terms))).expect(200);
    let dates: Vec<String> = input["dates"].as_array().unwrap().iter().map(text).collect();
    let (group, lessons) = group_of_one(&school);
    let (mut read_back, mut saves) = (Vec::new(), 0);
    for zone in input["zones"].as_array().unwrap() {
        let zone = text(zone);
        let profile = lead.get("/school");
        lead.patch("/school", &profile.etag(), json!({"time_zone": zone})).expect(200);
        // A client in that zone says so in what it sends; a plain date is that date all the same.
        let device = lead.with("Date", "Thu, 15 Jan 2026 00:30:00 GMT").with("X-Time-Zone", &zone);
        let made = device
            .post("/pupils", json!({"given_name": "Zoe", "date_of_birth": dates[2], "from": "2025-09-01"}));
        let path = format!("/pupils/{}", text(&made.expect(201)["id"]));
        // Saved as it is read, again and again.
        let mut said: Vec<Value> = dates.iter().map(|on| json!(on)).collect();
        for _ in 0..input["saves"].as_u64().unwrap() {
            let mut records = Vec::new();
            for (on, lesson) in said.iter().zip(&lessons[..2]) {
                let made = school.log_lesson(&device, &group, &text(on), lesson, "delivered", &json!({}));
                let path = format!("/lesson-records/{}", text(&made.expect(201)["id"]));
                records.push((path, made.etag()));
            }
            let closed = |on: &Value| {
                let body = json!({"from": on, "kind": "inset", "with_records": true});
                device.post("/closures", body).expect(201)
            };
            let closures: Vec<Value> = said[..2].iter().map(closed).collect();
            let child = device.get(&path);
            device.patch(&path, &child.etag(), json!({"date_of_birth": said[2]})).expect(200);
            let listed = device.get("/closures").expect(200);
            assert_eq!(column(&listed["items"], "from"), dates[..2], "{zone}");
            let read = |(path, _): &(String, String)| device.get(path).expect(200)["on"].clone();
            said = records.iter().map(read).collect();
            said.push(device.get(&path).expect(200)["date_of_birth"].clone());
            for (path, etag) in records {
                device.delete(&path, &etag).expect(204);
            }
            for closure in closures {
                let path = format!("/closures/{}", text(&closure["id"]));
                device.call("DELETE", &path, None).expect(204);
            }
            saves += 1;
        }
        read_back.push((zone, said));
    }
    let zones = assert["zones"].as_array().unwrap().iter();
    let expected: Vec<(String, Vec<Value>)> =
        zones.map(|zone| (text(zone), assert["dates"].as_array().unwrap().clone())).collect();
    assert_eq!(read_back, expected);
    assert_eq!(
        json!(saves),
        json!(assert["saves"].as_u64().unwrap() * 4),
        "five times in each of four zones"
    );
}

#[test]
fn o45_a_daily_lesson_over_both_changes_of_the_clocks() {
    let (input, assert) = case("O45_recurring_over_clock_change");
    let school = School::on(Server::start("2025-10-13"));
    let lead = school.lead();
    assert_eq!(lead.get("/school").expect(200)["time_zone"], assert["zone"]);
    let terms = [
        json!({"name": "Autumn", "starts_on": "2025-09-01", "ends_on": "2025-12-19"}),
        json!({"name": "Spring", "starts_on": "2026-01-05", "ends_on": "2026-04-02"}),
    ];
    lead.call("PUT", "/school-years/2025", Some(&year(&terms))).expect(200);
    let sequence = text(&lead.post("/sequences", json!({"name": "Our sequence"})).expect(201)["id"]);
    let made = lead.post("/groups", json!({"name": "Alder", "sequence_id": sequence}));
    let group = format!("/groups/{}", text(&made.expect(201)["id"]));
    let at_nine =
        |weekday: &&str| json!({"weekday": weekday, "part": "morning", "starts_at": assert["local_time"]});
    let weekdays = ["monday", "tuesday", "wednesday", "thursday", "friday"];
    let slots: Vec<Value> = weekdays.iter().map(at_nine).collect();
    let body = json!({"from": "2025-09-01", "slots": slots});
    lead.put(&format!("{group}/timetable"), &made.etag(), body).expect(200);
    let pupil = json!({"given_name": "Ida", "from": "2025-09-01"});
    let pupil = text(&lead.post("/pupils", pupil).expect(201)["id"]);
    let members = json!({"from": "2025-09-01", "pupil_ids": [pupil]});
    lead.put(&format!("{group}/members"), &lead.get(&group).etag(), members).expect(200);
    let counts = [&assert["weekdays"], &assert["second_range"]["weekdays"]];
    for (range, count) in input["ranges"].as_array().unwrap().iter().zip(counts) {
        let due = lead
            .get(&format!("{group}/sessions?from={}&to={}", text(&range[0]), text(&range[1])))
            .expect(200);
        let days = column(&due["items"], "on");
        assert_eq!(json!(days.len()), *count);
        assert!(days.windows(2).all(|two| two[0] < two[1]), "none doubled");
        assert!(due["items"].as_array().unwrap().iter().all(|one| one["starts_at"] == assert["local_time"]));
        assert!(due["items"].as_array().unwrap().iter().all(|one| one["slot"] == 1));
    }
}
