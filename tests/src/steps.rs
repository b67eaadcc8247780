//! Steps that several tests take.

use serde_json::{Value, json};

use crate::{Answer, Client, School, new_id};

/// The text of a JSON string; empty for anything else.
pub fn text(value: &Value) -> String {
    value.as_str().unwrap_or_default().to_owned()
}

/// One field of every object in a list, as text.
pub fn column(list: &Value, field: &str) -> Vec<String> {
    list.as_array().unwrap().iter().map(|line| text(&line[field])).collect()
}

/// Ids of all lessons of a draft or version, in teaching order.
pub fn lesson_ids(content: &Value) -> Vec<String> {
    content["steps"].as_array().unwrap().iter().flat_map(|step| column(&step["lessons"], "id")).collect()
}

/// Ids of all items of the lesson that stands `n`th, from 0.
pub fn item_ids(content: &Value, n: usize) -> Vec<String> {
    let steps = content["steps"].as_array().unwrap();
    let lesson = steps.iter().flat_map(|step| step["lessons"].as_array().unwrap()).nth(n).unwrap();
    column(&lesson["items"], "id")
}

/// What a tablet of the lead's still sent when it was revoked; the replica it is number 1 of.
pub fn held_op(lead: &Client) -> String {
    let (tablet, op) = (new_id(), new_id());
    // A sign-in of its own: the one on the tablet opens nothing afterwards.
    let own = json!({"email": School::email("lead"), "password": School::password()});
    let there = lead.with_token(&text(&lead.post("/sessions", own).expect(201)["access_token"]));
    lead.post("/tablets", json!({"id": tablet, "name": "Lost"})).expect(201);
    let replica = there.post("/sync/replicas", json!({"id": new_id(), "tablet_id": tablet})).expect(201);
    lead.post(&format!("/tablets/{tablet}/revoke"), json!({})).expect(200);
    let sent = json!({"n": 1, "op_id": op, "type": "lesson.record", "set": {"on": "2026-11-25"}});
    let push =
        json!({"replica": replica["id"], "epoch": replica["epoch"], "schema": 1, "ack_n": 0, "ops": [sent]});
    there.post("/sync/push", push).problem(403, "tablet_revoked");
    text(&replica["id"])
}

impl School {
    /// A school with a group of two that was taught m, o, d, "the" and e in three lessons; n is
    /// next. The group's id is beside it.
    #[must_use]
    pub fn with_lessons() -> (Self, String) {
        let school = Self::start();
        school.calendar();
        let (sequence, content) = school.sequence();
        let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder")]);
        let group = school.group("Alder", &sequence, &[&pupils["Zoe"], &pupils["Max"]]);
        for (lesson, on) in lesson_ids(&content).iter().zip(["2026-11-19", "2026-11-20", "2026-11-23"]) {
            let body = json!({"on": on, "lesson_id": lesson, "outcome": "delivered"});
            school.staff("teacher").post(&format!("/groups/{group}/lesson-records"), body).expect(201);
        }
        (school, group)
    }

    /// Records a lesson; `more` holds any further fields of the report.
    pub fn log_lesson(
        &self,
        who: &Client,
        group: &str,
        on: &str,
        lesson: &str,
        outcome: &str,
        more: &Value,
    ) -> Answer {
        let mut body = json!({"on": on, "lesson_id": lesson, "outcome": outcome});
        for (name, value) in more.as_object().unwrap() {
            body[name] = value.clone();
        }
        who.post(&format!("/groups/{group}/lesson-records"), body)
    }

    /// The lesson a group is taught next: its title, and how many items remain.
    pub fn next_lesson(&self, group: &str) -> (String, usize) {
        let next = self.lead().get(&format!("/groups/{group}/next-lesson")).expect(200);
        let items = next["lesson"]["items"].as_array().map_or(0, Vec::len);
        (text(&next["lesson"]["title"]), items)
    }

    /// Adds a check of GPC recognition: its id and its items' ids.
    pub fn gpc_check(&self, name: &str, pairs: &[(&str, &str)]) -> (String, Vec<String>) {
        let items: Vec<Value> =
            pairs.iter().map(|(g, p)| json!({"prompt": g, "gpc": {"grapheme": g, "phoneme": p}})).collect();
        self.check(&json!({"name": name, "kind": "gpc_recognition", "items": items}))
    }

    /// Adds a check of word reading: its id and its items' ids.
    pub fn word_check(&self, name: &str, words: &[&str]) -> (String, Vec<String>) {
        let items: Vec<Value> = words.iter().map(|word| json!({"prompt": word})).collect();
        self.check(&json!({"name": name, "kind": "word_reading", "items": items}))
    }

    fn check(&self, body: &Value) -> (String, Vec<String>) {
        let made = self.lead().post("/checks", body.clone()).expect(201);
        (text(&made["id"]), column(&made["items"], "id"))
    }

    /// Says that two pupils are two children; the decision's id.
    pub fn told_apart(&self, one: &str, other: &str) -> String {
        let apart = json!({"verdict": "different", "pupil_id": one, "other_id": other});
        text(&self.lead().post("/pupil-decisions", apart).expect(201)["id"])
    }

    /// Opens a round of checks; returns its id.
    pub fn round(&self, name: &str, opens_on: &str, closes_on: &str, checks: &[&str]) -> String {
        let body = json!({"name": name, "opens_on": opens_on, "closes_on": closes_on, "check_ids": checks});
        text(&self.lead().post("/check-rounds", body).expect(201)["id"])
    }

    /// Begins a sitting and gives its address.
    pub fn sitting(&self, who: &Client, (round, pupil, check): (&str, &str, &str)) -> String {
        let path = format!("/check-rounds/{round}/pupils/{pupil}/sittings");
        let made = who.post(&path, json!({"check_id": check})).expect(201);
        format!("{path}/{}", text(&made["id"]))
    }

    /// Records answers of one pupil: item and outcome each.
    pub fn answer(
        &self,
        who: &Client,
        (round, pupil, check): (&str, &str, &str),
        on: &str,
        answers: &[(&str, &str)],
    ) -> Answer {
        let answers: Vec<Value> =
            answers.iter().map(|(item, outcome)| json!({"item_id": item, "outcome": outcome})).collect();
        let body = json!({"check_id": check, "on": on, "answers": answers});
        who.post(&format!("/check-rounds/{round}/pupils/{pupil}/responses"), body)
    }
}

/// A calendar file of these events, each a few lines.
pub fn calendar_file(events: &[&str]) -> String {
    let events = events.iter().map(|event| format!("BEGIN:VEVENT\n{event}\nEND:VEVENT\n"));
    format!("BEGIN:VCALENDAR\nVERSION:2.0\nPRODID:-//Test//EN\n{}END:VCALENDAR\n", events.collect::<String>())
        .replace('\n', "\r\n")
}
