//! The statutory check: who is to be checked, what is entered, when it is locked.
#![allow(clippy::unwrap_used)]

mod screened;

use plumbline_tests::{Client, Document, School, Server, Value, json, text};
use screened::{Screened, import};

fn reason(list: &Value) -> String {
    format!("{} {}", text(&list["standing"]), text(&list["reason"]))
}

#[test]
fn who_is_to_be_checked_and_why() {
    let s = Screened::new();
    let lead = s.lead();
    s.earlier("Fay", 2026, "31").expect(201);
    s.earlier("Gus", 2026, "30").expect(201);
    let seen = s.seen(&lead);
    let of = |name: &str| reason(&s.line(&seen["pupils"], name));
    assert_eq!(of("Ann"), "to_check year_group");
    // 31 was enough in 2026, and 30 was not.
    assert_eq!(of("Fay"), "not_to_check reached_before");
    assert_eq!(of("Gus"), "to_check below_before");
    assert_eq!(of("Ida"), "to_check no_earlier_result");
    assert_eq!(s.line(&seen["pupils"], "Hal"), Value::Null, "Reception is not of the window");
    assert_eq!((&seen["entered"], &seen["left"]), (&json!(0), &json!(7)));
    assert!(
        seen["pupils"].as_array().unwrap().iter().all(|one| one["entered"].is_null()),
        "nothing pre-filled"
    );
    // By year group, class and name; a teacher sees her own alone.
    let names: Vec<String> =
        seen["pupils"].as_array().unwrap().iter().map(|one| text(&one["name"])).collect();
    assert_eq!(names[0], "Ann Bell");
    assert_eq!(names[7], "Ida Kerr");
    let own = s.seen(&s.school.staff("teacher"));
    assert_eq!((own["pupils"].as_array().unwrap().len(), &own["left"]), (5, &json!(5)));
    // A result of another school is one of a year and term, and can be taken away.
    assert_eq!(s.earlier("Gus", 2026, "12").problem(409, "conflict").len(), 1);
    assert_eq!(
        s.earlier("Ida", 2026, "41").problem(422, "invalid"),
        ["result: must be a whole mark from 0 to 40"]
    );
    assert_eq!(s.earlier("Ida", 2026, " ").problem(422, "invalid"), ["result: is needed: a mark or a code"]);
    assert_eq!(s.earlier("Ida", 2028, "3").problem(422, "invalid").len(), 1);
    let path = format!("/pupils/{}/earlier-statutory-results", s.pupils["Fay"]);
    let held = lead.get(&path).expect(200)["items"][0].clone();
    assert_eq!((&held["mark"], &held["source"]), (&json!(31), &json!("another_school")));
    assert_eq!(lead.delete(&format!("{path}/{}", text(&held["id"])), &text(&held["etag"])).status, 204);
    assert_eq!(reason(&s.line(&s.seen(&lead)["pupils"], "Fay")), "to_check no_earlier_result");
    // Who left before it, or whose year group nobody recorded.
    let eli = format!("/pupils/{}", s.pupils["Eli"]);
    lead.patch(&eli, &lead.get(&eli).etag(), json!({"left_on": "2027-06-11"})).expect(200);
    assert_eq!(reason(&s.line(&s.seen(&lead)["pupils"], "Eli")), "not_to_check left_before");
    let class = lead.get("/classes").expect(200)["items"][0]["id"].clone();
    let kit = json!({"given_name": "Kit", "class_id": class, "from": "2027-01-04"});
    let kit = text(&lead.post("/pupils", kit).expect(201)["id"]);
    let seen = s.seen(&lead);
    let line = seen["pupils"].as_array().unwrap().iter().find(|one| one["pupil_id"] == *kit).unwrap().clone();
    assert_eq!(reason(&line), "open year_group_unknown");
    // Kit, Ann, Bea, Cal, Dee, Fay, Gus, Ida.
    assert_eq!(seen["left"], 8);
}

