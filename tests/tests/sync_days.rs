//! What a new day brings to devices without anybody having changed anything.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Alder, Replica, Value, json, text};

/// The server on another day, with the lead and the device's person signed in anew.
fn on(alder: &mut Alder, device: &mut Replica, day: &str) {
    alder.school.server.stop_and_restart(day);
    device.client = alder.school.signed_in("teacher");
}

fn members(alder: &Alder, from: &str, pupils: &[&String]) {
    let (lead, path) = (alder.school.signed_in("lead"), format!("/groups/{}", alder.group));
    let body = json!({"from": from, "pupil_ids": pupils});
    lead.put(&format!("{path}/members"), &lead.get(&path).etag(), body).expect(200);
}

#[test]
fn a_pupil_saved_before_the_first_pull_of_a_day_comes_with_all_that_belongs() {
    let mut alder = Alder::new();
    let (check, items) = alder.school.word_check("Words", &["mat"]);
    let round = alder.school.round("Now", "2026-11-23", "2026-12-11", &[&check]);
    let teacher = alder.school.staff("teacher");
    alder
        .school
        .answer(&teacher, (&round, &alder.pupils["Zoe"], &check), "2026-11-25", &[(&items[0], "right")])
        .expect(201);
    // Zoe is elsewhere, and comes back on Monday.
    members(&alder, "2026-11-25", &[&alder.pupils["Max"]]);
    members(&alder, "2026-11-30", &[&alder.pupils["Max"], &alder.pupils["Zoe"]]);
    let mut device = alder.school.replica("teacher");
    device.pull(500);
    assert_eq!((device.of("pupil").len(), device.of("response").len()), (1, 0));
    on(&mut alder, &mut device, "2026-11-30");
    // The office corrects the name before any tablet is there.
    let (lead, path) = (alder.school.signed_in("lead"), format!("/pupils/{}", alder.pupils["Zoe"]));
    lead.patch(&path, &lead.get(&path).etag(), json!({"given_name": "Zoë"})).expect(200);
    device.pull(500);
    let counts = ["pupil", "group_member", "response"].map(|kind| device.of(kind).len());
    assert_eq!(counts, [2, 2, 1]);
}

#[test]
fn what_is_said_from_a_day_on_is_told_on_that_day() {
    let mut alder = Alder::new();
    let (lead, group) = (alder.school.lead(), format!("/groups/{}", alder.group));
    let path = format!("{group}/members/{}/weekdays", alder.pupils["Zoe"]);
    let weekdays = json!({"from": "2026-11-30", "weekdays": ["monday", "tuesday"]});
    lead.put(&path, &lead.get(&group).etag(), weekdays).expect(200);
    let answering = format!("/pupils/{}/answering", alder.pupils["Zoe"]);
    let mode = json!({"from": "2026-11-30", "mode": "communication_aid"});
    lead.put(&format!("{answering}/mode"), &lead.get(&answering).etag(), mode).expect(200);
    let mut device = alder.school.replica("teacher");
    device.pull(500);
    let told = |device: &Replica| {
        let of =
            |kind: &str| device.of(kind).into_values().find(|body| body["pupil_id"] == alder_zoe(device));
        (of("group_member").unwrap()["weekdays"].clone(), of("pupil_answering").unwrap()["mode"].clone())
    };
    assert_eq!(told(&device), (Value::Null, json!("spoken")));
    on(&mut alder, &mut device, "2026-11-30");
    device.pull(500);
    assert_eq!(told(&device), (json!(["monday", "tuesday"]), json!("communication_aid")));
}

/// The pupil something is said of: the one whose way of answering is held.
fn alder_zoe(device: &Replica) -> Value {
    device.of("pupil_answering").into_values().next().unwrap()["pupil_id"].clone()
}

#[test]
fn a_new_school_year_is_told_of_with_the_year_groups() {
    let mut alder = Alder::new();
    let lead = alder.school.lead();
    let year = json!({"starts_on": "2027-09-01", "ends_on": "2028-08-31", "half_terms": [
        {"name": "Autumn 1", "starts_on": "2027-09-01", "ends_on": "2027-10-22"}]});
    lead.call("PUT", "/school-years/2027", Some(&year)).expect(200);
    let csv = "given_name,family_name,date_of_birth,year_group,class_name\n\
               Zoe,Bell,2020-05-31,Year 2,Alder\nMax,Bell,2020-05-31,Year 2,Alder\n";
    let preview = lead.post_csv("/roster-imports", csv.as_bytes());
    let of_year = format!("/roster-imports/{}/answers", text(&preview.json()["id"]));
    let preview = lead.put(&of_year, &text(&preview.json()["etag"]), json!({"year": 2027})).expect(200);
    let path = format!("/roster-imports/{}/confirm", text(&preview["id"]));
    lead.post(&path, json!({"from": "2027-09-01"})).expect(200);
    let mut device = alder.school.replica("teacher");
    device.pull(500);
    let groups = |device: &Replica| -> Vec<Value> {
        device.of("pupil").into_values().map(|body| body["year_group"].clone()).collect()
    };
    let before = groups(&device);
    on(&mut alder, &mut device, "2027-09-01");
    device.pull(500);
    let after = groups(&device);
    assert_eq!((before.len(), after.len()), (2, 2));
    assert!(before.iter().zip(&after).all(|(before, after)| before != after), "{before:?} {after:?}");
}

#[test]
fn a_lesson_is_of_the_day_it_says_whatever_the_clock_and_zone() {
    let alder = Alder::new();
    let mut device = alder.school.replica("teacher");
    // Around the change of clocks, and from a tablet that thinks it is elsewhere: each says another day than `on`.
    let told = [
        ("2026-10-23", "2026-10-25T00:30:00+01:00", "Europe/London"),
        ("2026-11-02", "2026-11-01T23:59:59Z", "Pacific/Auckland"),
    ];
    for (nth, (on, at, zone)) in told.into_iter().enumerate() {
        let mut op = device.op("lesson.record", None, alder.lesson(nth, on, &json!({})));
        (op["at"], op["tz"]) = (json!(at), json!(zone));
        let answer = device.send(&[&op], 0).expect(200);
        assert_eq!(answer["outcomes"][0]["outcome"], "applied", "{on}");
    }
    let days: Vec<String> = alder.records().iter().map(|record| text(&record["on"])).collect();
    assert_eq!(days, ["2026-11-02", "2026-10-23"]);
}
