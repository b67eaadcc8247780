//! Second marking of a sample: blind until it is given, and agreement of the check and its items.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{
    Answer, Client, Pupils, School, TODAY, Value, column, item_ids, json, lesson_ids, text,
};

/// Three pupils of a group of teacher, assistant and a second teacher; a check of three words in a round.
struct Sampled {
    school: School,
    pupils: Pupils,
    group: String,
    check: String,
    items: Vec<String>,
    round: String,
}

fn start() -> Sampled {
    let school = School::start();
    school.calendar();
    let (sequence, _) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder"), ("Ida", "Alder")]);
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"], &pupils["Max"], &pupils["Ida"]]);
    let adults = ["teacher", "assistant", "teacher:2"]
        .map(|key| json!({"staff_id": school.staff_id(key), "from": "2026-09-01"}));
    let path = format!("/groups/{group}");
    let etag = school.lead().get(&path).etag();
    school.lead().put(&format!("{path}/adults"), &etag, json!({"adults": adults})).expect(200);
    let (check, items) = school.word_check("Words", &["mop", "dot", "pod"]);
    let round = school.round("Autumn 2", "2026-11-16", "2026-11-27", &[&check]);
    Sampled { school, pupils, group, check, items, round }
}

impl Sampled {
    fn ask(&self, round: &str, more: Value) -> Answer {
        let mut body =
            json!({"check_id": self.check, "seed": 11, "staff_ids": [self.school.staff_id("assistant")]});
        for (name, value) in more.as_object().unwrap() {
            body[name] = value.clone();
        }
        self.school.lead().post(&format!("/check-rounds/{round}/second-markings"), body)
    }

    fn of(&self, pupil: &str) -> String {
        format!("/check-rounds/{}/pupils/{}", self.round, self.pupils[pupil])
    }

    /// The teacher asks first.
    fn first(&self, pupil: &str, outcomes: [&str; 3]) -> Value {
        let mut answers: Vec<Value> = Vec::new();
        for (item, outcome) in self.items.iter().zip(outcomes) {
            answers.push(json!({"item_id": item, "outcome": outcome}));
            if outcome == "wrong" {
                answers.last_mut().unwrap()["heard"] = json!("m.ɒ.b");
            }
        }
        let body = json!({"check_id": self.check, "on": TODAY, "answers": answers});
        self.school.staff("teacher").post(&format!("{}/responses", self.of(pupil)), body).expect(201)
    }

    fn second(&self, who: &Client, pupil: &str, outcomes: &[&str]) -> Answer {
        let answers: Vec<Value> = self
            .items
            .iter()
            .zip(outcomes)
            .map(|(item, outcome)| json!({"item_id": item, "outcome": outcome}))
            .collect();
        let body = json!({"check_id": self.check, "basis": "beside", "answers": answers});
        who.post(&format!("{}/second-marks", self.of(pupil)), body)
    }

    fn agreement(&self) -> Value {
        let path = format!("/check-rounds/{}/agreement?check_id={}", self.round, self.check);
        self.school.lead().get(&path).expect(200)
    }
}

