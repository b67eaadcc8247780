//! Starting in mid-year: what was checked before the records here begin. The sequence teaches m and
//! o; d and "the"; e; a review and n. Secure is right on three days, one of them a week after
//! teaching; of the three, one may be carried in.
#![allow(clippy::unwrap_used)]

mod joining;

use joining::joining;
use plumbline_tests::{TODAY, Value, column, json, text};

/// Counts of added, changed, removed and unchanged.
fn counts(seen: &Value) -> [u64; 4] {
    ["added", "changed", "removed", "unchanged"].map(|name| seen[name].as_u64().unwrap())
}

#[test]
fn a_table_of_answers_is_entered_at_once_and_counts_as_the_rules_say() {
    let t = joining();
    let teacher = t.school.staff("teacher");
    t.carry(&teacher, json!({"as_of": "2026-11-02", "through_step": 1})).expect(200);
    let path = t.path("/answers");
    // m right of Zoe and Max, o wrong of Zoe; on another day m of Zoe right.
    let body = t.answers("2026-11-04", &[("Zoe", &[(0, "right"), (1, "wrong")]), ("Max", &[(0, "right")])]);
    let shown = teacher.post(&format!("{path}?dry_run=true"), body.clone()).expect(200);
    assert_eq!((counts(&shown), &shown["dry_run"]), ([3, 0, 0, 0], &json!(true)));
    assert_eq!(teacher.get(&path).expect(200)["pupils"][0]["checks"], json!([]));
    let done = teacher.post(&path, body.clone()).expect(200);
    assert_eq!((counts(&done), &done["dry_run"]), ([3, 0, 0, 0], &json!(false)));
    assert_eq!(column(&done["rows"], "name"), ["Zoe Bell", "Max Bell"]);
    assert_eq!(counts(&teacher.post(&path, body).expect(200)), [0, 0, 0, 3]);
    let more = t.answers("2026-11-05", &[("Zoe", &[(0, "right")])]);
    assert_eq!(counts(&teacher.post(&path, more).expect(200)), [1, 0, 0, 0]);
    // Carried in, m of three pupils: Zoe's right on two days of which one counts. Nothing is secure.
    let report = t.report();
    let apart = json!({"taught": 9, "secure": 0, "not_yet_secure": 3, "right_so_far": 2, "unknown": 6,
                       "secure_percent": 0});
    assert_eq!((&report["carried_in"], &report["carried_in_answers"]), (&apart, &json!(4)));
    // They are no check of this half term.
    assert_eq!((&report["checked"], &report["median_check_age_days"]), (&json!(0), &Value::Null));
    // Two days here, the second 8 days after the day it counts as taught on: m of Zoe is secure.
    let (check, items) = t.school.gpc_check("Sounds", &[("m", "m")]);
    for on in ["2026-11-09", "2026-11-10"] {
        let round = t.school.round(on, on, on, &[&check]);
        t.school
            .answer(&teacher, (&round, &t.pupils["Zoe"], &check), on, &[(&items[0], "right")])
            .expect(201);
    }
    let apart = json!({"taught": 9, "secure": 1, "not_yet_secure": 2, "right_so_far": 1, "unknown": 6,
                       "secure_percent": 33});
    assert_eq!(t.report()["carried_in"], apart);
    // Practice leaves out what was wrong before: o of Zoe, and with it every word.
    let practice = teacher.get(&format!("/pupils/{}/practice", t.pupils["Zoe"])).expect(200);
    assert_eq!(json!([practice["secure"], practice["taught"], practice["words"]]), json!([1, 1, []]));
    // A lesson here moves m of those who were there out of what is counted apart.
    t.school.log_lesson(&teacher, &t.group, TODAY, &t.lessons()[0], "retaught", &json!({})).expect(201);
    let report = t.report();
    assert_eq!((&report["gpcs"]["taught"], &report["gpcs"]["secure"]), (&json!(6), &json!(1)));
    assert_eq!((&report["carried_in"]["taught"], &report["carried_in_answers"]), (&json!(3), &json!(4)));
}