#[test]
fn what_is_typed_is_taken_or_refused_by_its_field() {
    let s = Screened::new();
    let teacher = s.school.staff("teacher");
    for (typed, said) in [
        ("-1", "result: must be a whole mark from 0 to 40"),
        ("41", "result: must be a whole mark from 0 to 40"),
        ("12.5", "result: must be a whole mark: each word is right or wrong"),
        ("A32", "result: holds a code and a mark: a code stands in place of a mark, so enter one of the two"),
        ("Wa", "result: Wa is worked out from the mark: enter the mark"),
        (
            "007",
            "result: is written with zeros before it, as a slip of the hand is: enter 7 if that is the mark",
        ),
        ("thirty", "result: is neither a mark from 0 to 40 nor one of A, D, L, Q"),
    ] {
        let good = s.result("Bea", "30", &json!({}));
        let bad = s.result("Ann", typed, &json!({"on": "2027-06-15"}));
        let errors = s.enter(&teacher, &[good, bad]).problem(422, "invalid");
        assert_eq!(errors, [format!("results[1].{said}")], "{typed}");
    }
    let one = |name: &str, result: &str, more: Value| {
        s.enter(&teacher, &[s.result(name, result, &more)]).problem(422, "invalid").remove(0)
    };
    assert!(one("Ann", "3", json!({"on": null})).starts_with("results[0].on: is needed"));
    assert!(one("Ann", "3", json!({"on": "2027-06-13"})).contains("2027-06-14 to 2027-06-25"));
    assert!(one("Ann", "3", json!({"on": "2027-06-17"})).contains("in the future"));
    assert!(one("Ann", "D", json!({})).contains("decided by the head or the lead"));
    assert!(one("Ann", "3", json!({"reason": "other"})).starts_with("results[0].reason"));
    assert!(
        one("Ann", "A", json!({"taken_by": s.school.staff_id("lead")})).starts_with("results[0].taken_by")
    );
    assert!(one("Ann", "3", json!({"taken_by": s.pupils["Ann"]})).contains("nobody of this school"));
    let twice = [s.result("Ann", "3", &json!({})), s.result("Ann", "4", &json!({}))];
    assert_eq!(s.enter(&teacher, &twice).problem(422, "invalid"), ["results[1].pupil_id: stands twice"]);
    // Pupils of another class are not there for this teacher; Reception is for nobody in this window.
    assert_eq!(s.enter(&teacher, &[s.result("Gus", "3", &json!({}))]).status, 404);
    let hal = s.enter(&s.lead(), &[s.result("Hal", "3", &json!({}))]).problem(422, "invalid");
    assert_eq!(hal, ["results[0].pupil_id: is of a year group that is not checked in this window"]);
    // All of it was refused whole.
    assert_eq!(s.seen(&s.lead())["entered"], 0);
    let entered = s.enter_all(&teacher, &[("Ann", " 0"), ("Bea", "a"), ("Cal", "A "), ("Dee", "  ")]);
    assert_eq!((entered["entered"].as_array().unwrap().len(), &entered["blank"]), (3, &json!(1)));
    let seen = s.seen(&teacher);
    let of = |name: &str| s.line(&seen["pupils"], name)["entered"].clone();
    assert_eq!((&of("Ann")["mark"], &of("Ann")["code"]), (&json!(0), &Value::Null));
    assert_eq!((&of("Bea")["code"], &of("Cal")["code"], of("Dee")), (&json!("A"), &json!("A"), Value::Null));
    assert_eq!(of("Ann")["taken_by"], *s.school.staff_id("teacher"));
    assert_eq!(of("Bea")["taken_by"], Value::Null);
    // Who gave it is not who types it.
    let by = s.school.staff_id("assistant");
    s.enter(&teacher, &[s.result("Dee", "12", &json!({"taken_by": by}))]).expect(200);
    let dee = s.line(&s.seen(&teacher)["pupils"], "Dee")["entered"].clone();
    assert_eq!((&dee["taken_by"], &dee["entered_by"]), (&json!(by), &json!(s.school.staff_id("teacher"))));
    // Nothing is entered before the window opens.
    let days = json!({"year": 2027, "term": "autumn", "opens_on": "2027-11-22", "closes_on": "2027-11-26"});
    let coming = s.lead().post("/statutory-windows", days).expect(201);
    let path = format!("/statutory-windows/{}/results", text(&coming["id"]));
    let early = s.lead().post(&path, json!({"results": [s.result("Ann", "A", &json!({}))]}));
    assert_eq!(early.problem(422, "invalid").len(), 1);
}

