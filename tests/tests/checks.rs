//! Checks, rounds, answers and their corrections.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Pupils, School, TODAY, Value, column, json, text};

/// Pupils in two classes, a check of two pairs and one of three words, and a round of both.
struct Autumn {
    school: School,
    pupils: Pupils,
    sounds: (String, Vec<String>),
    words: (String, Vec<String>),
    round: String,
}

fn start() -> Autumn {
    let school = School::start();
    school.calendar();
    let (sequence, _) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder"), ("Ida", "Rowan")]);
    school.group("Alder", &sequence, &[&pupils["Zoe"], &pupils["Max"]]);
    let sounds = school.gpc_check("Sounds", &[("m", "m"), ("o", "ɒ")]);
    let words = school.word_check("Words", &["mop", "dot", "pod"]);
    let round = school.round("Autumn 2", "2026-11-16", "2026-11-27", &[&sounds.0, &words.0]);
    Autumn { school, pupils, sounds, words, round }
}

impl Autumn {
    fn of(&self, pupil: &str) -> String {
        format!("/check-rounds/{}/pupils/{}", self.round, self.pupils[pupil])
    }

    /// The lead records answers to the words.
    fn answer(&self, pupil: &str, on: &str, answers: &[(&str, &str)]) -> plumbline_tests::Answer {
        let of = (self.round.as_str(), self.pupils[pupil].as_str(), self.words.0.as_str());
        self.school.answer(&self.school.lead(), of, on, answers)
    }

    fn correct(&self, pupil: &str, response: &Value, outcome: &str) -> plumbline_tests::Answer {
        let body = json!({"response_id": response["id"], "outcome": outcome});
        self.school.lead().post(&format!("{}/corrections", self.of(pupil)), body)
    }

    fn responses(&self, pupil: &str) -> Vec<Value> {
        let listed = self.school.lead().get(&format!("{}/responses", self.of(pupil))).expect(200);
        listed["items"].as_array().unwrap().clone()
    }
}

#[test]
fn a_check_is_of_pairs_or_of_words_and_never_changes() {
    let school = School::start();
    let lead = school.lead();
    let refused = |body: Value| lead.post("/checks", body).problem(422, "invalid");
    let check = |kind: &str, items: Value| json!({"name": "Check", "kind": kind, "items": items});
    let pair = |grapheme: &str, phoneme: &str| json!({"grapheme": grapheme, "phoneme": phoneme});
    assert_eq!(refused(check("word_reading", json!([]))), ["items: give 1 to 100 items"]);
    let many: Vec<Value> = (0..101).map(|_| json!({"prompt": "mop"})).collect();
    assert_eq!(refused(check("word_reading", json!(many))), ["items: give 1 to 100 items"]);
    assert_eq!(
        refused(check("gpc_recognition", json!([{"prompt": "m", "gpc": pair("m", "m")}, {"prompt": "o"}]))),
        ["items[1].gpc: is required for GPC recognition"]
    );
    assert_eq!(
        refused(check("word_reading", json!([{"prompt": "mop", "gpc": pair("m", "m")}]))),
        ["items[0].gpc: is not for reading words"]
    );
    // A pair that no sequence can teach would never meet its lessons.
    assert!(
        refused(check("gpc_recognition", json!([{"prompt": "m", "gpc": pair("M", "m")}])))[0]
            .starts_with("items[0].gpc.grapheme: ")
    );
    assert!(
        refused(check("gpc_recognition", json!([{"prompt": "m", "gpc": pair("m", "/m/")}])))[0]
            .starts_with("items[0].gpc.phoneme: ")
    );
    assert!(refused(check("guessing", json!([{"prompt": "mop"}])))[0].starts_with("kind: "));
    assert!(refused(check("word_reading", json!([{"prompt": " "}])))[0].starts_with("items[0].prompt: "));
    assert_eq!(lead.get("/checks").expect(200)["items"], json!([]));

    let made =
        lead.post("/checks", check("gpc_recognition", json!([{"prompt": "m", "gpc": pair(" m", "m ")}])));
    let shown = made.expect(201);
    assert_eq!(made.header("Location"), format!("/api/v1/checks/{}", text(&shown["id"])));
    let plain =
        lead.post("/checks", check("gpc_recognition", json!([{"prompt": "m", "gpc": pair("m", "m")}])));
    assert_eq!(
        shown["items"][0]["gpc_id"],
        plain.expect(201)["items"][0]["gpc_id"],
        "one pair however padded"
    );
    assert_ne!(shown["items"][0]["id"], plain.json()["items"][0]["id"]);
}

