//! A round of a whole class, and what no answer about marking may ever hold.
#![allow(clippy::unwrap_used)]

use std::collections::BTreeSet;

use plumbline_tests::{ClassRound, Document, Value, json, text};

/// The operations in which pupils are asked and answers are marked, or that are looked at meanwhile.
const MARKING: &[&str] = &[
    "begin_sitting",
    "get_sitting",
    "answer_sitting",
    "undo_sitting_answer",
    "pause_sitting",
    "resume_sitting",
    "finish_sitting",
    "record_responses",
    "correct_response",
    "list_responses",
    "list_responses_set_aside",
];

/// Words that name a total, a share, a mark or a threshold.
const FORBIDDEN: &[&str] = &[
    "total",
    "sum",
    "count",
    "counts",
    "score",
    "scores",
    "mark",
    "marks",
    "points",
    "percent",
    "percentage",
    "share",
    "rate",
    "ratio",
    "average",
    "mean",
    "median",
    "threshold",
    "pass",
    "passed",
    "met",
    "predicted",
    "grade",
    "level",
    "rank",
    "right",
    "wrong",
    "correct",
];

/// The one number there is: in which section of a practice check an item stands.
const SECTION: &str = ".item.section";

fn is_forbidden(key: &str) -> bool {
    key.split('_').any(|part| FORBIDDEN.contains(&part))
}

/// Every key that is forbidden and every number, by where it stands.
fn told_too_much(value: &Value, at: &str, found: &mut Vec<String>) {
    match value {
        Value::Object(fields) => {
            for (key, value) in fields {
                let at = format!("{at}.{key}");
                if is_forbidden(key) {
                    found.push(at.clone());
                }
                told_too_much(value, &at, found);
            }
        }
        Value::Array(items) => items.iter().for_each(|item| told_too_much(item, &format!("{at}[]"), found)),
        Value::Number(_) if !at.ends_with(SECTION) => found.push(format!("{at} is a number")),
        _ => {}
    }
}

/// The same of a schema: its properties and their types, wherever a reference leads.
fn may_tell(
    document: &Document,
    schema: &Value,
    at: &str,
    found: &mut Vec<String>,
    seen: &mut BTreeSet<String>,
) {
    if let Some(to) = schema["$ref"].as_str()
        && !seen.insert(to.to_owned())
    {
        return;
    }
    let schema = document.resolve(schema);
    let kinds = schema["type"].as_array().cloned().unwrap_or_else(|| vec![schema["type"].clone()]);
    if kinds.iter().any(|kind| kind == "integer" || kind == "number") && !at.ends_with(SECTION) {
        found.push(format!("{at} is a number"));
    }
    for (key, value) in schema["properties"].as_object().into_iter().flatten() {
        let at = format!("{at}.{key}");
        if is_forbidden(key) {
            found.push(at.clone());
        }
        may_tell(document, value, &at, found, seen);
    }
    let parts = ["allOf", "oneOf", "anyOf"].into_iter().filter_map(|key| schema[key].as_array()).flatten();
    for part in parts.chain([&schema["items"]]).filter(|part| part.is_object()) {
        may_tell(document, part, at, found, seen);
    }
}

fn ids_in(text: &str, ids: &[String]) -> Vec<String> {
    ids.iter().filter(|id| text.contains(id.as_str())).cloned().collect()
}