#[test]
fn two_adults_who_enter_at_once_are_told() {
    let s = Screened::new();
    let (teacher, head) = (s.school.staff("teacher"), s.school.staff("head"));
    s.enter_all(&teacher, &[("Ann", "20")]);
    let first = s.version("Ann");
    let said = s.enter(&head, &[s.result("Ann", "21", &json!({}))]).problem(409, "conflict");
    assert!(said[0].starts_with("results[0].replaces: another adult has entered a result"), "{said:?}");
    // By who has read it, it is replaced, visibly.
    s.enter(&head, &[s.result("Ann", "21", &json!({"replaces": first}))]).expect(200);
    let said =
        s.enter(&teacher, &[s.result("Ann", "22", &json!({"replaces": first}))]).problem(409, "conflict");
    assert!(said[0].contains("has changed this result since you read it"), "{said:?}");
    let path = format!("{}/results/{}", s.window, s.pupils["Ann"]);
    assert_eq!(teacher.delete(&path, &format!("\"v{first}\"")).problem(412, "stale").len(), 0);
    assert_eq!(teacher.delete(&path, &format!("\"v{}\"", s.version("Ann"))).status, 204);
    let gone =
        s.enter(&teacher, &[s.result("Ann", "22", &json!({"replaces": first}))]).problem(409, "conflict");
    assert!(gone[0].contains("taken back"), "{gone:?}");
    assert_eq!(teacher.delete(&path, "\"v1\"").status, 404);
    // Nothing was overwritten; the teacher does not read the history.
    assert_eq!(teacher.get(&format!("{path}/history")).status, 403);
    let history = s.lead().get(&format!("{path}/history")).expect(200);
    let marks: Vec<&Value> = history["items"].as_array().unwrap().iter().map(|line| &line["mark"]).collect();
    assert_eq!(marks, [&json!(20), &json!(21), &Value::Null]);
    assert_eq!(history["items"][1]["entered_by"], *s.school.staff_id("head"));
}

#[test]
fn a_window_opened_by_mistake_goes_while_nothing_was_entered() {
    let s = Screened::new();
    let lead = s.lead();
    let days = json!({"year": 2027, "term": "summer", "opens_on": "2027-06-07", "closes_on": "2027-06-11"});
    assert_eq!(
        lead.post("/statutory-windows", days.clone()).problem(409, "conflict"),
        ["term: has a window in this year already"]
    );
    let set = json!({"year": 2026, "term": "summer", "opens_on": "2026-06-08"});
    assert!(
        lead.post("/statutory-windows", set).problem(422, "invalid")[0].contains("2026-06-08 to 2026-06-12")
    );
    assert_eq!(lead.delete(&s.window, "\"v1\"").status, 412);
    assert_eq!(lead.delete(&s.window, &lead.get(&s.window).etag()).status, 204);
    assert_eq!(lead.get(&s.window).status, 404);
    let again = lead.post("/statutory-windows", days).expect(201);
    let path = format!("/statutory-windows/{}", text(&again["id"]));
    let body = json!({"results": [{"pupil_id": s.pupils["Ann"], "result": "A"}]});
    lead.post(&format!("{path}/results"), body).expect(200);
    let seen = lead.get(&path);
    let version = seen.json()["pupils"][0]["entered"]["version"].clone();
    lead.delete(&format!("{path}/results/{}", s.pupils["Ann"]), &format!("\"v{version}\""));
    assert_eq!(lead.delete(&path, &seen.etag()).problem(409, "conflict").len(), 0);
}

