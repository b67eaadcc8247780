//! The attainment report, against figures worked by hand.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Client, Pupils, School, TODAY, Value, column, json, lesson_ids, text};

const SOUNDS: [(&str, &str); 4] = [("m", "m"), ("o", "ɒ"), ("d", "d"), ("e", "e")];

/// A small school half way through its second half term.
struct Term {
    school: School,
    half_terms: Vec<String>,
    sequence: String,
    content: Value,
    pupils: Pupils,
}

impl Term {
    fn report(&self, query: &str) -> Value {
        self.school.lead().get(&format!("/reports/attainment?{query}")).expect(200)
    }

    fn as_of(&self, day: &str) -> Value {
        self.report(&format!("as_of={day}"))
    }
}

fn import(lead: &Client, csv: &str) {
    let csv = format!("given_name,family_name,date_of_birth,year_group,class_name\n{csv}");
    let preview = lead.post_csv("/roster-imports", csv.as_bytes()).expect(201);
    let path = format!("/roster-imports/{}/confirm", text(&preview["id"]));
    lead.post(&path, json!({"from": "2026-09-01"})).expect(200);
}

/// Pupils: Zoe, Max and Lea in Alder (Year 1), Ida in Rowan (Reception), and Ned, who joins
/// Rowan on 20 November. Lea's last day is 13 November.
fn people(school: &School) -> Pupils {
    let lead = school.lead();
    import(
        &lead,
        "Zoe,Bell,2020-05-31,Year 1,Alder\nMax,Bell,2020-05-30,Year 1,Alder\n\
         Lea,Bell,2020-05-29,Year 1,Alder\nIda,Bell,2021-05-28,Reception,Rowan\n",
    );
    let rowan = text(&lead.get("/classes").expect(200)["items"][1]["id"]);
    let ned = json!({"given_name": "Ned", "family_name": "Bell", "year_group": "Reception", "class_id": rowan,
                     "from": "2026-11-20"});
    lead.post("/pupils", ned).expect(201);
    let listed = lead.get("/pupils").expect(200)["items"].clone();
    let first = |line: &Value| text(&line["name"]).split(' ').next().unwrap().to_owned();
    listed.as_array().unwrap().iter().map(|line| (first(line), text(&line["id"]))).collect()
}

/// Lessons: m and o on the 2nd (Max absent), d on the 3rd, m and o again on the 4th with
/// everyone; Ida's group m and o on the 9th; a third group, with Zoe alone, m and o on the
/// 9th and e on the 10th. So Max was taught m and o on the 4th, and e is only Zoe's.
fn teaching(t: &Term) {
    let (lead, lessons) = (t.school.lead(), lesson_ids(&t.content));
    let p = &t.pupils;
    let alder = t.school.group("Alder", &t.sequence, &[&p["Zoe"], &p["Max"], &p["Lea"]]);
    let rowan = t.school.group("Rowan", &t.sequence, &[&p["Ida"]]);
    let alone = t.school.group("Alone", &t.sequence, &[&p["Zoe"]]);
    let absent = json!({"register": [{"pupil_id": p["Max"], "mark": "absent"}]});
    let log = |group: &str, on: &str, n: usize, outcome: &str, more: &Value| {
        t.school.log_lesson(&lead, group, on, &lessons[n], outcome, more).expect(201);
    };
    log(&alder, "2026-11-02", 0, "delivered", &absent);
    log(&alder, "2026-11-03", 1, "delivered", &json!({}));
    log(&alder, "2026-11-04", 0, "retaught", &json!({}));
    log(&rowan, "2026-11-09", 0, "delivered", &json!({}));
    log(&alone, "2026-11-09", 0, "delivered", &json!({}));
    log(&alone, "2026-11-10", 2, "delivered", &json!({}));
    let path = format!("/groups/{rowan}");
    let joined = json!({"from": "2026-11-20", "pupil_ids": [p["Ida"], p["Ned"]]});
    lead.put(&format!("{path}/members"), &lead.get(&path).etag(), joined).expect(200);
    let path = format!("/pupils/{}", p["Lea"]);
    lead.patch(&path, &lead.get(&path).etag(), json!({"left_on": "2026-11-13"})).expect(200);
}

