//! What is easily got wrong with results of the statutory check: who gave it, who is away, who changed year group.
#![allow(clippy::unwrap_used)]

mod screened;

use plumbline_tests::{Value, json, text};
use screened::{DAY, Screened};

#[test]
fn who_gave_the_check_goes_on_to_have_given_it() {
    let s = Screened::new();
    let (teacher, lead) = (s.school.staff("teacher"), s.lead());
    let by = s.school.staff_id("assistant");
    s.enter(&teacher, &[s.result("Ann", "27", &json!({"taken_by": by}))]).expect(200);
    let entered = |name: &str| s.line(&s.seen(&s.lead())["pupils"], name)["entered"].clone();
    // Entered anew by another adult, who says nothing of it.
    s.enter(&lead, &[s.result("Ann", "28", &json!({"replaces": s.version("Ann")}))]).expect(200);
    assert_eq!((&entered("Ann")["taken_by"], &entered("Ann")["mark"]), (&json!(by), &json!(28)));
    s.enter(&lead, &[s.result("Bea", "A", &json!({}))]).expect(200);
    s.submit(&lead, 6).expect(200);
    let amend = |name: &str, more: &Value| {
        let mut body = json!({"result": "29", "on": "2027-06-15", "amended_for": "typed_wrongly", "note": "29.",
                              "replaces": s.version(name)});
        for (field, value) in more.as_object().unwrap() {
            body[field] = value.clone();
        }
        lead.post(&format!("{}/results/{}/amendments", s.window, s.pupils[name]), body)
    };
    amend("Ann", &json!({})).expect(200);
    assert_eq!(entered("Ann")["taken_by"], json!(by));
    let other = s.school.staff_id("teacher");
    amend("Ann", &json!({"taken_by": other})).expect(200);
    assert_eq!(entered("Ann")["taken_by"], json!(other));
    // A code was given by nobody: of a mark in its place it is who enters it.
    amend("Bea", &json!({})).expect(200);
    assert_eq!(entered("Bea")["taken_by"], json!(s.school.staff_id("lead")));
}

#[test]
fn nobody_is_told_of_another_adult_who_was_there_first_alone() {
    let s = Screened::new();
    let teacher = s.school.staff("teacher");
    s.enter_all(&teacher, &[("Ann", "20")]);
    let said = s.enter(&teacher, &[s.result("Ann", "21", &json!({}))]).problem(409, "conflict");
    assert!(said[0].starts_with("results[0].replaces: you have entered a result"), "{said:?}");
    let first = s.version("Ann");
    s.enter(&teacher, &[s.result("Ann", "21", &json!({"replaces": first}))]).expect(200);
    let said =
        s.enter(&teacher, &[s.result("Ann", "22", &json!({"replaces": first}))]).problem(409, "conflict");
    assert!(said[0].contains("you have changed this result since you read it"), "{said:?}");
}

#[test]
fn every_fault_of_every_row_is_named_at_once() {
    let s = Screened::new();
    let lead = s.lead();
    s.enter_all(&lead, &[("Cal", "20")]);
    let rows = [
        s.result("Ann", "41", &json!({"replaces": 3})),
        s.result("Bea", "20", &json!({})),
        s.result("Hal", "12", &json!({"taken_by": s.pupils["Ann"]})),
        s.result("Cal", "21", &json!({})),
        s.result("Bea", "22", &json!({})),
    ];
    let said = s.enter(&lead, &rows).problem(422, "invalid");
    let fields: Vec<&str> = said.iter().map(|line| line.split_once(':').unwrap().0).collect();
    assert_eq!(
        fields,
        [
            "results[0].result",
            "results[0].replaces",
            "results[2].pupil_id",
            "results[2].taken_by",
            "results[3].replaces",
            "results[4].pupil_id"
        ]
    );
    assert_eq!(s.seen(&lead)["entered"], 1, "none of it was taken");
    // Where nothing is wrong in itself, it is a conflict.
    assert_eq!(s.enter(&lead, &rows[3..4]).problem(409, "conflict").len(), 1);
}

#[test]
fn pupils_who_are_away_stay_so_only_by_a_stated_yes() {
    let s = Screened::new();
    let lead = s.lead();
    s.earlier("Fay", 2026, "40").expect(201);
    s.enter_all(
        &lead,
        &[("Ann", "31"), ("Bea", "a"), ("Cal", "A"), ("Dee", "1"), ("Eli", "2"), ("Gus", "3"), ("Ida", "4")],
    );
    let submit = |body: Value| {
        let etag = lead.get(&s.window).etag();
        lead.with("If-Match", &etag).post(&format!("{}/submission", s.window), body)
    };
    let said = submit(json!({})).problem(409, "conflict");
    assert_eq!(
        said,
        [
            "away_stay: 2 pupils are entered as away and can be checked until 2027-06-25: wait, or say that they stay so"
        ]
    );
    let done = submit(json!({"away_stay": true})).expect(200);
    assert_eq!(done["submitted_by"], *s.school.staff_id("lead"));
}