#[test]
fn of_two_first_entries_at_the_same_moment_one_is_taken() {
    let s = Screened::new();
    let adults = [s.school.staff("teacher"), s.school.staff("head"), s.lead()];
    let results: Vec<Value> = (0..3).map(|n| s.result("Ann", &format!("{}", 20 + n), &json!({}))).collect();
    let statuses: Vec<u16> = std::thread::scope(|scope| {
        let asked: Vec<_> = adults
            .iter()
            .zip(&results)
            .map(|(adult, result)| {
                let path = format!("{}/results", s.window);
                scope.spawn(move || adult.post(&path, json!({"results": [result]})).status)
            })
            .collect();
        asked.into_iter().map(|one| one.join().unwrap()).collect()
    });
    assert_eq!(statuses.iter().filter(|status| **status == 200).count(), 1, "{statuses:?}");
    assert_eq!(statuses.iter().filter(|status| **status == 409).count(), 2, "{statuses:?}");
}

#[test]
fn submitting_locks_and_an_amendment_has_a_reason_and_a_name() {
    let s = Screened::new();
    let (teacher, lead, head) = (s.school.staff("teacher"), s.lead(), s.school.staff("head"));
    s.enter_all(&teacher, &[("Ann", "31"), ("Bea", "30"), ("Cal", "A")]);
    s.enter(&head, &[s.result("Dee", "D", &json!({"reason": "just_arrived"}))]).expect(200);
    s.earlier("Fay", 2026, "40").expect(201);
    s.enter_all(&lead, &[("Gus", "33"), ("Ida", "5")]);
    assert_eq!(s.submit(&teacher, 1).status, 403);
    let early = s.submit(&head, 0).problem(409, "conflict");
    assert!(early[0].starts_with("go_on_without: 1 pupil has nothing entered"), "{early:?}");
    assert_eq!(s.submit(&head, 2).status, 409);
    let done = s.submit(&head, 1).expect(200);
    assert_eq!(done["submitted_by"], *s.school.staff_id("head"));
    assert_eq!(s.submit(&lead, 1).problem(409, "conflict").len(), 0);
    // Locked, for everybody.
    let late = s.enter(&lead, &[s.result("Eli", "20", &json!({}))]);
    assert_eq!(late.problem(409, "conflict").len(), 0);
    let ann = format!("{}/results/{}", s.window, s.pupils["Ann"]);
    assert_eq!(lead.delete(&ann, &format!("\"v{}\"", s.version("Ann"))).status, 409);
    let amend = |who: &Client, name: &str, body: Value| {
        who.post(&format!("{}/results/{}/amendments", s.window, s.pupils[name]), body)
    };
    let mut body = json!({"result": "13", "on": "2027-06-15", "amended_for": "typed_wrongly",
                          "note": "The sheet says 13.", "replaces": s.version("Ann")});
    assert_eq!(amend(&teacher, "Ann", body.clone()).status, 403);
    body["amended_for"] = json!("because");
    assert!(
        amend(&lead, "Ann", body.clone()).problem(422, "invalid")[0]
            .starts_with("amended_for: must be one of")
    );
    body["amended_for"] = json!("typed_wrongly");
    body["note"] = json!(" ");
    assert_eq!(amend(&lead, "Ann", body.clone()).problem(422, "invalid"), ["note: must not be empty"]);
    body["note"] = json!("The sheet says 13.");
    body["replaces"] = Value::Null;
    assert_eq!(amend(&lead, "Ann", body.clone()).problem(409, "conflict").len(), 1);
    body["replaces"] = s.version("Ann");
    amend(&lead, "Ann", body).expect(200);
    // What was missing can be found; who is not to be checked has no result to amend.
    let found =
        json!({"result": "20", "on": "2027-06-15", "amended_for": "found_since", "note": "In a drawer."});
    amend(&head, "Eli", found.clone()).expect(200);
    assert_eq!(amend(&head, "Fay", found).problem(422, "invalid").len(), 1);
    let history = lead.get(&format!("{ann}/history")).expect(200)["items"].clone();
    assert_eq!((&history[0]["mark"], &history[0]["amended_for"]), (&json!(31), &Value::Null));
    assert_eq!((&history[1]["mark"], &history[1]["note"]), (&json!(13), &json!("The sheet says 13.")));
    assert_eq!(history[1]["entered_by"], *s.school.staff_id("lead"));
    assert_eq!(s.seen(&lead)["left"], 0);
}