/// Four rounds of the sounds, the last with three words; and the words once in October.
fn checking(t: &Term) {
    let lead = t.school.lead();
    let sounds = t.school.gpc_check("Sounds", &SOUNDS);
    let words = t.school.word_check("Words", &["mop", "dot", "pod"]);
    let october = t.school.round("R0", "2026-10-12", "2026-10-23", &[&words.0]);
    let rounds = [
        t.school.round("R1", "2026-11-05", "2026-11-06", &[&sounds.0]),
        t.school.round("R2", "2026-11-09", "2026-11-11", &[&sounds.0]),
        t.school.round("R3", "2026-11-10", "2026-11-18", &[&sounds.0]),
        t.school.round("R4", "2026-11-13", "2026-11-25", &[&sounds.0, &words.0]),
    ];
    // Sounds by their letter.
    let hear = |round: usize, pupil: &str, on: &str, answers: &[(&str, &str)]| {
        let answers: Vec<(&str, &str)> = answers
            .iter()
            .map(|(letter, outcome)| {
                let n = SOUNDS.iter().position(|(grapheme, _)| grapheme == letter).unwrap();
                (sounds.1[n].as_str(), *outcome)
            })
            .collect();
        let of = (rounds[round - 1].as_str(), t.pupils[pupil].as_str(), sounds.0.as_str());
        t.school.answer(&lead, of, on, &answers).expect(201)
    };
    let read = |round: &str, pupil: &str, on: &str, outcomes: [&str; 3]| {
        let answers: Vec<(&str, &str)> = words.1.iter().map(String::as_str).zip(outcomes).collect();
        let of = (round, t.pupils[pupil].as_str(), words.0.as_str());
        t.school.answer(&lead, of, on, &answers).expect(201);
    };
    read(&october, "Zoe", "2026-10-14", ["right", "right", "right"]);
    hear(1, "Zoe", "2026-11-05", &[("m", "right"), ("o", "right"), ("d", "right")]);
    hear(2, "Zoe", "2026-11-10", &[("m", "right"), ("o", "right"), ("d", "right")]);
    let third = hear(3, "Zoe", "2026-11-12", &[("m", "right"), ("o", "wrong"), ("d", "right")]);
    hear(4, "Zoe", "2026-11-24", &[("d", "wrong")]);
    hear(1, "Max", "2026-11-05", &[("m", "right"), ("o", "not_offered"), ("d", "right")]);
    hear(2, "Max", "2026-11-09", &[("d", "right")]);
    hear(3, "Max", "2026-11-10", &[("m", "right"), ("d", "right")]);
    hear(2, "Ida", "2026-11-10", &[("o", "right")]);
    hear(3, "Ida", "2026-11-12", &[("o", "right")]);
    hear(4, "Ida", "2026-11-13", &[("m", "no_response"), ("o", "right")]);
    read(&rounds[3], "Zoe", "2026-11-23", ["right", "right", "wrong"]);
    read(&rounds[3], "Max", "2026-11-16", ["right", "no_response", "not_offered"]);
    read(&rounds[3], "Ida", "2026-11-18", ["wrong", "right", "right"]);
    // Zoe's o of the 12th was right after all.
    let body = json!({"response_id": third["items"][1]["id"], "outcome": "right"});
    let path = format!("/check-rounds/{}/pupils/{}/corrections", rounds[2], t.pupils["Zoe"]);
    lead.post(&path, body).expect(201);
}

fn term() -> Term {
    let school = School::start();
    let half_terms = school.calendar();
    let (sequence, content) = school.sequence();
    let pupils = people(&school);
    let t = Term { school, half_terms, sequence, content, pupils };
    teaching(&t);
    checking(&t);
    t
}

/// A row: name; pupils, checked, middle age; taught, secure, not yet, right so far, unknown, percent;
/// offered, right, percent.
fn row(
    name: Option<&str>,
    (pupils, checked, age): (u64, u64, Option<i64>),
    gpcs: [u64; 5],
    secure_percent: Option<u64>,
    (offered, right, right_percent): (u64, u64, Option<u64>),
) -> Value {
    json!({
        "name": name, "pupils": pupils, "checked": checked, "median_check_age_days": age,
        "gpcs": {"taught": gpcs[0], "secure": gpcs[1], "not_yet_secure": gpcs[2], "right_so_far": gpcs[3],
                 "unknown": gpcs[4],
                 "secure_percent": secure_percent},
        "carried_in": {"taught": 0, "secure": 0, "not_yet_secure": 0, "right_so_far": 0, "unknown": 0,
                       "secure_percent": null},
        "carried_in_answers": 0,
        "words": {"offered": offered, "right": right, "right_percent": right_percent},
        "read_with_care": true})
}