#[test]
fn no_answer_about_marking_holds_a_total_or_another_child() {
    let class = ClassRound::start(3, 4);
    let (lead, pupil) = (class.school.lead(), class.pupils[0].clone());
    let of = format!("/check-rounds/{}/pupils/{pupil}", class.round);
    let id = |n: u32| format!("0199f2c4-5555-7000-8000-{n:012x}");
    let mut answers = Vec::new();
    let begun = lead.post(&format!("{of}/sittings"), json!({"check_id": class.check}));
    let at = format!("{of}/sittings/{}", text(&begun.expect(201)["id"]));
    answers.push(("begin_sitting", begun));
    let answer = |n: u32, item: usize, outcome: &str| json!({"id": id(n), "item_id": class.items[item], "outcome": outcome});
    let run = json!({"answers": [answer(1, 0, "right"), answer(2, 1, "wrong"), answer(3, 1, "right"), answer(4, 2, "not_offered")]});
    answers.push(("answer_sitting", lead.post(&format!("{at}/answers"), run)));
    answers.push(("undo_sitting_answer", lead.post(&format!("{at}/undo"), json!({"id": id(5)}))));
    answers.push(("pause_sitting", lead.call("POST", &format!("{at}/pause"), None)));
    answers.push(("resume_sitting", lead.post(&format!("{at}/resume"), json!({}))));
    answers.push(("finish_sitting", lead.call("POST", &format!("{at}/finish"), None)));
    answers.push(("get_sitting", lead.get(&at)));
    let body = json!({"check_id": class.check, "on": "2026-11-25", "answers": [{"item_id": class.items[3], "outcome": "right"}]});
    answers.push(("record_responses", lead.post(&format!("{of}/responses"), body)));
    let response = answers.last().unwrap().1.json()["items"][0]["id"].clone();
    let fix = json!({"response_id": response, "outcome": "wrong"});
    answers.push(("correct_response", lead.post(&format!("{of}/corrections"), fix)));
    answers.push(("list_responses", lead.get(&format!("{of}/responses"))));
    answers.push(("list_responses_set_aside", lead.get(&format!("{of}/set-aside"))));
    assert_eq!(answers.iter().map(|(id, _)| *id).collect::<BTreeSet<_>>(), MARKING.iter().copied().collect());
    let mut found = Vec::new();
    for (operation, answer) in &answers {
        assert!([200, 201].contains(&answer.status), "{operation}: {}", answer.text);
        told_too_much(&answer.json(), operation, &mut found);
        assert_eq!(ids_in(&answer.text, &class.pupils[1..]), Vec::<String>::new(), "{operation}");
    }
    // The live list has counts of pupils in one place, and nothing else that counts.
    let mut list = lead.get(&format!("/check-rounds/{}/list", class.round)).expect(200);
    list.as_object_mut().unwrap().remove("counts");
    told_too_much(&list, "get_round_list", &mut found);
    told_too_much(&lead.get("/my-checks").expect(200), "list_my_checks", &mut found);
    assert_eq!(found, Vec::<String>::new());

    let document = Document(class.school.nobody().get("/openapi.json").expect(200));
    for operation in MARKING {
        let responses = document.operation(operation).json["responses"].clone();
        for (status, response) in
            responses.as_object().unwrap().iter().filter(|(status, _)| status.starts_with('2'))
        {
            let schema = &response["content"]["application/json"]["schema"];
            let at = format!("{operation} {status}");
            may_tell(&document, schema, &at, &mut found, &mut BTreeSet::new());
        }
    }
    assert_eq!(found, Vec::<String>::new());
}

#[test]
fn the_walk_notices_a_total() {
    let mut found = Vec::new();
    told_too_much(&json!({"items": [{"right_total": "x", "on": "y"}], "next": {"n": 3}}), "$", &mut found);
    assert_eq!(found, ["$.items[].right_total", "$.next.n is a number"]);
    let schema =
        json!({"properties": {"a": {"items": {"properties": {"mark": {"type": ["integer", "null"]}}}}}});
    let mut found = Vec::new();
    may_tell(&Document(json!({})), &schema, "$", &mut found, &mut BTreeSet::new());
    assert_eq!(found, ["$.a.mark", "$.a.mark is a number"]);
}

#[test]
fn a_whole_class_is_asked_and_every_answer_is_there_once() {
    let class = ClassRound::start(30, 25);
    let lead = class.school.lead();
    // Half of the class answer by answer, each sent twice; the other half in runs of five.
    for (n, pupil) in class.pupils.iter().enumerate() {
        let at = class.begin(&lead, pupil);
        let answers = class.answers(n);
        let run = if n % 2 == 0 { 1 } else { 5 };
        for part in answers.chunks(run) {
            for expected in ["taken", "already_there"].into_iter().take(3 - run.min(2)) {
                let sent = class.send(&lead, &at, part).expect(200);
                let fates = sent["answers"].as_array().unwrap();
                assert!(
                    fates.len() == part.len() && fates.iter().all(|one| one["fate"] == expected),
                    "{sent}"
                );
            }
        }
        if n != 29 {
            lead.call("POST", &format!("{at}/finish"), None).expect(200);
        }
    }
    let mut there = 0;
    for (n, pupil) in class.pupils.iter().enumerate() {
        let path = format!("/check-rounds/{}/pupils/{pupil}/responses", class.round);
        let listed = lead.get(&path).expect(200)["items"].clone();
        let line = |one: &Value| (text(&one["id"]), text(&one["item_id"]), text(&one["outcome"]));
        let kept: BTreeSet<_> = listed.as_array().unwrap().iter().map(line).collect();
        let sent: BTreeSet<_> = class
            .answers(n)
            .iter()
            .map(|one| (text(&one["id"]), text(&one["item_id"]), text(&one["outcome"])))
            .collect();
        assert_eq!(kept, sent);
        there += listed.as_array().unwrap().len();
    }
    assert_eq!(there, 750);
    let list = lead.get(&format!("/check-rounds/{}/list", class.round)).expect(200);
    let counts = json!({"check_id": class.check, "left_to_do": 0, "under_way": 1, "done": 29, "absent_today": 0,
                        "exempt": 0, "not_accessible": 0});
    assert_eq!((list["pupils"].as_array().unwrap().len(), &list["counts"]), (30, &json!([counts])));
    let progress = lead.get(&format!("/check-rounds/{}/progress", class.round)).expect(200);
    let asked =
        progress["items"].as_array().unwrap().iter().map(|one| one["checks"][0]["asked"].as_u64().unwrap());
    assert_eq!(asked.sum::<u64>(), 750);
}
