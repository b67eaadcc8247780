//! Proposals of a sequence: asked for, followed, cancelled, and what becomes of them when the
//! server has enough to do or stops.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Client, School, Value, column, json, text};

const PATH: &str = "/sequence-proposals";

/// A search of a moment.
fn small() -> Value {
    json!({"steps": 12, "beam": 2, "seed": 5, "letters_first": 8, "leave_out": ["x:ks"]})
}

/// A search of many seconds, in any build.
fn long() -> Value {
    json!({"steps": 170, "beam": 500})
}

fn ask(lead: &Client, constraints: Value) -> String {
    let asked = lead.post(PATH, constraints);
    let id = text(&asked.expect(202)["id"]);
    assert_eq!(asked.header("Location"), format!("/api/v1{PATH}/{id}"));
    id
}

fn over(lead: &Client, id: &str) -> Value {
    lead.get(&format!("{PATH}/{id}?wait=60")).expect(200)
}

#[test]
fn a_proposal_is_searched_for_and_can_be_saved_as_a_draft() {
    let school = School::start();
    let lead = school.lead();
    let id = ask(&lead, small());
    let done = over(&lead, &id);
    assert_eq!((&done["status"], &done["problem"]), (&json!("done"), &Value::Null), "{done}");
    assert_eq!(done["progress"], json!({"done": 1.0, "doing": "done"}));
    assert_eq!(done["created_by"], json!(school.staff_id("lead")));
    // Defaults are filled in, so that the whole of it can be asked for again.
    assert_eq!((&done["constraints"]["words_by"], &done["constraints"]["seed"]), (&json!(3), &json!(5)));
    let (draft, figures) = (&done["result"]["draft"], &done["result"]["figures"]);
    assert_eq!(draft["steps"].as_array().unwrap().len(), 12);
    assert_eq!((figures["unmet"].clone(), figures["words"].as_array().unwrap().len()), (json!([]), 12));

    let sequence = text(&lead.post("/sequences", json!({"name": "Proposed"})).expect(201)["id"]);
    let path = format!("/sequences/{sequence}/draft");
    lead.put(&path, &lead.get(&path).etag(), draft.clone()).expect(200);
    let analysis = lead.get(&format!("{path}/analysis")).expect(200);
    assert_eq!(analysis["publishable"], true);
    let words = column(&analysis["phonics"]["steps"], "total_words");
    assert_eq!(words.len(), 12);
    let totals =
        analysis["phonics"]["steps"].as_array().unwrap().iter().map(|step| step["total_words"].clone());
    assert_eq!(json!(totals.collect::<Vec<_>>()), figures["words"]);
    assert_eq!(analysis["phonics"]["child_words_percent"], figures["child_words_percent"]);

    // The command line finds the same by itself.
    let arguments = ["words", "propose", "--format", "json", "--steps", "12", "--beam", "2", "--seed", "5"];
    let file = school.server.folder.path().join("constraints.json");
    std::fs::write(&file, json!({"letters_first": 8, "leave_out": ["x:k.s"]}).to_string()).unwrap();
    let file = ["--constraints", file.to_str().unwrap()];
    let said = school.server.run(&[arguments.as_slice(), &file].concat());
    assert!(said.status.success());
    assert_eq!(serde_json::from_slice::<Value>(&said.stdout).unwrap(), done["result"]);
    assert!(String::from_utf8(said.stderr).unwrap().contains("step 12 of 12"));
}

#[test]
fn one_at_a_time_and_what_is_cancelled_stays_so() {
    let school = School::start();
    let lead = school.lead();
    let id = ask(&lead, long());
    let waiting = lead.get(&format!("{PATH}/{id}")).expect(200);
    assert!(["queued", "running"].contains(&waiting["status"].as_str().unwrap()), "{waiting}");
    assert_eq!(waiting["result"], Value::Null);

    let second = lead.post(PATH, small());
    second.problem(503, "busy");
    assert_eq!(second.header("Retry-After"), "5");
    assert!(second.text.contains("wait, or cancel it"), "{}", second.text);

    // Another school waits for its turn and gets it.
    let neighbour = school.neighbour();
    let theirs = ask(&neighbour, small());
    assert_eq!(neighbour.get(&format!("{PATH}/{theirs}")).expect(200)["status"], "queued");
    lead.get(&format!("{PATH}/{theirs}")).problem(404, "not_found");

    for _ in 0..2 {
        lead.call("DELETE", &format!("{PATH}/{id}"), None).expect(204);
        let given_up = over(&lead, &id);
        assert_eq!((&given_up["status"], &given_up["result"]), (&json!("cancelled"), &Value::Null));
    }
    assert_eq!(over(&neighbour, &theirs)["status"], "done");

    let again = ask(&lead, small());
    assert_eq!(over(&lead, &again)["status"], "done");
    lead.call("DELETE", &format!("{PATH}/{again}"), None).problem(409, "conflict");
    assert_eq!(column(&lead.get(PATH).expect(200)["items"], "id"), [again, id]);
    let operations = column(&lead.get("/audit-entries").expect(200)["items"], "operation");
    let ended = operations.iter().filter(|operation| *operation == "sequence_proposal.end").count();
    assert_eq!(ended, 1, "what was cancelled did not end: {operations:?}");
}