/// Every key of an answer, and of a schema with all it refers to.
fn keys(document: &Document, value: &Value, found: &mut Vec<String>) {
    let value = if value["$ref"].is_string() { document.resolve(value) } else { value };
    match value {
        Value::Object(fields) => {
            for (key, inner) in fields {
                found.push(key.clone());
                if key != "example" {
                    keys(document, inner, found);
                }
            }
        }
        Value::Array(list) => list.iter().for_each(|inner| keys(document, inner, found)),
        _ => {}
    }
}

#[test]
fn whoever_marks_sees_no_total_no_threshold_and_no_outcome() {
    let s = Screened::new();
    let (lead, teacher) = (s.lead(), s.school.staff("teacher"));
    s.threshold(31);
    let document = Document(s.school.nobody().get("/openapi.json").expect(200));
    let mut found = Vec::new();
    for id in [
        "enter_statutory_results",
        "amend_statutory_result",
        "get_statutory_window",
        "submit_statutory_window",
    ] {
        keys(&document, &document.operation(id).json["responses"], &mut found);
    }
    assert!(found.iter().any(|key| key == "standing") && found.iter().any(|key| key == "entered"));
    let entered =
        s.enter_all(&teacher, &[("Ann", "31"), ("Bea", "30"), ("Cal", "A"), ("Dee", "40"), ("Eli", "0")]);
    keys(&document, &entered, &mut found);
    keys(&document, &s.seen(&teacher), &mut found);
    keys(&document, &s.seen(&lead), &mut found);
    // Of a refusal too.
    keys(&document, &s.enter(&teacher, &[s.result("Ann", "99", &json!({}))]).json(), &mut found);
    s.submit(&lead, 3).expect(200);
    let body = json!({"result": "A", "amended_for": "other", "note": "x", "replaces": s.version("Ann")});
    let path = format!("{}/results/{}/amendments", s.window, s.pupils["Ann"]);
    keys(&document, &lead.post(&path, body).expect(200), &mut found);
    for word in
        ["total", "sum", "threshold", "met", "outcome", "pass", "percent", "predict", "score", "average"]
    {
        let named: Vec<&String> =
            found.iter().filter(|key| key.to_lowercase().split('_').any(|part| part == word)).collect();
        assert!(named.is_empty(), "{word}: {named:?}");
    }
    assert!(found.len() > 100);
    // And no operation of the check takes words.
    let bodies = ["ResultsToEnter", "Amendment", "NewEarlierResult", "NewStatutoryWindow", "NewThreshold"];
    for name in bodies {
        let mut taken = Vec::new();
        keys(&document, &document.0["components"]["schemas"][name]["properties"], &mut taken);
        assert!(!taken.is_empty(), "{name}");
        assert!(taken.iter().all(|key| !key.contains("word")), "{name}: {taken:?}");
    }
}