#[test]
fn a_percentage_of_a_few_has_its_caution_and_nobody_is_dropped() {
    let s = Screened::new();
    let lead = s.lead();
    s.enter_all(&lead, &[("Ann", "40"), ("Gus", "12")]);
    s.threshold(31);
    let seen = lead.get(&format!("{}/summary", s.window)).expect(200);
    let year_1 = &seen["year_groups"][0]["in_window"];
    assert_eq!((&year_1["met_percent"], &year_1["missing"]), (&json!(100), &json!(4)));
    assert!(text(&year_1["caution"]).starts_with("Of 5 pupils 4 have nothing entered"), "{year_1}");
    assert_eq!(seen["of_other_year_groups"], Value::Null);
    // Ann turns out to be of Reception: her result is in no year group's figures, and is still told of.
    let ann = format!("/pupils/{}", s.pupils["Ann"]);
    let year = json!({"year_group": "Reception", "from": "2026-09-01"});
    lead.patch(&ann, &lead.get(&ann).etag(), year).expect(200);
    let seen = lead.get(&format!("{}/summary", s.window)).expect(200);
    assert_eq!(seen["year_groups"][0]["in_window"]["pupils"], 4);
    let other = &seen["of_other_year_groups"];
    assert_eq!((&other["pupils"], &other["marks"], &other["met"]), (&json!(1), &json!(1), &json!(1)));
}

#[test]
fn days_that_cannot_be_are_refused() {
    let s = Screened::new();
    let lead = s.lead();
    let put = |year: i32, on: &str| {
        let body = json!({"threshold": 31, "published_on": on});
        lead.call("PUT", &format!("/statutory-thresholds/{year}"), Some(&body))
    };
    for on in ["1900-01-01", "2026-12-31"] {
        assert_eq!(
            put(2027, on).problem(422, "invalid"),
            [format!("published_on: {on} is before it can have been published")]
        );
    }
    put(2027, DAY).expect(200);
    // A window is of one school year, in which every pupil is of one year group.
    let open = |term: &str, closes: &str, until: Value| {
        let days = json!({"year": 2027, "term": term, "opens_on": "2027-08-30", "closes_on": closes,
                          "absentees_until": until});
        lead.post("/statutory-windows", days)
    };
    let said = ["closes_on: must lie in the school year of opens_on"];
    assert_eq!(open("autumn", "2027-09-03", Value::Null).problem(422, "invalid"), said);
    let said = ["absentees_until: must lie in the school year of opens_on"];
    assert_eq!(open("autumn", "2027-08-31", json!("2027-09-03")).problem(422, "invalid"), said);
    open("autumn", "2027-08-31", Value::Null).expect(201);
}

#[test]
fn letters_reach_a_child_whose_class_of_then_is_not_on_record() {
    let s = Screened::new();
    let lead = s.lead();
    let year = json!({"starts_on": "2025-09-01", "ends_on": "2026-08-31", "half_terms": [
        {"name": "Summer 2", "starts_on": "2026-06-01", "ends_on": "2026-07-21"}]});
    lead.call("PUT", "/school-years/2025", Some(&year)).expect(200);
    // Last year's window, entered later: classes are on record from this school year on.
    let window = lead.post("/statutory-windows", json!({"year": 2026, "term": "summer"})).expect(201);
    let path = format!("/statutory-windows/{}", text(&window["id"]));
    let gus = format!("/pupils/{}", s.pupils["Gus"]);
    let then = json!({"year_group": "Year 1", "from": "2026-06-08"});
    lead.patch(&gus, &lead.get(&gus).etag(), then).expect(200);
    let body = json!({"results": [{"pupil_id": s.pupils["Gus"], "result": "12", "on": "2026-06-09"}]});
    lead.post(&format!("{path}/results"), body).expect(200);
    lead.with("If-Match", &lead.get(&path).etag()).post(&format!("{path}/submission"), json!({})).expect(200);
    let classes = lead.get("/classes").expect(200);
    let id = |name: &str| {
        let found = classes["items"].as_array().unwrap().iter().find(|one| one["name"] == name).unwrap();
        text(&found["id"])
    };
    let sheet = lead.get(&format!("{path}/letters?class_id={}", id("Birch"))).text;
    assert!(sheet.contains("carers of <bdi>Gus Ives</bdi>, class <bdi>Birch</bdi>"), "{sheet}");
    // Of Year 1 then: the check can be taken again.
    assert!(sheet.contains("which was 31 of 40.") && sheet.contains("taken again next year"));
    assert!(lead.get(&format!("{path}/letters?class_id={}", id("Alder"))).text.contains("Nobody asked for"));
}