/// What was missed stays as it was on the open list of whoever is still to give second marks, however the first
/// came out.
#[test]
fn the_open_list_tells_nothing_of_the_first_marks_either() {
    let school = School::start();
    school.calendar();
    let (sequence, content) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder")]);
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"], &pupils["Max"]]);
    let (lead, teacher, assistant) = (school.lead(), school.staff("teacher"), school.staff("assistant"));
    let path = format!("/groups/{group}");
    let adults =
        ["teacher", "assistant"].map(|key| json!({"staff_id": school.staff_id(key), "from": "2026-09-01"}));
    lead.put(&format!("{path}/adults"), &lead.get(&path).etag(), json!({"adults": adults})).expect(200);
    let register = json!({"register": [{"pupil_id": pupils["Zoe"], "mark": "absent"}]});
    let lesson = &lesson_ids(&content)[0];
    school.log_lesson(&teacher, &group, "2026-11-19", lesson, "delivered", &register).expect(201);
    let caught_up = json!({"on": "2026-11-24", "items": item_ids(&content, 0), "pupil_ids": [pupils["Zoe"]]});
    teacher.post(&format!("{path}/catch-up-records"), caught_up).expect(201);
    let (check, items) = school.gpc_check("Sounds", &[("m", "m"), ("o", "ɒ")]);
    let round = school.round("Autumn 2", "2026-11-16", "2026-11-27", &[&check]);
    let sample =
        json!({"check_id": check, "seed": 11, "percent": 100, "staff_ids": [school.staff_id("assistant")]});
    lead.post(&format!("/check-rounds/{round}/second-markings"), sample).expect(201);
    let open = |who: &Client| who.get(&format!("{path}/catch-up")).expect(200)["pupils"].clone();
    let before = open(&assistant);
    assert_eq!(before, open(&teacher));
    let first = [(&items[0], "wrong"), (&items[1], "right")].map(|(item, outcome)| (item.as_str(), outcome));
    school.answer(&teacher, (&round, &pupils["Zoe"], &check), TODAY, &first).expect(201);
    assert_ne!(open(&teacher), before);
    assert_eq!(open(&assistant), before);
    let marks: Vec<Value> = items.iter().map(|item| json!({"item_id": item, "outcome": "right"})).collect();
    let given = json!({"check_id": check, "basis": "beside", "answers": marks});
    assistant
        .post(&format!("/check-rounds/{round}/pupils/{}/second-marks", pupils["Zoe"]), given)
        .expect(201);
    assert_eq!(open(&assistant), open(&teacher));
}

#[test]
fn a_sample_is_drawn_by_a_seed_and_asks_nobody_to_mark_their_own() {
    let a = start();
    let refused = |more: Value| a.ask(&a.round, more).problem(422, "invalid");
    assert_eq!(refused(json!({})), ["pupils: give either pupils or percent"]);
    assert_eq!(refused(json!({"pupils": 1, "percent": 10})), ["pupils: give either pupils or percent"]);
    assert_eq!(refused(json!({"pupils": 0})), ["pupils: must be 1 to 60"]);
    assert_eq!(refused(json!({"percent": 101})), ["percent: must be 1 to 100"]);
    assert_eq!(refused(json!({"pupils": 1, "staff_ids": []})), ["staff_ids: name 1 to 20 adults"]);
    assert_eq!(
        refused(json!({"pupils": 1, "staff_ids": [a.round]})),
        ["staff_ids: one of them does not work here"]
    );
    // The office records no checks, a teacher of other pupils none of these.
    let of = |key: &str| refused(json!({"pupils": 1, "staff_ids": [a.school.staff_id(key)]}));
    assert!(of("office")[0].starts_with("staff_ids[0]: holds no role then"), "{:?}", of("office"));
    assert!(of("teacher:3")[0].starts_with("staff_ids: none of them may mark"), "{:?}", of("teacher:3"));
    assert_eq!(
        refused(json!({"pupils": 1, "check_id": a.round})),
        ["check_id: is not a check of this round"]
    );
    let drawn = a.ask(&a.round, json!({"pupils": 2})).expect(201);
    assert_eq!((&drawn["drawn_from"], &drawn["without_adult"]), (&json!(3), &json!(0)));
    a.ask(&a.round, json!({"pupils": 2})).problem(409, "conflict");
    // The same seed draws the same pupils of another round.
    let again = a.school.round("Again", "2026-11-16", "2026-11-27", &[&a.check]);
    let same = a.ask(&again, json!({"pupils": 2})).expect(201);
    assert_eq!(column(&same["pupils"], "pupil_id"), column(&drawn["pupils"], "pupil_id"));
    // Whom the assistant asked first, somebody else would have to mark.
    let third = a.school.round("Third", "2026-11-16", "2026-11-27", &[&a.check]);
    let of = (third.as_str(), a.pupils["Max"].as_str(), a.check.as_str());
    a.school.answer(&a.school.staff("assistant"), of, TODAY, &[(&a.items[0], "right")]).expect(201);
    let drawn = a.ask(&third, json!({"percent": 100})).expect(201);
    assert_eq!((&drawn["drawn_from"], &drawn["without_adult"]), (&json!(2), &json!(1)));
    assert!(!column(&drawn["pupils"], "pupil_id").contains(&a.pupils["Max"]));
}