/// Secure is right on three separate days, one of them 7 days after teaching, and right last.
/// Zoe: m and o secure (right on the 5th, 10th and 12th, taught on the 2nd; o by the
/// correction), d not (wrong last), e unknown (never asked). Max: d secure (taught on the
/// 3rd, right on the 5th, 9th and 10th, the 7th day), m not (two days), o unknown (not
/// offered). Ida: m not (no response), o not (the last right day is the 4th after teaching).
/// Ned: m and o unknown, for nobody has asked. So 11 pairs: 3 secure, 4 not yet, 4 unknown;
/// 3 of 7 are 42.9 %. Right every time, though not secure: Max's m and Ida's o.
/// Words, October left out: Zoe 2 of 3, Max 1 of 2, Ida 2 of 3; 5 of 8 are 62.5 %, up.
/// Last checked: Zoe 1 day ago, Max 9, Ida 7, Ned never.
#[test]
fn every_figure_is_as_worked_by_hand() {
    let t = term();
    let report = t.as_of(TODAY);
    assert_eq!(report["school"], row(None, (4, 3, Some(7)), [11, 3, 4, 2, 4], Some(43), (8, 5, Some(63))));
    // Of two ages the higher one stands in the middle: 1 and 9 days.
    let alder = |name: &str| row(Some(name), (2, 2, Some(9)), [7, 3, 2, 1, 2], Some(60), (5, 3, Some(60)));
    let rowan = |name: &str| row(Some(name), (2, 1, Some(7)), [4, 0, 2, 1, 2], Some(0), (3, 2, Some(67)));
    assert_eq!(report["classes"], json!([alder("Alder"), rowan("Rowan")]));
    // Youngest first, not by name.
    assert_eq!(report["year_groups"], json!([rowan("Reception"), alder("Year 1")]));
    assert_eq!(
        (&report["half_term"], &report["half_term_id"]),
        (&json!("Autumn 2"), &json!(t.half_terms[1]))
    );
    assert_eq!((&report["as_of"], &report["audience"]), (&json!(TODAY), &json!("internal")));
    assert_eq!(
        report["secure_means"],
        json!({"right_on_days": 3, "days_after_teaching": 7, "carried_in_days": 1})
    );
    assert!(report["caution"].as_str().unwrap().contains("do not publish"));
    assert!(
        report["cautions"]
            .as_array()
            .unwrap()
            .iter()
            .any(|text| text.as_str().unwrap().contains("not a diagnosis"))
    );
    let version =
        json!({"version_id": t.content["id"], "sequence": "Our sequence", "number": 1, "this_year": true});
    assert_eq!(report["versions"], json!([version]));
    // Without a question it is today's half term as of today.
    assert_eq!(t.report(""), report);
    assert_eq!(t.report(&format!("half_term_id={}", t.half_terms[1])), report);
}

/// On the 10th: Lea is here, Ned is not. Pairs: Zoe 4, Max 3, Lea 3, Ida 2. Zoe's m, o and d
/// were right on two days, Max's m on two and d on three, the last the 7th day: secure; Ida's
/// o on one. Unknown: Zoe's e, Max's o, Lea's three, Ida's m. 1 of 6 is 16.7 %.
#[test]
fn an_earlier_day_knows_nothing_of_what_came_later() {
    let t = term();
    let report = t.as_of("2026-11-10");
    assert_eq!(report["school"], row(None, (4, 3, Some(0)), [12, 1, 5, 5, 6], Some(17), (0, 0, None)));
    assert_eq!(column(&report["classes"], "name"), ["Alder", "Rowan"]);
    let alder = row(Some("Alder"), (3, 2, Some(0)), [10, 1, 4, 4, 5], Some(20), (0, 0, None));
    assert_eq!(report["classes"][0], alder);
    // The day before, Max's third right day was still to come: nobody's anything is secure.
    // m, o and d are not yet for Zoe, m and d for Max; e is not taught before the 10th.
    let before = t.as_of("2026-11-09");
    assert_eq!(before["school"], row(None, (4, 2, Some(4)), [11, 0, 5, 5, 6], Some(0), (0, 0, None)));
}