#[test]
fn a_round_has_days_and_checks() {
    let a = start();
    let lead = a.school.lead();
    let refused = |opens_on: &str, closes_on: &str, checks: Value| {
        let body = json!({"name": "R", "opens_on": opens_on, "closes_on": closes_on, "check_ids": checks});
        lead.post("/check-rounds", body).problem(422, "invalid")
    };
    let check = &a.sounds.0;
    assert_eq!(
        refused("2026-11-02", "2026-11-01", json!([check])),
        ["closes_on: lies before the round opens"]
    );
    assert_eq!(refused("2026-11-02", "2026-11-02", json!([])), ["check_ids: give 1 to 20 checks"]);
    assert_eq!(refused("2026-11-02", "2026-11-02", json!([check, check])), ["check_ids[1]: stands twice"]);
    assert_eq!(
        refused("2026-11-02", "2026-11-02", json!([check, a.round])),
        ["check_ids: one of them is not a check of this school"]
    );
    let earlier = a.school.round("Autumn 1", "2026-10-12", "2026-10-23", &[check]);
    let rounds = lead.get("/check-rounds").expect(200);
    assert_eq!(
        column(&rounds["items"], "id"),
        [a.round.clone(), earlier],
        "latest first; none of the refused"
    );
    let one = lead.get(&format!("/check-rounds/{}", a.round)).expect(200);
    assert_eq!(one, rounds["items"][0]);
    assert_eq!((&one["opens_on"], &one["closes_on"]), (&json!("2026-11-16"), &json!("2026-11-27")));
    lead.get(&format!("/check-rounds/{check}")).problem(404, "not_found");
}

#[test]
fn answers_are_kept_each_in_its_own_state_and_in_order() {
    let a = start();
    let items = &a.words.1;
    let made = a.answer(
        "Zoe",
        "2026-11-23",
        &[(&items[2], "no_response"), (&items[0], "right"), (&items[1], "not_offered")],
    );
    let list = made.expect(201)["items"].clone();
    assert_eq!(made.header("Location"), format!("/api/v1{}/responses", a.of("Zoe")));
    assert_eq!(column(&list, "item_id"), [items[2].clone(), items[0].clone(), items[1].clone()]);
    assert_eq!(column(&list, "outcome"), ["no_response", "right", "not_offered"]);
    let first = &list[0];
    let lead = a.school.staff_id("lead");
    assert_eq!((&first["taken_by"], &first["entered_by"]), (&json!(lead), &json!(lead)));
    assert_eq!(
        (&first["corrects"], &first["in_force"], &first["on"]),
        (&Value::Null, &json!(true), &json!("2026-11-23"))
    );
    // The other check of the round, another day, another adult.
    let of = (a.round.as_str(), a.pupils["Zoe"].as_str(), a.sounds.0.as_str());
    let body = json!({"check_id": a.sounds.0, "on": TODAY, "taken_by": a.school.staff_id("assistant"),
                      "answers": [{"item_id": a.sounds.1[0], "outcome": "wrong"}]});
    let other = a.school.staff("teacher").post(&format!("{}/responses", a.of("Zoe")), body).expect(201);
    assert_eq!(other["items"][0]["taken_by"], a.school.staff_id("assistant"));
    assert_eq!(other["items"][0]["entered_by"], a.school.staff_id("teacher"));
    let mut all = list.as_array().unwrap().clone();
    all.push(other["items"][0].clone());
    assert_eq!(a.responses("Zoe"), all);
    assert_eq!(a.responses("Max"), Vec::<Value>::new());
    // What is left out can follow, and no answer means anything of another pupil.
    a.school.answer(&a.school.lead(), of, TODAY, &[(&a.sounds.1[1], "right")]).expect(201);
    assert_eq!(a.responses("Zoe").len(), 5);
}