#[test]
fn another_rule_pack_runs_the_same_operations() {
    let s = School::on(Server::start("2026-08-05"));
    let config = s.server.folder.path().join("south-australia.toml");
    std::fs::write(&config, "rule_pack = \"south-australia\"\n").unwrap();
    let made = s.server.run(&[
        "--config",
        config.to_str().unwrap(),
        "account",
        "create",
        "--school",
        "Wirra School",
        "--name",
        "Di Admin",
        "--email",
        "admin@wirra.example",
        "--today",
        "2026-08-05",
    ]);
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    let made = String::from_utf8(made.stdout).unwrap();
    let token = made.split("/#/invitation/").nth(1).unwrap().split_whitespace().next().unwrap();
    let enter = |token: &str, email: &str| {
        let acceptance = json!({"token": token, "password": School::password()});
        s.nobody().post("/invitations/accept", acceptance).expect(200);
        s.nobody().with_token(s.sign_in(email)["access_token"].as_str().unwrap())
    };
    let admin = enter(token, "admin@wirra.example");
    let invite = json!({"name": "Jo Lead", "email": "lead@wirra.example",
                        "roles": [{"role": "lead", "from": "2026-01-01"}]});
    let invited = admin.post("/invitations", invite).expect(201);
    let lead = enter(invited["token"].as_str().unwrap(), "lead@wirra.example");
    let year = json!({"starts_on": "2026-01-27", "ends_on": "2026-12-11", "half_terms": [
        {"name": "Term 3 a", "starts_on": "2026-07-20", "ends_on": "2026-08-21"}]});
    lead.call("PUT", "/school-years/2026", Some(&year)).expect(200);
    let pupils = import(
        &lead,
        "given_name,family_name,year_group,class_name\nAnn,Bell,Year 1,Wattle\nBo,Cole,Year 1,Wattle\nCy,Dean,Year 2,Gum\n",
        "2026-01-27",
    );
    let days = json!({"year": 2026, "term": "summer", "opens_on": "2026-08-03", "closes_on": "2026-08-14"});
    assert_eq!(
        lead.post("/statutory-windows", days.clone()).problem(422, "invalid"),
        ["term: must be one of: term_3"]
    );
    let mut days = days;
    days["term"] = json!("term_3");
    let window =
        format!("/statutory-windows/{}", text(&lead.post("/statutory-windows", days).expect(201)["id"]));
    // Year 2 is not checked, and there are no codes.
    let seen = lead.get(&window).expect(200);
    assert_eq!((seen["pupils"].as_array().unwrap().len(), &seen["left"]), (2, &json!(2)));
    let result =
        |name: &str, result: &str| json!({"pupil_id": pupils[name], "result": result, "on": "2026-08-04"});
    let path = format!("{window}/results");
    let refused = lead.post(&path, json!({"results": [result("Ann", "A")]})).problem(422, "invalid");
    assert!(refused[0].starts_with("results[0].result: is neither a mark from 0 to 40"), "{refused:?}");
    lead.post(&path, json!({"results": [result("Ann", "28"), result("Bo", "27")]})).expect(200);
    // 28 is known before the check.
    let outcomes = lead.get(&format!("{window}/outcomes")).expect(200);
    assert_eq!(outcomes["threshold"], 28);
    let said: Vec<String> =
        outcomes["items"].as_array().unwrap().iter().map(|one| text(&one["outcome"])).collect();
    assert_eq!(said, ["met", "not_met"]);
    let summary = lead.get(&format!("{window}/summary")).expect(200);
    let year = &summary["year_groups"][0];
    assert_eq!((&year["in_window"]["met_percent"], &year["national"]), (&json!(50), &Value::Null));
    let seen = lead.get(&window);
    lead.with("If-Match", &seen.etag()).post(&format!("{window}/submission"), json!({})).expect(200);
    let letters = lead.get(&format!("{window}/letters"));
    assert!(
        letters.text.contains("Ann read 28 of 40 words correctly.") && letters.text.contains("the marker")
    );
    // The other school's pack is its own.
    assert_eq!(s.lead().get("/statutory-thresholds").expect(200)["every_year"], Value::Null);
}

/// Nobody is asked for the version of what they may not change.
#[test]
fn whoever_may_not_submit_is_told_that_first() {
    let s = Screened::new();
    let path = format!("{}/submission", s.window);
    s.school.staff("teacher").post(&path, json!({})).problem(403, "forbidden");
    s.lead().post(&path, json!({})).problem(428, "precondition_required");
}
