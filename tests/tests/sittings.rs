//! Sittings: answers one by one and in runs, pausing, undoing, several adults. Today is Wednesday 25 November 2026.
#![allow(clippy::unwrap_used)]

mod sat;

use plumbline_tests::{Answer, Client, TODAY, Value, column, json, text};
use sat::{fates, start};

#[test]
fn a_sitting_asks_item_by_item_and_what_was_not_asked_shows() {
    let at = start();
    let (teacher, items) = (at.school.staff("teacher"), &at.check.1);
    let id = at.id();
    let new = json!({"id": id, "check_id": at.check.0});
    let path = format!("{}/sittings", at.of("Zoe"));
    let made = teacher.post(&path, new.clone());
    let begun = made.expect(201);
    let sitting = format!("{path}/{id}");
    assert_eq!(made.header("Location"), format!("/api/v1{sitting}"));
    assert_eq!(
        (&begun["id"], &begun["next"], &begun["held_by"]["staff_id"]),
        (&json!(id), &json!(items[0]), &json!(at.school.staff_id("teacher")))
    );
    // The same sitting sent again is one; another under its id is not.
    assert_eq!(teacher.post(&path, new.clone()).expect(201), begun);
    let other = at.school.staff("assistant").post(&path, new.clone()).problem(409, "conflict");
    assert_eq!(other, ["id: is the id of another sitting"]);
    let of_max = teacher.post(&format!("{}/sittings", at.of("Max")), new).problem(409, "conflict");
    assert_eq!(of_max, ["id: is the id of another sitting"]);

    let first = at.one(0, "right");
    let sent = at.send(&teacher, &sitting, std::slice::from_ref(&first));
    assert_eq!(fates(&sent), ["taken"]);
    let seen = sent.json()["sitting"].clone();
    assert_eq!(
        (&seen["next"], at.stands(&seen)),
        (&json!(items[1]), vec![json!("right"), json!(null), json!(null)])
    );
    // Sent again, as after an answer that was lost: it is there. With other content it is another.
    assert_eq!(fates(&at.send(&teacher, &sitting, std::slice::from_ref(&first))), ["already_there"]);
    let mut changed = first.clone();
    changed["outcome"] = json!("wrong");
    let refused = at.send(&teacher, &sitting, &[changed, at.one(1, "not_offered")]);
    assert_eq!(fates(&refused), ["refused", "taken"], "one that is refused holds back no other");
    assert_eq!(refused.json()["answers"][0]["refusal"]["code"], "other_answer");
    assert_eq!(refused.json()["sitting"]["next"], items[2], "what is left out is not asked next");

    let done = at.act(&teacher, &sitting, "finish").expect(200);
    assert_eq!(at.stands(&done), [json!("right"), json!("not_offered"), json!("not_offered")]);
    assert_eq!((&done["next"], done["finished_at"].is_null()), (&json!(null), false));
    let kept = at.responses("Zoe");
    let line = |n: usize, outcome: &str| (items[n].clone(), outcome.to_owned(), true);
    assert_eq!(kept, [line(0, "right"), line(1, "not_offered"), line(2, "not_offered")]);
    // Finished once more by the same adult, nothing is written again.
    assert_eq!(at.act(&teacher, &sitting, "finish").expect(200), done);
    assert_eq!(at.responses("Zoe").len(), 3);
    // Another sitting asks what was left out, and no more.
    let again = at.begin(&teacher, "Zoe");
    let seen = teacher.get(&again).expect(200);
    assert_eq!(
        (&seen["next"], at.stands(&seen)),
        (&json!(items[1]), vec![json!("right"), json!(null), json!(null)])
    );
}