#[test]
fn nobody_was_checked_on_a_day_away() {
    let s = Screened::new();
    let lead = s.lead();
    // Ann's last day is the Tuesday; Nia comes on the Wednesday.
    let path = format!("/pupils/{}", s.pupils["Ann"]);
    lead.patch(&path, &lead.get(&path).etag(), json!({"left_on": "2027-06-15"})).expect(200);
    let csv =
        "given_name,family_name,date_of_birth,year_group,class_name,upn\nNia,Moss,2020-11-01,Year 1,Alder,\n";
    let nia = screened::import(&lead, csv, "2027-06-16")["Nia"].clone();
    let of = |pupil: &str, on: &str| json!({"pupil_id": pupil, "result": "20", "on": on});
    let refused = |row: Value| s.enter(&lead, &[row]).problem(422, "invalid");
    assert_eq!(
        refused(of(&s.pupils["Ann"], "2027-06-16")),
        ["results[0].on: the pupil's last day here was 2027-06-15: nobody can have been checked after"]
    );
    assert_eq!(
        refused(of(&nia, "2027-06-15")),
        ["results[0].on: the pupil's first day here was 2027-06-16: nobody can have been checked before"]
    );
    s.enter(&lead, &[of(&s.pupils["Ann"], "2027-06-15"), of(&nia, "2027-06-16")]).expect(200);
}

#[test]
fn every_fault_of_an_amendment_is_named_at_once() {
    let s = Screened::new();
    let lead = s.lead();
    s.enter_all(&lead, &[("Ann", "20")]);
    s.submit(&lead, 7).expect(200);
    let amend = |name: &str, body: Value| {
        lead.post(&format!("{}/results/{}/amendments", s.window, s.pupils[name]), body)
    };
    let body =
        json!({"result": "20", "on": "2027-06-30", "amended_for": "because", "note": "x", "replaces": 1});
    let fields = |said: Vec<String>| -> Vec<String> {
        said.iter().map(|line| line.split_once(':').unwrap().0.to_owned()).collect()
    };
    let said = fields(amend("Ann", body).problem(422, "invalid"));
    assert_eq!(said, ["amended_for", "on", "replaces"]);
    let body = json!({"result": " ", "amended_for": "because", "note": "x"});
    assert_eq!(fields(amend("Hal", body).problem(422, "invalid")), ["amended_for", "result", "pupil_id"]);
    let body = json!({"result": "20", "on": "2027-06-15", "taken_by": s.pupils["Ann"], "amended_for": "because",
                      "note": "x", "replaces": s.version("Ann")});
    assert_eq!(fields(amend("Ann", body).problem(422, "invalid")), ["amended_for", "taken_by"]);
}

#[test]
fn who_is_on_roll_has_not_left() {
    let s = Screened::new();
    let lead = s.lead();
    let leaves = |on: &str| {
        let path = format!("/pupils/{}", s.pupils["Ann"]);
        lead.patch(&path, &lead.get(&path).etag(), json!({"left_on": on})).expect(200);
    };
    let left = || s.enter(&lead, &[s.result("Ann", "L", &json!({}))]);
    assert_eq!(
        left().problem(422, "invalid"),
        ["results[0].result: the pupil has no last day: set it first"]
    );
    leaves("2027-07-21");
    assert_eq!(
        left().problem(422, "invalid"),
        ["results[0].result: the pupil's last day is 2027-07-21, after the window"]
    );
    leaves("2027-06-15");
    left().expect(200);
}

#[test]
fn nobody_was_checked_on_no_school_day() {
    let s = Screened::new();
    let lead = s.lead();
    let closed = json!({"on": "2027-06-14", "kind": "closure", "reason": "weather"});
    lead.post("/closures", closed).expect(201);
    let refused = |on: &str| {
        let row = s.result("Ann", "20", &json!({"on": on}));
        s.enter(&lead, &[row]).problem(422, "invalid")
    };
    assert_eq!(refused("2027-06-14"), ["results[0].on: 2027-06-14 is no school day"]);
    s.enter(&lead, &[s.result("Ann", "20", &json!({"on": "2027-06-15"}))]).expect(200);
    s.submit(&lead, 7).expect(200);
    let body = json!({"result": "21", "on": "2027-06-14", "amended_for": "typed_wrongly", "note": "x",
                      "replaces": s.version("Ann")});
    let path = format!("{}/results/{}/amendments", s.window, s.pupils["Ann"]);
    assert_eq!(lead.post(&path, body).problem(422, "invalid"), ["on: 2027-06-14 is no school day"]);
}

#[test]
fn a_year_and_term_with_a_window_say_so_first() {
    let s = Screened::new();
    let again = s.lead().post("/statutory-windows", json!({"year": 2027, "term": "summer"}));
    assert_eq!(again.problem(409, "conflict"), ["term: has a window in this year already"]);
}

#[test]
fn a_letter_promises_no_help_to_who_has_left() {
    let s = Screened::new();
    let lead = s.lead();
    s.enter_all(&lead, &[("Ann", "3"), ("Bea", "3")]);
    let path = format!("/pupils/{}", s.pupils["Ann"]);
    lead.patch(&path, &lead.get(&path).etag(), json!({"left_on": "2027-06-15"})).expect(200);
    s.submit(&lead, 6).expect(200);
    s.threshold(31);
    let letter = |name: &str| lead.get(&format!("{}/letters?pupil_id={}", s.window, s.pupils[name])).text;
    assert!(letter("Bea").contains("The school will go on helping"), "{}", letter("Bea"));
    assert!(!letter("Ann").contains("go on helping") && letter("Ann").contains("which was 31 of 40."));
}