#[test]
fn answers_that_cannot_stand_are_refused_whole() {
    let a = start();
    let items = &a.words.1;
    let refused = |on: &str, answers: &[(&str, &str)]| a.answer("Zoe", on, answers).problem(422, "invalid");
    assert_eq!(refused(TODAY, &[]), ["answers: give at least one answer"]);
    assert_eq!(
        refused(TODAY, &[(&items[0], "right"), (&a.sounds.1[0], "right")]),
        ["answers[1].item_id: the check has no such item"]
    );
    assert_eq!(
        refused(TODAY, &[(&items[0], "right"), (&items[0], "wrong")]),
        ["answers[1].item_id: this item is answered twice"]
    );
    assert_eq!(refused("2026-11-26", &[(&items[0], "right")]), ["on: 2026-11-26 is in the future"]);
    assert_eq!(
        refused("2026-11-15", &[(&items[0], "right")]),
        ["on: 2026-11-15 is not a day of this round, which is from 2026-11-16 to 2026-11-27"]
    );
    assert!(refused(TODAY, &[(&items[0], "almost")])[0].starts_with("answers[0].outcome: "));
    let lead = a.school.lead();
    let path = format!("{}/responses", a.of("Zoe"));
    let answers = json!([{"item_id": items[0], "outcome": "right"}]);
    let body = json!({"check_id": a.round, "on": TODAY, "answers": answers});
    assert_eq!(lead.post(&path, body).problem(422, "invalid"), ["check_id: is not a check of this round"]);
    let body = json!({"check_id": a.words.0, "on": TODAY, "answers": answers, "taken_by": a.round});
    assert_eq!(lead.post(&path, body).problem(422, "invalid"), ["taken_by: is not of this school's staff"]);
    assert_eq!(a.responses("Zoe"), Vec::<Value>::new());
    // Of a closed round, every day is in the past and none is outside it for being late.
    let old = a.school.round("Autumn 1", "2026-10-12", "2026-10-23", &[&a.words.0]);
    let of = (old.as_str(), a.pupils["Zoe"].as_str(), a.words.0.as_str());
    let after = a.school.answer(&lead, of, "2026-10-24", &[(&items[0], "right")]).problem(422, "invalid");
    assert_eq!(after, ["on: 2026-10-24 is not a day of this round, which is from 2026-10-12 to 2026-10-23"]);
    a.school.answer(&lead, of, "2026-10-23", &[(&items[0], "right")]).expect(201);
}

#[test]
fn a_second_answer_is_refused_with_everything_sent_beside_it() {
    let a = start();
    let items = &a.words.1;
    a.answer("Zoe", "2026-11-24", &[(&items[0], "wrong")]).expect(201);
    let second = a.answer("Zoe", TODAY, &[(&items[1], "right"), (&items[0], "right")]);
    assert_eq!(
        second.problem(409, "conflict"),
        ["answers[1].item_id: this pupil has an answer to this item in this round; correct that one"]
    );
    assert_eq!(a.responses("Zoe").len(), 1);
    // In another round the same item is asked again.
    let next = a.school.round("Again", "2026-11-25", "2026-11-25", &[&a.words.0]);
    let of = (next.as_str(), a.pupils["Zoe"].as_str(), a.words.0.as_str());
    a.school.answer(&a.school.lead(), of, TODAY, &[(&items[0], "right")]).expect(201);
}

#[test]
fn a_correction_is_added_and_the_last_of_a_chain_counts() {
    let a = start();
    let items = &a.words.1;
    let first = a.answer("Zoe", "2026-11-24", &[(&items[0], "wrong")]).expect(201)["items"][0].clone();
    let made = a.correct("Zoe", &first, "right");
    let second = made.expect(201)["items"][0].clone();
    assert_eq!((&second["corrects"], &second["outcome"]), (&first["id"], &json!("right")));
    assert_eq!(
        (&second["on"], &second["item_id"]),
        (&first["on"], &first["item_id"]),
        "the day it was asked stays"
    );
    let again = a.correct("Zoe", &first, "no_response").problem(409, "conflict");
    assert_eq!(again, ["response_id: was corrected already; correct the latest one"]);
    let third = a.correct("Zoe", &second, "not_offered").expect(201)["items"][0].clone();
    let listed = a.responses("Zoe");
    let line = |r: &Value| (r["id"].clone(), text(&r["outcome"]), r["in_force"].as_bool().unwrap());
    let lines: Vec<_> = listed.iter().map(line).collect();
    let expected = [
        (first["id"].clone(), "wrong".to_owned(), false),
        (second["id"].clone(), "right".to_owned(), false),
        (third["id"].clone(), "not_offered".to_owned(), true),
    ];
    assert_eq!(lines, expected);
    // A correction is of this pupil's answers in this round.
    let stranger = a.correct("Max", &third, "right").problem(422, "invalid");
    assert_eq!(stranger, ["response_id: is not a response of this pupil in this round"]);
    // What was not offered can be asked later; what was answered cannot be answered again.
    a.answer("Zoe", TODAY, &[(&items[0], "right")]).expect(201);
    a.answer("Zoe", TODAY, &[(&items[0], "right")]).problem(409, "conflict");
    // Nothing else changes an answer.
    for method in ["PUT", "PATCH", "DELETE"] {
        let path = format!("{}/responses", a.of("Zoe"));
        a.school.lead().call(method, &path, Some(&json!({}))).problem(405, "method_not_allowed");
    }
}