#[test]
fn one_tap_takes_the_last_answer_back_and_keeps_it() {
    let at = start();
    let (teacher, items) = (at.school.staff("teacher"), &at.check.1);
    let sitting = at.begin(&teacher, "Zoe");
    let nothing = at.undo(&teacher, &sitting);
    nothing.problem(409, "conflict");
    at.send(&teacher, &sitting, &[at.one(0, "right"), at.one(1, "wrong")]).expect(200);
    let undo = json!({"id": at.id()});
    let path = format!("{sitting}/undo");
    let seen = teacher.post(&path, undo.clone()).expect(200);
    assert_eq!(
        (&seen["next"], at.stands(&seen)),
        (&json!(items[1]), vec![json!("right"), json!(null), json!(null)])
    );
    // The tap whose answer was lost, sent again, takes back no second answer.
    assert_eq!(teacher.post(&path, undo).expect(200), seen);
    assert_eq!(
        at.responses("Zoe"),
        [
            (items[0].clone(), "right".to_owned(), true),
            (items[1].clone(), "wrong".to_owned(), false),
            (items[1].clone(), "not_offered".to_owned(), true)
        ],
        "kept as history"
    );
    at.send(&teacher, &sitting, &[at.one(1, "no_response")]).expect(200);
    at.undo(&teacher, &sitting).expect(200);
    let seen = at.undo(&teacher, &sitting).expect(200);
    assert_eq!((&seen["next"], at.stands(&seen)), (&json!(items[0]), vec![json!(null); 3]));
    // Finished, it is corrected instead.
    at.act(&teacher, &sitting, "finish").expect(200);
    at.undo(&teacher, &sitting).problem(409, "conflict");
    // An answer's id is not an undo's.
    let other = at.begin(&teacher, "Max");
    let answer = at.one(0, "right");
    at.send(&teacher, &other, std::slice::from_ref(&answer)).expect(200);
    let wrong = teacher.post(&format!("{other}/undo"), json!({"id": answer["id"]})).problem(409, "conflict");
    assert_eq!(wrong, ["id: is the id of another answer"]);
}

#[test]
fn a_sitting_is_paused_and_gone_on_with_elsewhere() {
    let at = start();
    let (teacher, assistant) = (at.school.staff("teacher"), at.school.staff("assistant"));
    let sitting = at.begin(&teacher, "Zoe");
    at.send(&teacher, &sitting, &[at.one(0, "right")]).expect(200);
    assert!(!at.act(&teacher, &sitting, "pause").expect(200)["paused_at"].is_null());
    at.act(&assistant, &sitting, "pause").problem(409, "conflict");
    let on = assistant.post(&format!("{sitting}/resume"), json!({})).expect(200);
    assert_eq!(
        (&on["held_by"]["staff_id"], &on["paused_at"]),
        (&json!(at.school.staff_id("assistant")), &json!(null))
    );
    assert_eq!(on["items"][0]["answer"]["taken_by"], at.school.staff_id("teacher"), "by whom is seen");
    assert_eq!(on["next"], at.check.1[1]);
    // What the first adult's tablet still held comes in; what that adult may no longer do is said.
    let late = at.send(&teacher, &sitting, &[at.one(1, "wrong"), at.one(0, "wrong")]);
    assert_eq!(fates(&late), ["taken", "refused"]);
    let refusal = late.json()["answers"][1]["refusal"].clone();
    assert_eq!(
        (&refusal["code"], &refusal["stands"]["outcome"]),
        (&json!("already_answered"), &json!("right"))
    );
    at.undo(&teacher, &sitting).problem(409, "conflict");
    let back = teacher.post(&format!("{sitting}/resume"), json!({}));
    back.problem(409, "conflict");
    assert_eq!(
        back.json()["detail"],
        "assistant person is at this sitting: say take_over to go on with it instead"
    );
    teacher.post(&format!("{sitting}/resume"), json!({"take_over": true})).expect(200);
    // The reading is in the audit log.
    teacher.get(&sitting).expect(200);
    let log = at.school.staff("administrator").get("/audit-entries").expect(200);
    assert!(log["items"].as_array().unwrap().iter().any(|line| line["operation"] == "check.read"));
}

#[test]
fn two_adults_at_once_are_told_of_each_other() {
    let at = start();
    let (teacher, assistant) = (at.school.staff("teacher"), at.school.staff("assistant"));
    let path = format!("{}/sittings", at.of("Zoe"));
    let answers: Vec<Answer> = std::thread::scope(|scope| {
        let begin = |who: Client| {
            let (path, check) = (path.clone(), at.check.0.clone());
            scope.spawn(move || who.post(&path, json!({"check_id": check})))
        };
        let both = [begin(teacher.clone()), begin(assistant.clone())];
        both.into_iter().map(|one| one.join().unwrap()).collect()
    });
    let (first, second) = match (answers[0].status, answers[1].status) {
        (201, 409) => (0, 1),
        (409, 201) => (1, 0),
        other => panic!("{other:?}"),
    };
    answers[second].problem(409, "conflict");
    let who = ["teacher", "assistant"];
    let told = answers[second].json();
    let said = format!("{} person is asking this pupil this check", who[first]);
    let sitting = format!("{path}/{}", text(&answers[first].json()["id"]));
    assert_eq!((text(&told["detail"]), text(&told["stands_at"])), (said, format!("/api/v1{sitting}")));

    // Both have had it; one finishes, the other is told, and what the other took down is neither lost nor double.
    let (one, other) = (at.school.staff(who[first]), at.school.staff(who[second]));
    at.send(&one, &sitting, &[at.one(0, "right")]).expect(200);
    other.post(&format!("{sitting}/resume"), json!({"take_over": true})).expect(200);
    at.act(&other, &sitting, "finish").expect(200);
    let finished = at.act(&one, &sitting, "finish");
    finished.problem(409, "conflict");
    let detail = format!(
        "{} person finished this sitting: what was answered stands and can be corrected",
        who[second]
    );
    assert_eq!(finished.json()["detail"], detail);
    let sent = at.send(&one, &sitting, &[at.one(0, "wrong"), at.one(1, "right")]);
    assert_eq!(fates(&sent), ["refused", "taken"]);
    let counted: Vec<String> =
        at.responses("Zoe").into_iter().filter(|one| one.1 != "not_offered").map(|one| one.0).collect();
    assert_eq!(counted, [at.check.1[0].clone(), at.check.1[1].clone()]);
    assert_eq!(at.stands(&sent.json()["sitting"]), [json!("right"), json!("right"), json!("not_offered")]);
    // An adult who never had it says so first.
    at.send(&at.school.lead(), &sitting, &[at.one(2, "right")]).problem(409, "conflict");
}

