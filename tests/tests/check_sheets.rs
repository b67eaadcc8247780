//! Checks on paper: the sheets, and entering a whole log sheet at once.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Pupils, School, TODAY, Value, column, json, text};

/// A class of five with two of one name, a check of three words, and a round of it.
struct Paper {
    school: School,
    pupils: Pupils,
    group: String,
    check: String,
    items: Vec<String>,
    round: String,
}

fn start() -> Paper {
    let school = School::start();
    school.calendar();
    let (sequence, _) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder"), ("Ida", "Rowan")]);
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"], &pupils["Max"]]);
    let (check, items) = school.word_check("Words", &["mop", "dot", "pod"]);
    let round = school.round("Autumn 2", "2026-11-16", "2026-11-27", &[&check]);
    Paper { school, pupils, group, check, items, round }
}

impl Paper {
    fn path(&self) -> String {
        format!("/check-rounds/{}/responses", self.round)
    }

    /// Pupils with the outcomes of their items in order.
    fn sheet(&self, on: &str, pupils: &[(&str, &[&str])]) -> Value {
        let of = |(pupil, outcomes): &(&str, &[&str])| {
            let answers: Vec<Value> = self
                .items
                .iter()
                .zip(*outcomes)
                .map(|(item, outcome)| json!({"item_id": item, "outcome": outcome}))
                .collect();
            json!({"pupil_id": self.pupils[*pupil], "answers": answers})
        };
        json!({"check_id": self.check, "on": on, "pupils": pupils.iter().map(of).collect::<Vec<_>>()})
    }

    fn responses(&self, pupil: &str) -> Vec<Value> {
        let path = format!("/check-rounds/{}/pupils/{}/responses", self.round, self.pupils[pupil]);
        self.school.lead().get(&path).expect(200)["items"].as_array().unwrap().clone()
    }
}

#[test]
fn a_sheet_is_entered_at_once_and_kept_as_each_pupils_own_answers() {
    let p = start();
    let assistant = p.school.staff_id("assistant");
    let mut sheet =
        p.sheet("2026-11-24", &[("Zoe", &["right", "wrong", "no_response"]), ("Max", &["right"])]);
    sheet["taken_by"] = json!(assistant);
    sheet["pupils"][1]["on"] = json!(TODAY);
    sheet["pupils"][1]["mode"] = json!("sign");
    sheet["pupils"][0]["answers"][1]["heard"] = json!("dɒɡ");
    let recorded = p.school.lead().post(&p.path(), sheet).expect(201);
    assert_eq!(column(&recorded["items"], "pupil_id"), [p.pupils["Zoe"].clone(), p.pupils["Max"].clone()]);
    let zoe = p.responses("Zoe");
    assert_eq!(recorded["items"][0]["responses"], json!(zoe), "as they read alone");
    let line = |one: &Value| [&one["on"], &one["outcome"], &one["heard"], &one["mode"]].map(Clone::clone);
    let day = json!("2026-11-24");
    assert_eq!(line(&zoe[1]), [day.clone(), json!("wrong"), json!("d.ɒ.g"), json!("spoken")]);
    assert_eq!(line(&p.responses("Max")[0]), [json!(TODAY), json!("right"), Value::Null, json!("sign")]);
    // Who asked is not who entered it.
    let lead = p.school.staff_id("lead");
    assert!(zoe.iter().all(|one| one["taken_by"] == json!(assistant) && one["entered_by"] == json!(lead)));
    assert_eq!(p.responses("Ida").len(), 0);
}