#[test]
fn progress_says_how_many_were_asked_and_never_how_it_went() {
    let a = start();
    let (sounds, words) = (&a.sounds.1, &a.words.1);
    a.answer("Zoe", TODAY, &[(&words[0], "right"), (&words[1], "wrong"), (&words[2], "not_offered")])
        .expect(201);
    let of = (a.round.as_str(), a.pupils["Zoe"].as_str(), a.sounds.0.as_str());
    let asked = a.school.answer(&a.school.lead(), of, TODAY, &[(&sounds[0], "no_response")]).expect(201);
    let path = format!("/check-rounds/{}/progress", a.round);
    let progress = a.school.lead().get(&path);
    let list = progress.expect(200)["items"].clone();
    assert_eq!(column(&list, "name"), ["Ida Bell", "Max Bell", "Zoe Bell"]);
    let mut zoe: Vec<(String, u64)> = list[2]["checks"]
        .as_array()
        .unwrap()
        .iter()
        .map(|check| (text(&check["check_id"]), check["asked"].as_u64().unwrap()))
        .collect();
    zoe.sort();
    // An item not offered was not asked.
    let mut expected = [(a.sounds.0.clone(), 1), (a.words.0.clone(), 2)];
    expected.sort();
    assert_eq!(zoe, expected);
    assert_eq!(list[0]["checks"], json!([]));
    // No mark and no total has a place in the answer.
    let fields: Vec<&String> = list[2].as_object().unwrap().keys().collect();
    assert_eq!(fields, ["apart", "checks", "exempt", "name", "not_accessible", "pupil_id"]);
    let fields: Vec<&String> = list[2]["checks"][0].as_object().unwrap().keys().collect();
    assert_eq!(fields, ["asked", "check_id", "chosen"]);
    for word in ["right", "wrong", "score", "total", "percent", "mark"] {
        assert!(!progress.text.contains(word), "{word}: {}", progress.text);
    }
    // A correction to "not offered" takes one back.
    a.correct("Zoe", &asked["items"][0], "not_offered").expect(201);
    let list = a.school.lead().get(&path).expect(200)["items"].clone();
    assert_eq!(list[2]["checks"], json!([{"check_id": a.words.0, "asked": 2, "chosen": 0}]));
}

#[test]
fn a_teacher_checks_own_pupils_and_no_others() {
    let a = start();
    let teacher = a.school.staff("teacher");
    let path = format!("/check-rounds/{}/progress", a.round);
    assert_eq!(column(&teacher.get(&path).expect(200)["items"], "name"), ["Max Bell", "Zoe Bell"]);
    let answers = [(a.words.1[0].as_str(), "right")];
    let of = |pupil: &str| (a.round.clone(), a.pupils[pupil].clone(), a.words.0.clone());
    let (round, zoe, check) = of("Zoe");
    a.school.answer(&teacher, (&round, &zoe, &check), TODAY, &answers).expect(201);
    let (round, ida, check) = of("Ida");
    a.school.answer(&teacher, (&round, &ida, &check), TODAY, &answers).problem(404, "not_found");
    teacher.get(&format!("{}/responses", a.of("Ida"))).problem(404, "not_found");
    teacher.get(&format!("{}/responses", a.of("Zoe"))).expect(200);
    let other = a.school.staff("teacher:2");
    assert_eq!(other.get(&path).expect(200)["items"], json!([]));
    other.get(&format!("{}/responses", a.of("Zoe"))).problem(404, "not_found");
    assert_eq!(a.responses("Ida"), Vec::<Value>::new());
    // Reading answers is in the audit log, without the pupil.
    let log = a.school.staff("administrator").get("/audit-entries");
    let reads: Vec<Value> = log.expect(200)["items"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|e| e["operation"] == "check.read")
        .cloned()
        .collect();
    assert_eq!(column(&json!(reads), "staff_id"), [a.school.staff_id("lead"), a.school.staff_id("teacher")]);
    assert!(!log.text.contains(&a.pupils["Zoe"]));
}