#[test]
fn a_sitting_takes_what_was_recorded_otherwise_for_answered() {
    let at = start();
    let lead = at.school.lead();
    let of = (at.round.as_str(), at.pupils["Zoe"].as_str(), at.check.0.as_str());
    at.school.answer(&lead, of, TODAY, &[(&at.check.1[0], "right")]).expect(201);
    let sitting = at.begin(&lead, "Zoe");
    let seen = lead.get(&sitting).expect(200);
    assert_eq!(seen["next"], at.check.1[1]);
    at.send(&lead, &sitting, &[at.one(1, "right"), at.one(2, "right")]).expect(200);
    at.act(&lead, &sitting, "finish").expect(200);
    let all = lead.post(&format!("{}/sittings", at.of("Zoe")), json!({"check_id": at.check.0}));
    all.problem(409, "conflict");
    let refused =
        |body: Value| lead.post(&format!("{}/sittings", at.of("Max")), body).problem(422, "invalid");
    assert_eq!(refused(json!({"check_id": at.round})), ["check_id: is not a check of this round"]);
    let outside = refused(json!({"check_id": at.check.0, "on": "2026-11-13"}));
    assert_eq!(
        outside,
        ["on: 2026-11-13 is not a day of this round, which is from 2026-11-16 to 2026-11-27"]
    );
    // An answer of another pupil's has its own id; what is no answer is refused whole.
    let max = at.begin(&lead, "Max");
    let known = lead.get(&format!("{}/responses", at.of("Zoe"))).expect(200)["items"][0]["id"].clone();
    let sent = at.send(&lead, &max, &[json!({"id": known, "item_id": at.check.1[0], "outcome": "right"})]);
    assert_eq!(sent.expect(200)["answers"][0]["refusal"]["code"], "other_answer");
    assert_eq!(at.send(&lead, &max, &[]).problem(422, "invalid"), ["answers: give 1 to 100 answers"]);
    assert_eq!(at.responses("Max").len(), 0);
}

#[test]
fn who_left_before_a_day_has_no_answers_on_it() {
    let at = start();
    let (lead, teacher) = (at.school.lead(), at.school.staff("teacher"));
    let sitting = at.begin(&teacher, "Zoe");
    let path = format!("/pupils/{}", at.pupils["Zoe"]);
    lead.patch(&path, &lead.get(&path).etag(), json!({"left_on": "2026-11-24"})).expect(200);
    let send = |who: &Client, on: &str, n: usize| {
        who.post(&format!("{sitting}/answers"), json!({"on": on, "answers": [at.one(n, "right")]}))
    };
    let after = send(&lead, TODAY, 0);
    after.problem(409, "conflict");
    lead.post(&format!("{sitting}/resume"), json!({"take_over": true})).expect(200);
    let after = send(&lead, TODAY, 0).expect(200);
    let refusal = &after["answers"][0]["refusal"];
    assert_eq!(
        (&refusal["code"], &refusal["message"]),
        (&json!("left"), &json!("this pupil had left by 2026-11-25"))
    );
    assert_eq!(fates(&send(&lead, "2026-11-24", 0)), ["taken"], "the last day here");
    // The teacher, of whose group the pupil is no longer, sends what was taken down before; today's is hidden.
    assert_eq!(fates(&send(&teacher, "2026-11-24", 1)), ["taken"]);
    send(&teacher, TODAY, 2).problem(404, "not_found");
    // Recorded in one request it is the same.
    let of = (at.round.as_str(), at.pupils["Zoe"].as_str(), at.check.0.as_str());
    let refused = at.school.answer(&lead, of, TODAY, &[(&at.check.1[2], "right")]).problem(422, "invalid");
    assert_eq!(refused, ["on: this pupil had left by 2026-11-25"]);
    at.school.answer(&lead, of, "2026-11-24", &[(&at.check.1[2], "right")]).expect(201);
}