#[test]
fn who_was_absent_that_day_is_asked_with_a_warning() {
    let p = start();
    let lead = p.school.lead();
    let next = lead.get(&format!("/groups/{}/next-lesson", p.group)).expect(200);
    let register = json!({"register": [{"pupil_id": p.pupils["Zoe"], "mark": "absent"}]});
    let lesson = text(&next["lesson"]["id"]);
    p.school.log_lesson(&lead, &p.group, "2026-11-24", &lesson, "delivered", &register).expect(201);
    let warnings = |on: &str, pupils: &[(&str, &[&str])]| {
        let recorded = lead.post(&p.path(), p.sheet(on, pupils)).expect(201);
        recorded["items"].as_array().unwrap().iter().map(|one| one["warnings"].clone()).collect::<Vec<_>>()
    };
    let all: [(&str, &[&str]); 3] = [("Zoe", &["right"]), ("Max", &["right"]), ("Ida", &["right"])];
    assert_eq!(warnings("2026-11-24", &all), [json!(["absent_that_day"]), json!([]), json!([])]);
    let round = p.school.round("Again", "2026-11-16", "2026-11-27", &[&p.check]);
    let p = Paper { round, ..p };
    let sheet = p.sheet("2026-11-23", &all[..1]);
    assert_eq!(lead.post(&p.path(), sheet).expect(201)["items"][0]["warnings"], json!([]));
}

#[test]
fn a_sheet_stands_whole_or_not_at_all_and_each_fault_is_named_by_place() {
    let p = start();
    let lead = p.school.lead();
    let refused = |sheet: Value| lead.post(&p.path(), sheet).problem(422, "invalid");
    let two = || p.sheet(TODAY, &[("Zoe", &["right", "right"]), ("Max", &["right", "wrong"])]);
    let with = |pointer: &str, value: Value| {
        let mut sheet = two();
        *sheet.pointer_mut(pointer).unwrap() = value;
        sheet
    };
    let stranger = json!(p.round);
    assert_eq!(
        refused(with("/pupils/1/answers/1/item_id", stranger.clone())),
        ["pupils[1].answers[1].item_id: the check has no such item"]
    );
    let mut both = with("/pupils/1/answers/1/item_id", json!(p.items[0]));
    both["pupils"][0]["on"] = json!("2026-11-28");
    assert_eq!(
        refused(both),
        [
            "pupils[0].on: 2026-11-28 is in the future",
            "pupils[1].answers[1].item_id: this item is answered twice"
        ]
    );
    // What is said for all is wrong once.
    assert_eq!(
        refused(with("/on", json!("2026-11-15"))),
        ["on: 2026-11-15 is not a day of this round, which is from 2026-11-16 to 2026-11-27"]
    );
    assert_eq!(refused(with("/check_id", stranger.clone())), ["check_id: is not a check of this round"]);
    let mut by = two();
    by["taken_by"] = stranger.clone();
    assert_eq!(refused(by), ["taken_by: is not of this school's staff"]);
    assert_eq!(
        refused(with("/on", Value::Null)),
        ["pupils[0].on: is required here or for all", "pupils[1].on: is required here or for all"]
    );
    assert_eq!(
        refused(with("/pupils/1/answers", json!([]))),
        ["pupils[1].answers: give at least one answer"]
    );
    assert_eq!(
        refused(with("/pupils/1/pupil_id", json!(p.pupils["Zoe"]))),
        ["pupils[1].pupil_id: this pupil stands twice"]
    );
    assert_eq!(
        refused(with("/pupils/1/pupil_id", stranger)),
        ["pupils[1].pupil_id: is none of the pupils you check"]
    );
    assert_eq!(refused(with("/pupils", json!([]))), ["pupils: give 1 to 60 pupils"]);
    let mut heard = two();
    heard["pupils"][0]["answers"][0]["heard"] = json!("bɪn");
    let only_wrong = "pupils[0].answers[0].heard: says what was heard instead: it goes with a wrong answer";
    assert_eq!(refused(heard), [only_wrong]);
    // A teacher enters own pupils only.
    let teacher = p.school.staff("teacher");
    let ida = p.sheet(TODAY, &[("Zoe", &["right"]), ("Ida", &["right"])]);
    let said = teacher.post(&p.path(), ida).problem(422, "invalid");
    assert_eq!(said, ["pupils[1].pupil_id: is none of the pupils you check"]);
    assert_eq!(p.responses("Zoe").len() + p.responses("Max").len() + p.responses("Ida").len(), 0);
    // Answers that stand already are told as for one pupil alone.
    lead.post(&p.path(), p.sheet(TODAY, &[("Max", &["right"])])).expect(201);
    assert_eq!(
        lead.post(&p.path(), two()).problem(409, "conflict"),
        [
            "pupils[1].answers[0].item_id: this pupil has an answer to this item in this round; correct that one"
        ]
    );
    assert_eq!((p.responses("Zoe").len(), p.responses("Max").len()), (0, 1));
}