#[test]
fn a_leaver_counts_to_the_last_day_and_an_arrival_from_the_first() {
    let t = term();
    let pupils = |day: &str| {
        let report = t.as_of(day);
        let classes: Vec<Value> =
            report["classes"].as_array().unwrap().iter().map(|row| row["pupils"].clone()).collect();
        (report["school"]["pupils"].as_u64().unwrap(), classes)
    };
    assert_eq!(pupils("2026-11-13"), (4, vec![json!(3), json!(1)]));
    assert_eq!(pupils("2026-11-14"), (3, vec![json!(2), json!(1)]));
    assert_eq!(pupils("2026-11-19"), (3, vec![json!(2), json!(1)]));
    assert_eq!(pupils("2026-11-20"), (4, vec![json!(2), json!(2)]));
    // The arrival is unknown, which is not "not secure", and in no percentage.
    let rowan = |day: &str| t.as_of(day)["classes"][1]["gpcs"].clone();
    let without = json!({"taught": 2, "secure": 0, "not_yet_secure": 2, "right_so_far": 1, "unknown": 0, "secure_percent": 0});
    let with = json!({"taught": 4, "secure": 0, "not_yet_secure": 2, "right_so_far": 1, "unknown": 2, "secure_percent": 0});
    assert_eq!((rowan("2026-11-19"), rowan("2026-11-20")), (without, with));
}

/// October: four pupils, no lesson, and Zoe's three words on the 14th, 9 days before the end.
#[test]
fn a_half_term_counts_its_own_checks_whenever_it_is_looked_at() {
    let t = term();
    let query = format!("half_term_id={}", t.half_terms[0]);
    let report = t.report(&query);
    assert_eq!((&report["half_term"], &report["as_of"]), (&json!("Autumn 1"), &json!("2026-10-23")));
    assert_eq!(report["school"], row(None, (4, 1, Some(9)), [0; 5], None, (3, 3, Some(100))));
    assert_eq!(report["versions"], json!([]));
    // Looked at from today: the pairs of today, the checks of October.
    let later = t.report(&format!("{query}&as_of={TODAY}"));
    assert_eq!(later["school"], row(None, (4, 1, Some(42)), [11, 3, 4, 2, 4], Some(43), (3, 3, Some(100))));
}

#[test]
fn nobody_and_nothing_are_no_percentage() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let report = lead.get("/reports/attainment").expect(200);
    assert_eq!(report["school"], row(None, (0, 0, None), [0; 5], None, (0, 0, None)));
    assert_eq!(
        (&report["classes"], &report["year_groups"], &report["versions"]),
        (&json!([]), &json!([]), &json!([]))
    );
    let (sequence, content) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder")]);
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"]]);
    school.log_lesson(&lead, &group, TODAY, &lesson_ids(&content)[0], "delivered", &json!({})).expect(201);
    // Taught and never asked: unknown, and nothing to take a percentage of.
    let report = lead.get("/reports/attainment").expect(200);
    assert_eq!(report["school"], row(None, (1, 0, None), [2, 0, 0, 0, 2], None, (0, 0, None)));
}

#[test]
fn a_pupil_without_a_class_counts_apart_and_in_the_whole() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let (sequence, content) = school.sequence();
    let mut pupils = school.pupils(&[("Zoe", "Alder")]);
    let ida = lead.post("/pupils", json!({"given_name": "Ida", "family_name": "Bell"})).expect(201);
    pupils.insert("Ida".into(), text(&ida["id"]));
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"], &pupils["Ida"]]);
    school.log_lesson(&lead, &group, TODAY, &lesson_ids(&content)[0], "delivered", &json!({})).expect(201);
    let report = lead.get("/reports/attainment").expect(200);
    assert_eq!(report["school"], row(None, (2, 0, None), [4, 0, 0, 0, 4], None, (0, 0, None)));
    let one = |name: Option<&str>| row(name, (1, 0, None), [2, 0, 0, 0, 2], None, (0, 0, None));
    assert_eq!(report["classes"], json!([one(Some("Alder")), one(None)]));
    assert_eq!(report["year_groups"], json!([one(Some("Year 1")), one(None)]));
}