#[test]
fn sittings_and_exemptions_go_with_the_pupil_when_two_records_become_one() {
    let at = start();
    let lead = at.school.lead();
    let sitting = at.begin(&lead, "Max");
    at.send(&lead, &sitting, &[at.one(0, "right")]).expect(200);
    let exempt = json!({"reason": "newly_arrived", "review_on": "2026-12-04"});
    lead.post(&format!("{}/exemptions", at.of("Max")), exempt).expect(201);
    let same = json!({"verdict": "same", "pupil_id": at.pupils["Zoe"], "other_id": at.pupils["Max"]});
    let decision = lead.post("/pupil-decisions", same).expect(201);
    // The tablet goes on under the record that is gone.
    assert_eq!(fates(&at.send(&lead, &sitting, &[at.one(1, "right")])), ["taken"]);
    let id = sitting.rsplit('/').next().unwrap();
    let seen = lead.get(&format!("{}/sittings/{id}", at.of("Zoe"))).expect(200);
    assert_eq!((&seen["pupil_id"], &seen["next"]), (&json!(at.pupils["Zoe"]), &json!(at.check.1[2])));
    let exemptions = lead.get(&format!("{}/exemptions", at.of("Zoe"))).expect(200);
    assert_eq!(column(&exemptions["items"], "reason"), ["newly_arrived"]);
    // It went on since: the two are not taken apart any more.
    let path = format!("/pupil-decisions/{}", text(&decision["id"]));
    let parting = lead.delete(&path, &text(&decision["etag"]));
    assert_eq!(parting.status, 409, "{}", parting.text);
    assert!(parting.text.contains("one of its sittings went on since"), "{}", parting.text);
}

#[test]
fn one_answer_of_an_item_stands_however_it_is_corrected() {
    let at = start();
    let (teacher, lead) = (at.school.staff("teacher"), at.school.lead());
    let sitting = at.begin(&teacher, "Zoe");
    at.send(&teacher, &sitting, &[at.one(0, "right")]).expect(200);
    at.undo(&teacher, &sitting).expect(200);
    at.send(&teacher, &sitting, &[at.one(0, "wrong")]).expect(200);
    let listed = || lead.get(&format!("{}/responses", at.of("Zoe"))).expect(200)["items"].clone();
    let id = |n: usize| listed()[n]["id"].clone();
    let correct = |response: Value, outcome: &str| {
        let body = json!({"response_id": response, "outcome": outcome});
        teacher.post(&format!("{}/corrections", at.of("Zoe")), body)
    };
    // What was taken back cannot come to stand beside the answer that was given since.
    let refused = correct(id(1), "right").problem(409, "conflict");
    assert_eq!(
        refused,
        ["response_id: was taken back, and its item answered since: correct the answer that stands"]
    );
    let in_force =
        || at.responses("Zoe").into_iter().filter(|one| one.2).map(|one| one.1).collect::<Vec<_>>();
    assert_eq!(in_force(), ["not_offered", "wrong"]);
    // The answer that stands is corrected; taken back as well, either can be brought back, and then no other.
    let of_the_answer = correct(id(2), "not_offered").expect(201)["items"][0]["id"].clone();
    correct(id(1), "right").expect(201);
    correct(of_the_answer, "wrong").problem(409, "conflict");
    assert_eq!(in_force(), ["not_offered", "right"]);
}

#[test]
fn a_sitting_finished_with_nothing_answered_leaves_the_check_to_be_done() {
    let at = start();
    let (teacher, lead) = (at.school.staff("teacher"), at.school.lead());
    let standing = || {
        let list = lead.get(&format!("/check-rounds/{}/list", at.round)).expect(200);
        let pupils = list["pupils"].as_array().unwrap().clone();
        let zoe = pupils.iter().find(|one| one["name"] == "Zoe Bell").unwrap();
        text(&zoe["checks"][0]["standing"])
    };
    let sitting = at.begin(&teacher, "Zoe");
    assert_eq!(standing(), "under_way");
    at.act(&teacher, &sitting, "finish").expect(200);
    assert_eq!(standing(), "left_to_do");
    let sitting = at.begin(&teacher, "Zoe");
    at.send(&teacher, &sitting, &[at.one(0, "no_response")]).expect(200);
    at.act(&teacher, &sitting, "finish").expect(200);
    assert_eq!(standing(), "done");
}