#[test]
fn what_is_cancelled_while_it_waits_makes_room() {
    let school = School::start();
    let (lead, neighbour) = (school.lead(), school.neighbour());
    let first = ask(&lead, long());
    // More than the queue has places for.
    for _ in 0..10 {
        let waiting = ask(&neighbour, small());
        neighbour.call("DELETE", &format!("{PATH}/{waiting}"), None).expect(204);
    }
    let theirs = ask(&neighbour, small());
    lead.call("DELETE", &format!("{PATH}/{first}"), None).expect(204);
    assert_eq!(over(&neighbour, &theirs)["status"], "done");
}

#[test]
fn a_repeated_request_is_answered_and_not_searched_for_again() {
    let school = School::start();
    let lead = school.lead().with("Idempotency-Key", "autumn");
    let id = ask(&lead, small());
    assert_eq!(over(&school.lead(), &id)["status"], "done");
    assert_eq!(ask(&lead, small()), id);
    assert_eq!(school.lead().get(PATH).expect(200)["items"].as_array().unwrap().len(), 1);
}

#[test]
fn constraints_that_do_not_hold_are_refused_by_field() {
    let school = School::start();
    let lead = school.lead();
    for (constraints, expected) in [
        (json!({"steps": 0}), "steps: must be 1 to 170"),
        (json!({"steps": "many"}), "steps: expected a whole number, 0 or more, found text"),
        (
            json!({"start": ["o:ɒ", "sh:k"]}),
            "start[1]: sh:k is not a correspondence of English; did you mean sh:ʃ",
        ),
        (json!({"include": ["sh:ʃ"], "leave_out": ["sh:ʃ"]}), "leave_out[0]: sh:ʃ is also in include"),
        (json!({"year2_by": 20}), "year2_by: "),
        (json!({"mnemonics": true}), "mnemonics: unknown field"),
    ] {
        let errors = lead.post(PATH, constraints.clone()).problem(422, "invalid");
        assert!(errors.iter().any(|error| error.starts_with(expected)), "{constraints}: {errors:?}");
    }
    assert_eq!(lead.get(PATH).expect(200)["items"], json!([]));
    let id = ask(&lead, small());
    let errors = lead.get(&format!("{PATH}/{id}?wait=61")).problem(422, "invalid");
    assert_eq!(errors, ["wait: must be 0 to 60"]);
}

/// A server killed without warning: after half a minute of silence its work has failed.
#[test]
fn what_a_killed_server_was_at_is_interrupted_and_may_be_asked_for_again() {
    let mut school = School::start();
    let id = ask(&school.lead(), long());
    school.server.kill_and_restart("2026-11-26");
    let signed_in = school.sign_in(&School::email("lead"));
    let lead = school.nobody().with_token(signed_in["access_token"].as_str().unwrap());
    let failed = over(&lead, &id);
    assert_eq!(failed["status"], "failed");
    assert!(failed["problem"].as_str().unwrap().starts_with("interrupted: "), "{failed}");
    lead.call("DELETE", &format!("{PATH}/{id}"), None).problem(409, "conflict");
    let again = ask(&lead, small());
    assert_eq!(over(&lead, &again)["status"], "done");
}

/// A server told to stop says so before it ends, and lets nobody wait.
#[test]
fn a_server_that_stops_interrupts_its_work_at_once() {
    let mut school = School::start();
    let lead = school.lead();
    let id = ask(&lead, long());
    let path = format!("/api/v1{PATH}/{id}?wait=60");
    let following = std::thread::spawn({
        let lead = lead.clone();
        move || lead.try_send("GET", &path, None, &[])
    });
    // By now it may wait, or come too late to be taken.
    lead.get(PATH).expect(200);
    school.server.stop_and_restart(plumbline_tests::TODAY);
    let told = following.join().unwrap();
    if let Some(told) = told {
        assert_eq!(told.expect(200)["status"], "failed", "the one who waits hears of it");
    }
    let lead = school.nobody().with_token(lead.token());
    let failed = lead.get(&format!("{PATH}/{id}")).expect(200);
    assert_eq!(failed["status"], "failed");
    assert!(failed["problem"].as_str().unwrap().starts_with("interrupted: "), "{failed}");
}