#[test]
fn fewer_than_ten_pupils_are_to_be_read_with_care() {
    let school = School::start();
    school.calendar();
    let names: Vec<String> = (0..10).map(|n| format!("Pupil{n}")).collect();
    let class_of = |n: usize| if n < 9 { "Alder" } else { "Rowan" };
    let pupils: Vec<(&str, &str)> =
        names.iter().enumerate().map(|(n, name)| (name.as_str(), class_of(n))).collect();
    school.pupils(&pupils);
    let report = school.lead().get("/reports/attainment").expect(200);
    let line = |row: &Value| (row["pupils"].as_u64().unwrap(), row["read_with_care"].as_bool().unwrap());
    assert_eq!(line(&report["school"]), (10, false));
    assert_eq!((line(&report["classes"][0]), line(&report["classes"][1])), ((9, true), (1, true)));
}

#[test]
fn a_report_run_again_after_a_label_was_put_right_is_the_same() {
    let t = term();
    let lead = t.school.lead();
    let before = t.as_of("2026-11-24");
    let draft = format!("/sequences/{}/draft", t.sequence);
    let mut steps = t.content["steps"].clone();
    steps[0]["lessons"][1]["items"][1]["label"] = json!("The");
    steps[0]["title"] = json!("First step");
    lead.put(&draft, &lead.get(&draft).etag(), json!({"steps": steps})).expect(200);
    let path = format!("/sequences/{}/versions", t.sequence);
    let second = lead.post(&path, json!({"effective_on": TODAY})).expect(201);
    assert_eq!(t.as_of("2026-11-24"), before);
    // A lesson under the new version: both versions are named, and pairs keep their identity.
    let group = text(&lead.get("/groups").expect(200)["items"][0]["id"]);
    t.school.log_lesson(&lead, &group, TODAY, &lesson_ids(&t.content)[0], "retaught", &json!({})).expect(201);
    let after = t.as_of(TODAY);
    let mut versions: Vec<(u64, String)> = after["versions"]
        .as_array()
        .unwrap()
        .iter()
        .map(|version| (version["number"].as_u64().unwrap(), text(&version["version_id"])))
        .collect();
    versions.sort();
    assert_eq!(versions, [(1, text(&t.content["id"])), (2, text(&second["id"]))]);
    assert_eq!(after["school"]["gpcs"]["taught"], 11);
    assert_eq!(t.as_of("2026-11-24"), before);
}

#[test]
fn what_cannot_be_reported_is_refused() {
    let school = School::start();
    let lead = school.lead();
    let ask = |query: &str| lead.get(&format!("/reports/attainment?{query}"));
    let none = ["half_term_id: that day lies in no half term: name one"];
    assert_eq!(ask("").problem(422, "invalid"), none);
    let half_terms = school.calendar();
    assert_eq!(ask("as_of=2026-10-28").problem(422, "invalid"), none);
    let early = ask(&format!("half_term_id={}&as_of=2026-11-01", half_terms[1]));
    assert_eq!(early.problem(422, "invalid"), ["as_of: lies before the half term"]);
    assert_eq!(ask("as_of=2026-11-26").problem(422, "invalid"), ["as_of: is in the future"]);
    ask("half_term_id=0199f2c4-0000-7000-8000-000000000004").problem(404, "not_found");
    assert_eq!(ask("as_of=today").problem(422, "invalid"), ["as_of: is not a date; write 2026-09-01"]);
    assert!(ask("class=Alder").problem(422, "invalid")[0].starts_with("class: unknown field"));
}

#[test]
fn reading_the_report_is_in_the_audit_log() {
    let school = School::start();
    school.calendar();
    school.staff("head").get("/reports/attainment").expect(200);
    let log = school.staff("administrator").get("/audit-entries?limit=1").expect(200);
    let entry = &log["items"][0];
    assert_eq!(
        (&entry["operation"], &entry["subject_kind"]),
        (&json!("report.attainment"), &json!("half_term"))
    );
    assert_eq!(entry["staff_id"], school.staff_id("head"));
    school.staff("teacher").get("/reports/attainment").problem(403, "forbidden");
}
