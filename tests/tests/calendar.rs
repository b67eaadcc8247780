//! School years, half terms, closures, teaching days.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{School, Server, TODAY, Value, column, json, lesson_ids, text};

fn term(name: &str, starts_on: &str, ends_on: &str) -> Value {
    json!({"name": name, "starts_on": starts_on, "ends_on": ends_on})
}

fn year(starts_on: &str, ends_on: &str, half_terms: &[Value]) -> Value {
    json!({"starts_on": starts_on, "ends_on": ends_on, "half_terms": half_terms})
}

/// The year of the suite with these half terms.
fn this_year(half_terms: &[Value]) -> Value {
    year("2026-09-01", "2027-08-31", half_terms)
}

fn autumn() -> Vec<Value> {
    vec![term("Autumn 1", "2026-09-01", "2026-10-23"), term("Autumn 2", "2026-11-02", "2026-12-18")]
}

/// Teaching days from one day to another.
fn taught(school: &School, from: &str, to: &str) -> u64 {
    let days = school.lead().get(&format!("/teaching-days?from={from}&to={to}")).expect(200);
    days["teaching_days"].as_u64().unwrap()
}

fn kind_of(school: &School, on: &str) -> String {
    let days = school.lead().get(&format!("/teaching-days?from={on}&to={on}")).expect(200);
    assert_eq!(days["days"][0]["on"], on);
    text(&days["days"][0]["kind"])
}

#[test]
fn a_new_year_needs_no_precondition_and_a_known_one_does() {
    let school = School::start();
    let lead = school.lead();
    let first = lead.call("PUT", "/school-years/2026", Some(&this_year(&autumn())));
    let saved = first.expect(200);
    assert_eq!(saved["year"], 2026);
    assert_eq!(saved["etag"], first.etag());
    assert_eq!(column(&saved["half_terms"], "name"), ["Autumn 1", "Autumn 2"]);
    assert_eq!(saved["half_terms"][1]["starts_on"], "2026-11-02");

    lead.call("PUT", "/school-years/2026", Some(&this_year(&autumn()))).problem(428, "precondition_required");
    lead.put("/school-years/2026", "\"v0\"", this_year(&[])).problem(412, "stale");
    lead.put("/school-years/2026", "*", this_year(&[])).problem(412, "stale");
    let listed = lead.get("/school-years").expect(200);
    assert_eq!(listed["items"], json!([saved]), "nothing was written by the refused ones");

    let again = lead.put("/school-years/2026", &first.etag(), this_year(&autumn()));
    again.expect(200);
    lead.put("/school-years/2026", &first.etag(), this_year(&[])).problem(412, "stale");
}

#[test]
fn a_half_term_keeps_its_id_while_it_keeps_its_name() {
    let school = School::start();
    let lead = school.lead();
    let first = lead.call("PUT", "/school-years/2026", Some(&this_year(&autumn())));
    let old = column(&first.expect(200)["half_terms"], "id");
    // A day longer, another name, and one more.
    let terms = [
        term("Autumn 1", "2026-09-01", "2026-10-22"),
        term("Late autumn", "2026-11-02", "2026-12-18"),
        term("Spring 1", "2027-01-05", "2027-02-12"),
    ];
    let second = lead.put("/school-years/2026", &first.etag(), this_year(&terms)).expect(200);
    let new = column(&second["half_terms"], "id");
    assert_eq!(new[0], old[0]);
    assert_eq!(second["half_terms"][0]["ends_on"], "2026-10-22");
    assert!(!old.contains(&new[1]) && !old.contains(&new[2]) && new[1] != new[2]);
    let listed = lead.get("/school-years").expect(200);
    assert_eq!(column(&listed["items"][0]["half_terms"], "id"), new);
}