#[test]
fn an_answer_is_put_right_or_taken_back() {
    let t = joining();
    let lead = t.school.lead();
    let path = t.path("/answers");
    let send = |rows: &[(&str, &[(usize, &str)])]| {
        counts(&lead.post(&path, t.answers("2026-11-04", rows)).expect(200))
    };
    assert_eq!(send(&[("Zoe", &[(0, "right"), (2, "no_response")]), ("Max", &[(0, "wrong")])]), [3, 0, 0, 0]);
    // What a table does not speak of stays.
    assert_eq!(
        send(&[("Zoe", &[(0, "wrong"), (1, "not_offered")]), ("Max", &[(0, "not_offered")])]),
        [0, 1, 1, 1]
    );
    let seen = lead.get(&path).expect(200);
    let labels = column(&seen["columns"], "label");
    assert_eq!(labels, ["m /m/", "o /ɒ/", "d /d/", "e /e/", "n /n/"]);
    let rows = seen["pupils"].as_array().unwrap().iter();
    let rows: Vec<Value> =
        rows.map(|row| json!([row["name"], row["checks"].as_array().unwrap().len()])).collect();
    assert_eq!(rows, [json!(["Ida Bell", 0]), json!(["Max Bell", 0]), json!(["Zoe Bell", 1])]);
    let check = &seen["pupils"][2]["checks"][0];
    assert_eq!(
        (&check["on"], &check["entered_by"]),
        (&json!("2026-11-04"), &json!(t.school.staff_id("lead")))
    );
    let mut said: Vec<(String, String)> = check["answers"]
        .as_array()
        .unwrap()
        .iter()
        .map(|answer| (text(&answer["item_id"]), text(&answer["outcome"])))
        .collect();
    let items = t.items();
    let mut expected = vec![(items[0].clone(), "wrong".into()), (items[2].clone(), "no_response".into())];
    said.sort();
    expected.sort();
    assert_eq!(said, expected);
}

#[test]
fn a_table_that_cannot_be_true_is_refused_whole() {
    let t = joining();
    let lead = t.school.lead();
    let path = t.path("/answers");
    let mut body = t.answers(
        "2026-11-04",
        &[("Zoe", &[(0, "right"), (0, "wrong")]), ("Kit", &[(3, "right")]), ("Zoe", &[(1, "right")])],
    );
    assert_eq!(
        lead.post(&path, body.clone()).problem(422, "invalid"),
        [
            "rows[0].answers[1].item_id: this GPC stands twice",
            "rows[1].pupil_id: this pupil is not in the group",
            "rows[1].answers[0].item_id: is not a GPC of the group's sequence",
            "rows[2].pupil_id: this pupil stands twice"
        ]
    );
    body["on"] = json!("2026-11-26");
    assert_eq!(lead.post(&path, body).problem(422, "invalid"), ["on: 2026-11-26 is in the future"]);
    let nothing = lead.get(&path).expect(200);
    assert!(nothing["pupils"].as_array().unwrap().iter().all(|row| row["checks"] == json!([])));
}