#[test]
fn a_repeated_sheet_is_answered_and_not_entered_again() {
    let p = start();
    let lead = p.school.lead().with("Idempotency-Key", "sheet-1");
    let sheet = p.sheet(TODAY, &[("Zoe", &["right", "right"]), ("Max", &["right"])]);
    let first = lead.post(&p.path(), sheet.clone()).expect(201);
    assert_eq!(lead.post(&p.path(), sheet).expect(201), first);
    assert_eq!((p.responses("Zoe").len(), p.responses("Max").len()), (2, 1));
    let other = p.sheet(TODAY, &[("Ida", &["right"])]);
    lead.post(&p.path(), other).problem(422, "idempotency_key_reused");
}

/// 30 pupils and 25 items in one request: within a second of a server that is not optimised, on a machine shared with
/// other tests. Optimised it takes a small part of that.
#[test]
fn a_class_is_entered_in_one_go() {
    let school = School::start();
    school.calendar();
    let names: Vec<String> = (0..30).map(|n| format!("Pupil{n:02}")).collect();
    let rows: Vec<(&str, &str)> = names.iter().map(|name| (name.as_str(), "Alder")).collect();
    let pupils = school.pupils(&rows);
    let words: Vec<String> = (0..25).map(|n| format!("mop {n}")).collect();
    let (check, items) = school.word_check("Words", &words.iter().map(String::as_str).collect::<Vec<_>>());
    let round = school.round("Now", "2026-11-16", "2026-11-27", &[&check]);
    let answers: Vec<Value> = items.iter().map(|item| json!({"item_id": item, "outcome": "right"})).collect();
    let all: Vec<Value> =
        names.iter().map(|name| json!({"pupil_id": pupils[name], "answers": answers})).collect();
    let sheet = json!({"check_id": check, "on": TODAY, "pupils": all});
    let lead = school.lead();
    let recorded = lead.post(&format!("/check-rounds/{round}/responses"), sheet).expect(201);
    let many: usize = recorded["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["responses"].as_array().unwrap().len())
        .sum();
    assert_eq!(many, 750);
    let progress = lead.get(&format!("/check-rounds/{round}/progress")).expect(200);
    let asked =
        progress["items"].as_array().unwrap().iter().map(|one| one["checks"][0]["asked"].as_u64().unwrap());
    assert_eq!(asked.collect::<Vec<_>>(), [25; 30]);
}

#[test]
fn what_the_pupil_reads_is_printed_without_names_or_marks() {
    let p = start();
    let lead = p.school.lead();
    let sheet = lead.get(&format!("/checks/{}/sheet", p.check));
    sheet.expect(200);
    assert_eq!(sheet.header("Content-Type"), "text/html; charset=utf-8");
    assert!(sheet.header("Content-Security-Policy").contains("default-src 'none'"));
    assert!(sheet.text.contains("<small>1</small><span>mop</span>"), "{}", sheet.text);
    assert!(sheet.text.contains("Page 1 of 1. Words, version 1"), "{}", sheet.text);
    for absent in ["Zoe", "<td", "<script"] {
        assert!(!sheet.text.contains(absent), "{absent}: {}", sheet.text);
    }
    let blending = json!({"name": "Blend", "kind": "oral_blending", "items": [{"prompt": "mop"}]});
    let blending = text(&lead.post("/checks", blending).expect(201)["id"]);
    let sheet = lead.get(&format!("/checks/{blending}/sheet"));
    sheet.expect(200);
    assert!(
        sheet.text.contains("For the adult.") && sheet.text.contains("<td>m · o · p</td><td>m · ɒ · p</td>"),
        "{}",
        sheet.text
    );
}

#[test]
fn a_log_sheet_has_a_box_for_each_item_and_is_logged() {
    let p = start();
    let lead = p.school.lead();
    // A namesake of another class.
    let csv =
        "given_name,family_name,date_of_birth,year_group,class_name\nZoe,Bell,2020-07-04,Year 1,Rowan\n";
    let preview = lead.post_csv("/roster-imports", csv.as_bytes()).expect(201);
    let confirm = format!("/roster-imports/{}/confirm", text(&preview["id"]));
    lead.post(&confirm, json!({"from": "2026-09-01"})).expect(200);
    let path = format!("/check-rounds/{}/log-sheet?check_id={}", p.round, p.check);
    let sheet = lead.get(&path);
    sheet.expect(200);
    for shown in
        ["Zoe Bell (Alder)", "Zoe Bell (Rowan)", "Max Bell", "Ida Bell", "Farholt Infant School", "Autumn 2"]
    {
        assert!(sheet.text.contains(shown), "{shown}: {}", sheet.text);
    }
    // Four pupils, three items, and two boxes for day and adult.
    assert_eq!(sheet.text.matches("<td></td>").count(), 4 * 5);
    assert!(!sheet.text.contains("2020") && !sheet.text.contains("May"), "no days of birth");
    let entry = lead.get("/audit-entries").expect(200)["items"][0].clone();
    assert_eq!(
        (text(&entry["operation"]), text(&entry["subject_kind"])),
        ("check.log_sheet".into(), "check_round".into()),
        "{entry}"
    );
    // Of one group; a teacher sees own pupils alone.
    let of_group = lead.get(&format!("{path}&group_id={}", p.group));
    of_group.expect(200);
    assert!(of_group.text.contains("Zoe Bell") && !of_group.text.contains("Ida Bell"));
    let teacher = p.school.staff("teacher").get(&path);
    teacher.expect(200);
    assert!(teacher.text.contains("Max Bell") && !teacher.text.contains("Ida Bell"));
    let said = lead
        .get(&format!("/check-rounds/{}/log-sheet?check_id={}", p.round, p.group))
        .problem(422, "invalid");
    assert_eq!(said, ["check_id: is not a check of this round"]);
}

#[test]
fn two_sounds_of_one_grapheme_are_told_apart_for_the_adult() {
    let p = start();
    let lead = p.school.lead();
    let pair = |sound: &str| json!({"prompt": "th", "gpc": {"grapheme": "th", "phoneme": sound}});
    let body = json!({"name": "th", "kind": "gpc_recognition", "items": [pair("θ"), pair("ð")]});
    let made = lead.post("/checks", body).expect(201);
    assert_eq!(made["warnings"], json!([]));
    let check = lead.get(&format!("/checks/{}", text(&made["id"]))).expect(200);
    let said = |n: usize| (check["items"][n]["accept"].clone(), text(&check["items"][n]["keyword"]));
    let (thin, this) = (said(0), said(1));
    assert_eq!((&thin.0, &this.0), (&json!(["θ"]), &json!(["ð"])));
    assert_ne!(thin.1, this.1);
    let round = p.school.round("th", "2026-11-16", "2026-11-27", &[&text(&made["id"])]);
    let sheet = lead.get(&format!("/check-rounds/{round}/log-sheet?check_id={}", text(&made["id"]))).text;
    let keys = format!("1 th as in {} · 2 th as in {}", thin.1, this.1);
    for shown in ["<span class=\"sound\">/θ/</span>", "<span class=\"sound\">/ð/</span>", &keys] {
        assert!(sheet.contains(shown), "{shown}: {sheet}");
    }
    // The pupil's sheet tells nothing of it.
    let sheet = lead.get(&format!("/checks/{}/sheet", text(&made["id"]))).text;
    assert!(!sheet.contains('θ') && !sheet.contains(&thin.1), "{sheet}");
}