#[test]
fn nothing_of_the_first_marks_is_told_before_the_second_are_given() {
    let a = start();
    let (teacher, assistant) = (a.school.staff("teacher"), a.school.staff("assistant"));
    a.ask(&a.round, json!({"percent": 100})).expect(201);
    let first = a.first("Zoe", ["right", "wrong", "no_response"]);
    let class = text(&a.school.lead().get("/classes").expect(200)["items"][0]["id"]);
    let (round, zoe, responses) = (&a.round, &a.pupils["Zoe"], format!("{}/responses", a.of("Zoe")));
    let paths = [
        "/checks".to_owned(),
        "/check-rounds".into(),
        format!("/check-rounds/{round}"),
        format!("/check-rounds/{round}/progress"),
        format!("/check-rounds/{round}/second-markings"),
        responses.clone(),
        format!("{}/second-marks?check_id={}", a.of("Zoe"), a.check),
        format!("/pupils/{zoe}"),
        format!("/pupils/{zoe}/answering"),
        format!("/pupils/{zoe}/coverage"),
        format!("/pupils/{zoe}/confusions"),
        format!("/groups/{}/confusions", a.group),
        format!("/groups/{}/next-lesson", a.group),
    ];
    let blind = |answer: &Answer| {
        let tells = ["right", "wrong", "no_response", "m.ɒ.b"]
            .into_iter()
            .find(|mark| answer.text.contains(&format!("\"{mark}\"")));
        assert_eq!(tells, None, "{}", answer.text);
    };
    for path in &paths {
        let answer = assistant.get(path);
        assert_eq!(answer.status, 200, "{path}: {}", answer.text);
        blind(&answer);
    }
    // Nor by a detour: asking first, being named as who asked, correcting what was not shown, half a sheet.
    let own = json!({"check_id": a.check, "on": TODAY, "answers": [{"item_id": a.items[0], "outcome": "not_offered"}]});
    blind(&assistant.post(&responses, own.clone()));
    assistant.post(&responses, own.clone()).problem(409, "conflict");
    let mut named = own;
    named["taken_by"] = json!(a.school.staff_id("assistant"));
    teacher.post(&responses, named).problem(409, "conflict");
    let correction = json!({"response_id": first["items"][1]["id"], "outcome": "not_offered"});
    let refused = assistant.post(&format!("{}/corrections", a.of("Zoe")), correction);
    assert_eq!(
        refused.problem(422, "invalid"),
        ["response_id: is not a response of this pupil in this round"]
    );
    let half = a.second(&assistant, "Zoe", &["not_offered"]);
    blind(&half);
    assert!(half.problem(422, "invalid")[0].starts_with("answers: 2 items have no mark"));
    // Everybody else reads on.
    assert_eq!(
        column(&teacher.get(&responses).expect(200)["items"], "outcome"),
        ["right", "wrong", "no_response"]
    );
    assert!(teacher.get(&format!("/groups/{}/confusions", a.group)).text.contains("\"answers\":3"));
    assert!(assistant.get(&format!("/classes/{class}/confusions")).status == 404);

    // Given, both stand side by side, and the first is as it was.
    let given = a.second(&assistant, "Zoe", &["right", "right", "no_response"]).expect(201);
    assert_eq!(column(&given["items"], "first"), ["right", "wrong", "no_response"]);
    assert_eq!(column(&given["items"], "second"), ["right", "right", "no_response"]);
    assert_eq!(teacher.get(&responses).expect(200), assistant.get(&responses).expect(200));
    assert_eq!(
        column(&assistant.get(&responses).expect(200)["items"], "outcome"),
        ["right", "wrong", "no_response"]
    );
    a.second(&assistant, "Zoe", &["wrong", "wrong", "wrong"]).problem(409, "conflict");
    a.second(&teacher, "Zoe", &["right", "right", "right"]).problem(409, "conflict");
    // Of Max, not asked yet, the second marks may come first.
    let before = a.second(&assistant, "Max", &["right", "right", "right"]).expect(201);
    assert_eq!(before["items"][0]["first"], Value::Null);
}