#[test]
fn a_file_says_the_same_and_a_second_time_changes_nothing() {
    let t = joining();
    let teacher = t.school.staff("teacher");
    let path = t.path("/answers/imports?on=2026-11-04");
    let file = "Forename,Surname,DOB,m,o /ɒ/,d:d\nZoe,Bell,31/05/2020,1,0,\nMax,Bell,31/05/2020,yes,,nr\n";
    let shown = teacher.post_csv(&format!("{path}&dry_run=true"), file.as_bytes()).expect(200);
    let rows = shown["rows"].as_array().unwrap().iter();
    let rows: Vec<Value> = rows.map(|row| json!([row["line"], row["name"], row["added"]])).collect();
    assert_eq!(rows, [json!([2, "Zoe Bell", 2]), json!([3, "Max Bell", 2])]);
    assert_eq!(counts(&teacher.post_csv(&path, file.as_bytes()).expect(200)), [4, 0, 0, 0]);
    let once = teacher.get(&t.path("/answers")).expect(200);
    assert_eq!(counts(&teacher.post_csv(&path, file.as_bytes()).expect(200)), [0, 0, 0, 4]);
    assert_eq!(teacher.get(&t.path("/answers")).expect(200), once);
    // Somebody who is not in the group, a cell that says nothing known, a date that is two.
    let bad = "forename,surname,dob,m\nKit,Bell,2020-05-31,1\nZoe,Bell,2020-05-31,x\n";
    let said = teacher.post_csv(&path, bad.as_bytes()).problem(422, "invalid");
    assert_eq!(said.len(), 2);
    assert_eq!(said[0], "line 2: is about nobody in the group: nobody agrees with all it says");
    assert!(said[1].starts_with("line 3.D3: write right: 1,"), "{said:?}");
    let unclear = teacher.post_csv(&path, b"forename,dob,m\nZoe,05/06/2020,1\n").problem(422, "invalid");
    assert_eq!(unclear, ["line 2.B2: may be read day first or month first; write 2020-05-31"]);
    // Twins are told apart by their reference or not at all.
    let lead = t.school.lead();
    let twin =
        json!({"given_name": "Zoe", "family_name": "Bell", "date_of_birth": "2020-05-31", "pupil_ref": "Z2"});
    let twin = text(&lead.post("/pupils", twin).expect(201)["id"]);
    let group = format!("/groups/{}", t.group);
    let mut members: Vec<String> = column(&lead.get(&group).expect(200)["members"], "id");
    members.push(twin);
    let body = json!({"from": "2026-11-20", "pupil_ids": members});
    lead.put(&format!("{group}/members"), &lead.get(&group).etag(), body).expect(200);
    let several = teacher.post_csv(&path, file.as_bytes()).problem(422, "invalid");
    assert_eq!(several, ["line 2: may be about several pupils of the group: give the pupil_ref or UPN"]);
    let told = "pupil_ref,forename,m\nZ2,Zoe,0\n";
    assert_eq!(counts(&teacher.post_csv(&path, told.as_bytes()).expect(200)), [1, 0, 0, 0]);
}

#[test]
fn what_was_carried_in_under_two_records_of_one_child_becomes_one() {
    let t = joining();
    let lead = t.school.lead();
    t.carry(&lead, json!({"as_of": "2026-11-02", "through_step": 1})).expect(200);
    let path = t.path("/answers");
    let send = |on: &str, rows: &[(&str, &[(usize, &str)])]| {
        lead.post(&path, t.answers(on, rows)).expect(200);
    };
    // On one day m under both, o under one; on another day only under the other.
    send("2026-11-04", &[("Zoe", &[(0, "right")]), ("Max", &[(0, "wrong"), (1, "wrong")])]);
    send("2026-11-05", &[("Max", &[(1, "right")])]);
    let held = || lead.get(&path).expect(200)["pupils"].clone();
    let before = held();
    let body = json!({"verdict": "same", "pupil_id": t.pupils["Zoe"], "other_id": t.pupils["Max"]});
    let made = lead.post("/pupil-decisions", body).expect(201);
    let one = held();
    let of_zoe =
        one.as_array().unwrap().iter().find(|pupil| pupil["pupil_id"] == json!(t.pupils["Zoe"])).unwrap();
    let days: Vec<(String, usize)> = of_zoe["checks"]
        .as_array()
        .unwrap()
        .iter()
        .map(|day| (text(&day["on"]), day["answers"].as_array().unwrap().len()))
        .collect();
    assert_eq!(days, [("2026-11-04".to_owned(), 2), ("2026-11-05".to_owned(), 1)]);
    assert_eq!(
        of_zoe["checks"][0]["answers"].to_string().matches("right").count(),
        1,
        "the kept one's stands"
    );
    let back = format!("/pupil-decisions/{}", text(&made["id"]));
    lead.delete(&back, &text(&made["etag"])).expect(204);
    assert_eq!(held(), before);
}