#[test]
fn a_year_that_cannot_be_is_refused_with_its_field_and_nothing_is_written() {
    let school = School::start();
    let lead = school.lead();
    let refused = |path: &str, body: Value| lead.call("PUT", path, Some(&body)).problem(422, "invalid");
    let overlap = [term("One", "2026-09-01", "2026-10-23"), term("Two", "2026-10-23", "2026-12-18")];
    let cases = [
        (year("2026-09-01", "2026-08-31", &[]), "ends_on: the school year ends before it starts"),
        (year("2026-09-01", "2027-09-17", &[]), "ends_on: a school year lasts at most 380 days"),
        (year("2025-09-01", "2026-08-31", &[]), "starts_on: does not lie in this calendar year"),
        (
            this_year(&[term("One", "2026-10-23", "2026-09-01")]),
            "half_terms[0].ends_on: One ends before it starts",
        ),
        (
            this_year(&[term("One", "2026-08-31", "2026-10-23")]),
            "half_terms[0]: One lies outside the school year",
        ),
        (
            this_year(&[term("One", "2027-07-01", "2027-09-01")]),
            "half_terms[0]: One lies outside the school year",
        ),
        // The shared day is the last of the one and the first of the other: both are named.
        (this_year(&overlap), "half_terms[1].starts_on: Two starts before One has ended"),
        // In the wrong order.
        (
            this_year(&[overlap[1].clone(), term("One", "2026-09-01", "2026-10-22")]),
            "half_terms[1].starts_on: One lies before Two: give the half terms in the order of their days",
        ),
        (
            this_year(&[term("One", "2026-09-01", "2026-09-30"), term("one ", "2026-10-01", "2026-10-31")]),
            "half_terms[1].name: stands twice",
        ),
    ];
    for (body, complaint) in cases {
        assert_eq!(refused("/school-years/2026", body), [complaint]);
    }
    assert_eq!(
        refused("/school-years/1999", year("1999-09-01", "2000-08-31", &[])),
        ["year: must be 2000 to 2200"]
    );
    let no_teaching = [
        (
            year("2026-09-01", "2027-08-31", &[]),
            "half_terms: names no half term: the year would have no teaching day",
        ),
        (this_year(&[term("One", "2026-09-05", "2026-09-06")]), "half_terms[0]: One holds no teaching day"),
    ];
    for (body, complaint) in no_teaching {
        assert_eq!(refused("/school-years/2026", body), [complaint]);
    }
    let misspelt = json!({"starts_on": "2026-09-01", "ends_on": "2027-08-31", "half_terms": [], "terms": []});
    assert!(refused("/school-years/2026", misspelt)[0].is_about("terms"));
    let bad_date = year("2026-09-01", "2027-08-31", &[term("One", "2026-09-31", "2026-10-23")]);
    assert!(refused("/school-years/2026", bad_date)[0].is_about("half_terms[0].starts_on"));
    assert_eq!(lead.get("/school-years").expect(200)["items"], json!([]));
}

trait Complaint {
    fn is_about(&self, field: &str) -> bool;
}
impl Complaint for String {
    fn is_about(&self, field: &str) -> bool {
        self.starts_with(&format!("{field}: "))
    }
}

#[test]
fn two_years_never_share_a_day() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    // 31 August 2027 is the last day of the first.
    let next = |starts_on: &str| year(starts_on, "2028-07-31", &[term("Autumn", "2027-09-02", "2027-12-17")]);
    let refused = lead.call("PUT", "/school-years/2027", Some(&next("2027-08-31"))).problem(422, "invalid");
    assert_eq!(refused, ["starts_on: the year shares days with the school year 2026"]);
    lead.call("PUT", "/school-years/2027", Some(&next("2027-09-01"))).expect(200);
    let listed = lead.get("/school-years").expect(200);
    let years: Vec<_> = listed["items"].as_array().unwrap().iter().map(|y| y["year"].clone()).collect();
    assert_eq!(years, [2026, 2027]);
}