#[test]
fn what_was_heard_and_how_a_pupil_answered_stand_with_the_answer() {
    let at = start();
    let lead = at.school.lead();
    let (check, items) = &at.words;
    let to = format!("{}/responses", at.of("Zoe"));
    let sent = |outcome: &str, heard: &str| {
        json!({"check_id": check, "on": TODAY, "mode": "choosing",
               "answers": [{"item_id": items[0], "outcome": outcome, "heard": heard}]})
    };
    for (outcome, heard, said) in [
        ("right", "m ɒ b", "answers[0].heard: says what was heard instead: it goes with a wrong answer"),
        (
            "no_response",
            "m ɒ b",
            "answers[0].heard: says what was heard instead: it goes with a wrong answer",
        ),
        (
            "wrong",
            "-",
            "answers[0].heard: give the sounds that were heard; where nothing was said, the outcome is no_response",
        ),
    ] {
        assert_eq!(lead.post(&to, sent(outcome, heard)).problem(422, "invalid"), [said]);
    }
    let refused = lead.post(&to, sent("wrong", "sleepy today")).problem(422, "invalid");
    assert!(refused[0].starts_with("answers[0].heard: "), "{refused:?}");
    let made = lead.post(&to, sent("wrong", "mɒb")).expect(201);
    let first = &made["items"][0];
    assert_eq!((&first["heard"], &first["mode"]), (&json!("m.ɒ.b"), &json!("choosing")));

    // A correction keeps how it was answered unless it says otherwise, and never what was heard.
    let fix = |id: &Value, more: Value| {
        let mut body = json!({"response_id": id, "outcome": "wrong"});
        body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        lead.post(&format!("{}/corrections", at.of("Zoe")), body).expect(201)["items"][0].clone()
    };
    let second = fix(&first["id"], json!({}));
    assert_eq!((&second["heard"], &second["mode"]), (&json!(null), &json!("choosing")));
    let third = fix(&second["id"], json!({"heard": "n ɒ p", "mode": "spoken"}));
    assert_eq!((&third["heard"], &third["mode"]), (&json!("n.ɒ.p"), &json!("spoken")));
}

#[test]
fn what_is_odd_about_an_item_is_said_and_taken() {
    let a = start();
    let lead = a.school.lead();
    let warned = |kind: &str, items: Value| {
        let made = lead.post("/checks", json!({"name": "Odd", "kind": kind, "items": items})).expect(201);
        assert_eq!(made["items"].as_array().unwrap().len(), items.as_array().unwrap().len());
        let line = |one: &Value| format!("{}: {}", text(&one["field"]), text(&one["message"]));
        made["warnings"].as_array().unwrap().iter().map(line).collect::<Vec<_>>()
    };
    let words = |words: &[&str]| json!(words.iter().map(|word| json!({"prompt": word})).collect::<Vec<_>>());
    let guessed =
        "items[1].prompt: “xqz” is no word that is known here: how it is read is guessed from its letters";
    assert_eq!(warned("word_reading", words(&["mop", "xqz"])), [guessed]);
    assert_eq!(
        warned("exception_word_reading", words(&["the", "mop"])),
        ["items[1].prompt: “mop” is none of the curriculum's common exception words"]
    );
    assert_eq!(
        warned("sentence_reading", words(&["mop", "Dot has a mop."])),
        ["items[0].prompt: is one word, in a check that asks for sentences"]
    );
    let sh = json!([{"prompt": "ch", "gpc": {"grapheme": "sh", "phoneme": "ʃ"}}]);
    assert_eq!(warned("gpc_recognition", sh), ["items[0].prompt: is not how its GPC is written: sh"]);
}