#[test]
fn agreement_is_of_the_check_and_its_items() {
    let a = start();
    let assistant = a.school.staff("assistant");
    a.ask(&a.round, json!({"percent": 100})).expect(201);
    let nothing = a.agreement();
    assert_eq!(
        (&nothing["agreement"]["marked"], &nothing["agreement"]["percent"]),
        (&json!(0), &Value::Null)
    );
    assert_eq!(nothing["agreement"]["no_kappa"], "nothing_marked");
    a.first("Zoe", ["right", "wrong", "no_response"]);
    // The second adult sat beside and was faster.
    a.second(&assistant, "Max", &["right", "right", "right"]).expect(201);
    a.first("Max", ["right", "right", "right"]);
    a.first("Ida", ["right", "wrong", "right"]);
    a.second(&assistant, "Zoe", &["right", "right", "no_response"]).expect(201);
    a.second(&assistant, "Ida", &["wrong", "wrong", "right"]).expect(201);
    let seen = a.agreement();
    assert_eq!((&seen["pupils"], &seen["pupils_marked"]), (&json!(3), &json!(3)));
    // 7 of 9 alike. First: right 6, wrong 2, none 1; second the same: by chance (36 + 4 + 1)/81.
    // Kappa = (63 - 41)/(81 - 41) = 0.55.
    let whole = &seen["agreement"];
    assert_eq!(
        (&whole["marked"], &whole["agreed"], &whole["percent"]),
        (&json!(9), &json!(7), &json!(77.778))
    );
    assert_eq!((&whole["kappa"], &whole["no_interval"]), (&json!(0.55), &json!("too_few")));
    let items: Vec<&Value> =
        seen["items"].as_array().unwrap().iter().map(|one| &one["agreement"]["kappa"]).collect();
    // mop: all right to the first, so no more than chance; dot: (6 - 4)/(9 - 4); pod: alike throughout.
    assert_eq!(items, [&json!(0.0), &json!(0.4), &json!(1.0)]);
    let differ = seen["differences"].clone();
    assert_eq!(column(&differ, "pupil_id"), [a.pupils["Ida"].clone(), a.pupils["Zoe"].clone()]);
    assert_eq!((&differ[1]["first"], &differ[1]["second"]), (&json!("wrong"), &json!("right")));
    assert_eq!(differ[1]["second_by"], a.school.staff_id("assistant"));
    // Nobody is named but where two have to talk.
    let mut figures = seen.clone();
    figures.as_object_mut().unwrap().remove("differences");
    for key in ["teacher", "assistant", "lead"] {
        assert!(!figures.to_string().contains(&a.school.staff_id(key)), "{key}");
    }
    assert!(!column(&seen["cautions"], "code").is_empty() && text(&seen["method"]).contains("Fleiss"));
}

#[test]
fn a_difference_is_settled_by_a_correction_that_says_so() {
    let a = start();
    let (teacher, assistant) = (a.school.staff("teacher"), a.school.staff("assistant"));
    a.ask(&a.round, json!({"percent": 100})).expect(201);
    let first = a.first("Zoe", ["right", "wrong", "right"]);
    let settle = |who: &Client, id: &Value| {
        let body = json!({"response_id": id, "outcome": "right", "reason": "second_marking"});
        who.post(&format!("{}/corrections", a.of("Zoe")), body)
    };
    let wrong = &first["items"][1]["id"];
    assert_eq!(
        settle(&teacher, wrong).problem(422, "invalid"),
        ["reason: is for an answer that was marked a second time"]
    );
    a.second(&assistant, "Zoe", &["right", "right", "right"]).expect(201);
    let before = a.agreement();
    assert_eq!(before["differences"][0]["settled"], false);
    settle(&a.school.staff("teacher:2"), wrong).problem(403, "forbidden");
    let settled = settle(&assistant, wrong).expect(201);
    assert_eq!(
        (&settled["items"][0]["reason"], &settled["items"][0]["corrects"]),
        (&json!("second_marking"), wrong)
    );
    // The first mark stays as history, and the agreement is what it was.
    let listed = teacher.get(&format!("{}/responses", a.of("Zoe"))).expect(200)["items"].clone();
    assert_eq!((&listed[1]["outcome"], &listed[1]["in_force"]), (&json!("wrong"), &json!(false)));
    let after = a.agreement();
    assert_eq!(after["agreement"], before["agreement"]);
    assert_eq!(after["differences"][0]["settled"], true);
    let shown = teacher.get(&format!("{}/second-marks?check_id={}", a.of("Zoe"), a.check)).expect(200);
    assert_eq!((&shown["items"][1]["first"], &shown["items"][1]["settled"]), (&json!("wrong"), &json!(true)));
    // An own mistake needs no second marking.
    let plain = json!({"response_id": first["items"][0]["id"], "outcome": "wrong"});
    let plain = teacher.post(&format!("{}/corrections", a.of("Zoe")), plain).expect(201);
    assert_eq!(plain["items"][0]["reason"], "recorded_wrongly");
}

