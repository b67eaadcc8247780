//! A school at which pupils are asked a check.
#![allow(dead_code)]

use std::cell::Cell;

use plumbline_tests::{Answer, Client, Pupils, School, Value, column, json, text};

/// Two pupils, a check of three words, and a round of it.
pub struct Sat {
    pub school: School,
    pub pupils: Pupils,
    pub check: (String, Vec<String>),
    pub round: String,
    made: Cell<u32>,
}

pub fn start() -> Sat {
    let school = School::start();
    school.calendar();
    let (sequence, _) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder")]);
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"], &pupils["Max"]]);
    let path = format!("/groups/{group}");
    let adults =
        ["teacher", "assistant"].map(|key| json!({"staff_id": school.staff_id(key), "from": "2026-09-01"}));
    let etag = school.lead().get(&path).etag();
    school.lead().put(&format!("{path}/adults"), &etag, json!({"adults": adults})).expect(200);
    let check = school.word_check("Words", &["mop", "dot", "pod"]);
    let round = school.round("Autumn 2", "2026-11-16", "2026-11-27", &[&check.0]);
    Sat { school, pupils, check, round, made: Cell::new(0) }
}

impl Sat {
    pub fn of(&self, pupil: &str) -> String {
        format!("/check-rounds/{}/pupils/{}", self.round, self.pupils[pupil])
    }

    pub fn begin(&self, who: &Client, pupil: &str) -> String {
        self.school.sitting(who, (&self.round, &self.pupils[pupil], &self.check.0))
    }

    /// An id as a device makes it: of version 7, each after the one before.
    pub fn id(&self) -> String {
        self.made.set(self.made.get() + 1);
        format!("0199f2c4-3333-7000-8000-{:012x}", self.made.get())
    }

    pub fn one(&self, n: usize, outcome: &str) -> Value {
        json!({"id": self.id(), "item_id": self.check.1[n], "outcome": outcome})
    }

    pub fn send(&self, who: &Client, sitting: &str, answers: &[Value]) -> Answer {
        who.post(&format!("{sitting}/answers"), json!({"answers": answers}))
    }

    pub fn undo(&self, who: &Client, sitting: &str) -> Answer {
        who.post(&format!("{sitting}/undo"), json!({"id": self.id()}))
    }

    pub fn act(&self, who: &Client, sitting: &str, what: &str) -> Answer {
        who.call("POST", &format!("{sitting}/{what}"), None)
    }

    /// The outcomes that stand, by item; nothing for one still to be asked.
    pub fn stands(&self, sitting: &Value) -> Vec<Value> {
        let items = sitting["items"].as_array().unwrap();
        items.iter().map(|one| one["answer"]["outcome"].clone()).collect()
    }

    pub fn responses(&self, pupil: &str) -> Vec<(String, String, bool)> {
        let listed = self.school.lead().get(&format!("{}/responses", self.of(pupil))).expect(200);
        let line = |one: &Value| (text(&one["item_id"]), text(&one["outcome"]), one["in_force"] == true);
        listed["items"].as_array().unwrap().iter().map(line).collect()
    }
}

pub fn fates(answer: &Answer) -> Vec<String> {
    column(&answer.expect(200)["answers"], "fate")
}