#[test]
fn closures_are_on_teaching_days_once_and_with_a_known_reason() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let close = |on: &str, kind: &str, reason: &str| {
        lead.post("/closures", json!({"from": on, "kind": kind, "reason": reason}))
    };
    let made = close("2026-11-12", "closure", "weather");
    let closure = made.expect(201);
    assert_eq!(made.header("Location"), format!("/api/v1/closures/{}", text(&closure["id"])));
    assert_eq!((&closure["from"], &closure["reason"]), (&json!("2026-11-12"), &json!("weather")));
    assert_eq!((&closure["until"], &closure["part"]), (&json!("2026-11-12"), &json!("whole")));

    assert_eq!(
        close("2026-11-12", "inset", "training").problem(409, "conflict"),
        ["from: 2026-11-12 is closed already: closure of 2026-11-12"]
    );
    let not_a_day = ["from: no lessons are due for any of them then"];
    // A Saturday, the autumn break, the summer before.
    for day in ["2026-11-14", "2026-10-28", "2026-08-31"] {
        assert_eq!(close(day, "closure", "weather").problem(422, "invalid"), not_a_day, "{day}");
    }
    let reason = close("2026-11-13", "closure", "snow").problem(422, "invalid");
    assert_eq!(
        reason,
        ["reason: give one of: weather, building, election, training, trip, public_holiday, other"]
    );
    assert!(close("2026-11-13", "holiday", "other").problem(422, "invalid")[0].is_about("kind"));
    // A reason is not needed, and `on` is a first day without a last one.
    lead.post("/closures", json!({"on": "2026-09-01", "kind": "inset"})).expect(201);
    let listed = lead.get("/closures").expect(200);
    assert_eq!(column(&listed["items"], "from"), ["2026-09-01", "2026-11-12"]);
    assert_eq!(kind_of(&school, "2026-11-12"), "closure");
    assert_eq!(kind_of(&school, "2026-09-01"), "inset");
}

#[test]
fn a_closure_can_be_taken_back_and_made_again() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let body = json!({"on": "2026-11-12", "kind": "closure", "reason": "weather"});
    let id = text(&lead.post("/closures", body.clone()).expect(201)["id"]);
    let path = format!("/closures/{id}");
    lead.call("DELETE", &path, None).expect(204);
    assert_eq!(kind_of(&school, "2026-11-12"), "teaching");
    lead.call("DELETE", &path, None).problem(404, "not_found");
    let again = lead.post("/closures", body).expect(201);
    assert_ne!(again["id"], id);
    assert_eq!(kind_of(&school, "2026-11-12"), "closure");
}

#[test]
fn teaching_days_are_counted_as_by_hand() {
    let school = School::start();
    school.calendar();
    // Tuesday 1 September to Friday: 4; then seven whole weeks to 23 October: 35.
    assert_eq!(taught(&school, "2026-09-01", "2026-10-23"), 39);
    // Monday 2 November to Friday 18 December: seven whole weeks.
    assert_eq!(taught(&school, "2026-11-02", "2026-12-18"), 35);
    assert_eq!(taught(&school, "2026-08-01", "2027-08-31"), 74);
    for (on, kind) in [
        ("2026-08-31", "out_of_year"),
        ("2026-09-01", "teaching"),
        ("2026-09-05", "weekend"),
        ("2026-10-24", "holiday"),
        ("2026-10-28", "holiday"),
        ("2027-09-01", "out_of_year"),
    ] {
        assert_eq!(kind_of(&school, on), kind, "{on}");
    }
    let lead = school.lead();
    let closed = lead.post("/closures", json!({"on": "2026-11-12", "kind": "closure"})).expect(201);
    lead.post("/closures", json!({"on": "2026-11-02", "kind": "inset", "reason": "training"})).expect(201);
    assert_eq!(taught(&school, "2026-11-02", "2026-12-18"), 33);
    lead.call("DELETE", &format!("/closures/{}", text(&closed["id"])), None).expect(204);
    assert_eq!(taught(&school, "2026-11-02", "2026-12-18"), 34);
}

