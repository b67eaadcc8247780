//! The file a pupil brings from another school.
#![allow(clippy::unwrap_used)]

use autumn::start;
use plumbline_tests::{School, Value, column, json, text};

mod autumn;

#[test]
fn the_file_a_child_brings_is_read_in_at_the_new_school() {
    let a = start();
    let file = a.school.lead().get(&format!("{}/transfer", a.path("Max"))).expect(200);
    // A school of its own, with a sequence that has m and o too; and Max, who has just come.
    let school = School::start();
    school.calendar();
    let (sequence, content) = school.sequence();
    let m_id = plumbline_tests::item_ids(&content, 0)[0].clone();
    let pupils = school.pupils(&[("Max", "Rowan"), ("Zoe", "Rowan")]);
    let group = school.group("Rowan", &sequence, &[&pupils["Max"], &pupils["Zoe"]]);
    let lead = school.lead();
    let path = format!("/pupils/{}/transfer", pupils["Max"]);
    let carried = || {
        lead.get(&format!("/groups/{group}/carried-in/answers")).expect(200)["pupils"][0]["checks"].clone()
    };
    let told = |answer: &Value| {
        let days = answer["days"].as_array().unwrap().iter();
        days.map(|day| {
            format!("{} {} {} {}", text(&day["on"]), day["added"], day["changed"], day["unchanged"])
        })
        .collect::<Vec<_>>()
    };
    let seen = lead.post(&format!("{path}?dry_run=true"), file.clone()).expect(200);
    assert_eq!(told(&seen), ["2026-10-07 1 0 0", "2026-10-14 2 0 0", "2026-10-20 1 0 0"]);
    assert_eq!((&seen["response_mode"], &seen["chosen_left_out"]), (&json!("spoken"), &json!(0)));
    assert_eq!(carried(), json!([]));
    lead.post(&path, file.clone()).expect(200);
    assert_eq!(column(&carried(), "on"), ["2026-10-07", "2026-10-14", "2026-10-20"]);
    // The same file again changes nothing; another one replaces what it says otherwise.
    let again = lead.post(&path, file.clone()).expect(200);
    assert_eq!(told(&again), ["2026-10-07 0 0 1", "2026-10-14 0 0 2", "2026-10-20 0 0 1"]);
    let o =
        file["correspondences"].as_array().unwrap().iter().position(|one| one["grapheme"] == "o").unwrap();
    let mut other = file.clone();
    other["correspondences"][o]["answers"][0]["outcome"] = json!("no_response");
    other["a_later_field"] = json!("is for later readers");
    assert_eq!(told(&lead.post(&path, other).expect(200))[1], "2026-10-14 0 1 1");
    // Taken back whole, but what was entered otherwise since; looked at first.
    let gone = |query: &str| {
        let answer = lead.post(&format!("{path}?take_back=true{query}"), file.clone()).expect(200);
        let days = answer["days"].as_array().unwrap().iter();
        days.map(|day| (day["removed"].clone(), day["unchanged"].clone())).collect::<Vec<_>>()
    };
    let expected = [(json!(1), json!(0)), (json!(1), json!(0)), (json!(1), json!(0))];
    assert_eq!(gone("&dry_run=true"), expected);
    assert_eq!(gone(""), expected);
    assert_eq!(column(&carried(), "on"), ["2026-10-14"]);
    assert_eq!(carried()[0]["answers"].as_array().unwrap().len(), 1, "{}", carried());
    assert_eq!(gone(""), vec![(json!(0), json!(0)); 3]);
    // What was there before the file, and said the same, was not brought by it.
    let m = file["correspondences"].as_array().unwrap().iter().find(|one| one["grapheme"] == "m").unwrap();
    let by_hand = json!({"on": "2026-10-07", "rows": [{"pupil_id": pupils["Max"],
        "answers": [{"item_id": m_id, "outcome": m["answers"][0]["outcome"]}]}]});
    lead.post(&format!("/groups/{group}/carried-in/answers"), by_hand).expect(200);
    assert_eq!(told(&lead.post(&path, file.clone()).expect(200))[0], "2026-10-07 0 0 1");
    // A record that was put right meanwhile, so that the file is of no pupil here, is no hindrance.
    let page = format!("/pupils/{}", pupils["Max"]);
    lead.patch(
        &page,
        &lead.get(&page).etag(),
        json!({"given_name": "Maximilian", "date_of_birth": "2020-09-02"}),
    )
    .expect(200);
    lead.post(&path, file.clone()).problem(422, "invalid");
    assert_eq!(gone("")[0], (json!(0), json!(0)));
    assert_eq!(column(&carried(), "on"), ["2026-10-07"]);
    let back = json!({"given_name": "Max", "date_of_birth": file["pupil"]["date_of_birth"]});
    lead.patch(&page, &lead.get(&page).etag(), back).expect(200);
    // Not of another child, not of another format, and not of days to come: nothing is written.
    let with = |change: &dyn Fn(&mut Value)| {
        let mut file = file.clone();
        change(&mut file);
        lead.post(&path, file).problem(422, "invalid")
    };
    let zoe = format!("/pupils/{}/transfer", pupils["Zoe"]);
    let refused = || lead.post(&zoe, file.clone()).problem(422, "invalid");
    assert_eq!(refused(), ["pupil.given_name: is not the one of this pupil"]);
    let page = format!("/pupils/{}", pupils["Zoe"]);
    // Of a number that another pupil here has, whatever else agrees.
    lead.patch(&page, &lead.get(&page).etag(), json!({"upn": "P207000016049"})).expect(200);
    let mut numbered = file.clone();
    numbered["pupil"]["upn"] = json!("P207000016049");
    let refused_here = lead.post(&path, numbered).problem(422, "invalid");
    assert_eq!(refused_here, ["pupil.upn: is the one of another pupil here"]);
    lead.patch(&page, &lead.get(&page).etag(), json!({"date_of_birth": "2020-06-01"})).expect(200);
    assert_eq!(refused(), ["pupil.date_of_birth: is not the one of this pupil"]);
    assert_eq!(
        with(&|file| file["schema_version"] = json!(2)),
        ["schema_version: is 2; this server reads 1"]
    );
    assert_eq!(with(&|file| file["format"] = json!("ctf")), ["format: is not pupil_phonics_transfer"]);
    assert_eq!(with(&|file| file["pupil"]["upn"] = json!("B1")).len(), 1);
    assert_eq!(
        with(&|file| file["correspondences"][o]["answers"][0]["on"] = json!("2026-11-26")),
        [format!("correspondences[{o}].answers[0].on: 2026-11-26 is in the future")]
    );
    assert_eq!(school.staff("head").post(&path, file.clone()).status, 403);
    // At the school that gave the answers nothing is counted twice.
    let back = a.school.lead().post(&format!("{}/transfer", a.path("Max")), file.clone()).expect(200);
    assert_eq!((&back["days"], &back["asked_here_left_out"]), (&json!([]), &json!(4)));
    let log = column(&lead.get("/audit-entries?limit=200").expect(200)["items"], "operation");
    assert_eq!(log.iter().filter(|one| *one == "pupil.preview_transfer").count(), 2);
    assert!(log.iter().any(|one| one == "pupil.receive_transfer"));
    assert_eq!(log.iter().filter(|one| *one == "pupil.take_back_transfer").count(), 3);
}