/// Who gave second marks asks the pupil that check neither anew nor in a sitting of another adult.
#[test]
fn whoever_marked_a_second_time_takes_over_no_sitting() {
    let a = start();
    let (teacher, assistant) = (a.school.staff("teacher"), a.school.staff("assistant"));
    a.ask(&a.round, json!({"percent": 100})).expect(201);
    let sitting = a.school.sitting(&teacher, (&a.round, &a.pupils["Zoe"], &a.check));
    a.second(&assistant, "Zoe", &["right", "right", "right"]).expect(201);
    teacher.call("POST", &format!("{sitting}/pause"), None).expect(200);
    let said = "you marked this check of this pupil a second time: somebody else asks first";
    let refused = |answer: Answer| {
        answer.problem(409, "conflict");
        assert_eq!(answer.json()["detail"], said);
    };
    refused(assistant.post(&format!("{sitting}/resume"), json!({"take_over": true})));
    refused(assistant.post(&format!("{sitting}/resume"), json!({})));
    let answer =
        json!({"id": "0199f2c4-7777-7000-8000-000000000001", "item_id": a.items[0], "outcome": "right"});
    refused(assistant.post(&format!("{sitting}/answers"), json!({"answers": [answer]})));
    let undo = json!({"id": "0199f2c4-7777-7000-8000-000000000002"});
    refused(assistant.post(&format!("{sitting}/undo"), undo));
    refused(assistant.call("POST", &format!("{sitting}/finish"), None));
    // What came of it may be read by now, and the teacher goes on.
    assistant.get(&sitting).expect(200);
    teacher.post(&format!("{sitting}/resume"), json!({})).expect(200);
}

#[test]
fn without_a_sample_it_is_said_that_none_was_asked_for() {
    let a = start();
    let path = format!("/check-rounds/{}/agreement?check_id={}", a.round, a.check);
    let none = a.school.lead().get(&path);
    none.problem(404, "not_found");
    assert!(
        text(&none.json()["detail"]).starts_with("no sample of this check of the round was asked"),
        "{}",
        none.text
    );
    let none = a.school.lead().get(&format!("{}/second-marks?check_id={}", a.of("Zoe"), a.check));
    none.problem(404, "not_found");
    assert!(text(&none.json()["detail"]).starts_with("nobody is asked to mark"), "{}", none.text);
}

#[test]
fn a_tap_that_was_undone_is_no_first_mark() {
    let a = start();
    a.ask(&a.round, json!({"percent": 100})).expect(201);
    // The second marks come first; then the first marker taps wrong, takes it back and asks again.
    a.second(&a.school.staff("assistant"), "Zoe", &["right", "right", "right"]).expect(201);
    let teacher = a.school.staff("teacher");
    let sitting = a.school.sitting(&teacher, (&a.round, &a.pupils["Zoe"], &a.check));
    let id = |n: u32| format!("0199f2c4-4444-7000-8000-{n:012x}");
    let send = |n: u32, outcome: &str| {
        let one = json!({"id": id(n), "item_id": a.items[0], "outcome": outcome});
        teacher.post(&format!("{sitting}/answers"), json!({"answers": [one]})).expect(200)
    };
    send(1, "wrong");
    teacher.post(&format!("{sitting}/undo"), json!({"id": id(2)})).expect(200);
    // Until it is asked again there is no first mark.
    assert_eq!(a.agreement()["agreement"]["marked"], 0);
    send(3, "right");
    let agreement = a.agreement()["agreement"].clone();
    assert_eq!((&agreement["marked"], &agreement["agreed"]), (&json!(1), &json!(1)), "{agreement}");
}