#[test]
fn a_question_about_days_is_bounded() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let ask = |query: &str| lead.get(&format!("/teaching-days?{query}"));
    let days = ask("from=2026-09-01&to=2027-10-06").expect(200);
    assert_eq!(days["days"].as_array().unwrap().len(), 401, "400 days later, both ends counted");
    let bound = ["to: must be the first day or up to 400 days later"];
    assert_eq!(ask("from=2026-09-01&to=2027-10-07").problem(422, "invalid"), bound);
    assert_eq!(ask("from=2026-09-02&to=2026-09-01").problem(422, "invalid"), bound);
    for (query, said) in [
        ("from=2026-09-01", "to: missing field `to`"),
        ("from=2026-02-30&to=2026-03-01", "from: is not a date; write 2026-09-01"),
        ("from=2026-09-01&to=1066-10-14", "to: must lie in the years 1900 to 2200"),
        (
            "from=2026-09-01&to=2026-09-02&on=1",
            "on: unknown field `on`, expected one of `from`, `to`, `class_id`, `year_group`, `group_id`",
        ),
    ] {
        assert_eq!(ask(query).problem(422, "invalid"), [said], "{query}");
    }
}

#[test]
fn a_date_reads_back_the_same_in_winter_and_in_summer() {
    let school = School::on(Server::start("2027-07-20"));
    let terms = [term("Spring 1", "2027-01-05", "2027-02-12"), term("Summer 2", "2027-06-07", "2027-07-22")];
    let lead = school.lead();
    lead.call("PUT", "/school-years/2026", Some(&this_year(&terms))).expect(200);
    let (sequence, content) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder")]);
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"]]);
    let lessons = lesson_ids(&content);
    for (on, lesson) in [("2027-01-13", &lessons[0]), ("2027-07-14", &lessons[1])] {
        let made = school.log_lesson(&lead, &group, on, lesson, "delivered", &json!({}));
        let made = made.expect(201);
        assert_eq!((&made["on"], &made["warnings"]), (&json!(on), &json!([])));
        let read = lead.get(&format!("/lesson-records/{}", text(&made["id"]))).expect(200);
        assert_eq!(read["on"], on);
        let closed =
            lead.post("/closures", json!({"on": on, "kind": "closure", "with_records": true})).expect(201);
        assert_eq!(closed["from"], on);
    }
    let listed = lead.get(&format!("/groups/{group}/lesson-records")).expect(200);
    assert_eq!(column(&listed["items"], "on"), ["2027-07-14", "2027-01-13"]);
    assert_eq!(column(&lead.get("/closures").expect(200)["items"], "from"), ["2027-01-13", "2027-07-14"]);
    let zoe = lead.get(&format!("/pupils/{}", pupils["Zoe"])).expect(200);
    assert_eq!(zoe["date_of_birth"], "2020-05-31");
}

#[test]
fn today_is_the_schools_and_not_the_servers() {
    let school = School::start();
    school.calendar();
    let (sequence, content) = school.sequence();
    let group = school.group("Alder", &sequence, &[]);
    let (lead, lesson) = (school.lead(), lesson_ids(&content)[0].clone());
    let profile = lead.get("/school");
    // Nine in the morning in London is ten in the evening of the day before on Samoa.
    let moved = lead.patch("/school", &profile.etag(), json!({"time_zone": "Pacific/Pago_Pago"}));
    moved.expect(200);
    let refused = school.log_lesson(&lead, &group, TODAY, &lesson, "delivered", &json!({}));
    assert_eq!(refused.problem(422, "invalid"), ["on: 2026-11-25 is in the future"]);
    let kept = school.log_lesson(&lead, &group, "2026-11-24", &lesson, "delivered", &json!({}));
    assert_eq!(kept.expect(201)["warnings"], json!(["nobody_in_group"]));
}
