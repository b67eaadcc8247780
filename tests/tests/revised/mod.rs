//! A school of three groups that revises its sequence.

mod versions;

use plumbline_tests::{Answer, Client, Pupils, School, Value, column, json, text};

/// m, o, d in the first step; e, n, g in the second: a lesson each.
const FIRST: [&[&str]; 2] = [&["m", "o", "d"], &["e", "n", "g"]];

fn lesson(letter: &str) -> Value {
    let phoneme = match letter {
        "o" => "ɒ",
        other => other,
    };
    json!({"title": letter, "items": [{"kind": "gpc", "gpc": {"grapheme": letter, "phoneme": phoneme}}]})
}

/// A school of three groups that has published [`FIRST`], in force since September.
pub struct Revised {
    pub school: School,
    pub lead: Client,
    pub sequence: String,
    pub first: Value,
    pub pupils: Pupils,
    pub half_terms: Vec<String>,
}

pub fn start() -> Revised {
    let school = School::start();
    let half_terms = school.calendar();
    let lead = school.lead();
    let sequence = text(&lead.post("/sequences", json!({"name": "Ours"})).expect(201)["id"]);
    let steps: Vec<Value> = FIRST
        .iter()
        .enumerate()
        .map(|(n, letters)| {
            let lessons: Vec<Value> = letters.iter().map(|letter| lesson(letter)).collect();
            json!({"title": format!("Step {}", n + 1), "lessons": lessons})
        })
        .collect();
    let path = format!("/sequences/{sequence}/draft");
    lead.put(&path, &lead.get(&path).etag(), json!({"steps": steps})).expect(200);
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Ida", "Rowan"), ("Ned", "Elm")]);
    let made = Revised { school, lead, sequence, first: Value::Null, pupils, half_terms };
    let first = made.publish(&json!({"effective_on": "2026-09-01"})).expect(201);
    Revised { first: made.version(&text(&first["id"])), ..made }
}

impl Revised {
    pub fn publish(&self, how: &Value) -> Answer {
        self.lead.post(&format!("/sequences/{}/versions", self.sequence), how.clone())
    }

    /// Gives the first step of the draft another title: what teaches the same is another version then.
    pub fn rename(&self) {
        let path = format!("/sequences/{}/draft", self.sequence);
        let read = self.lead.get(&path);
        let mut steps = read.expect(200)["steps"].clone();
        steps[0]["title"] = json!(format!("{} again", text(&steps[0]["title"])));
        self.lead.put(&path, &read.etag(), json!({"steps": steps})).expect(200);
    }

    /// Publishes the draft from a day on; the version's id.
    pub fn published(&self, effective_on: &str) -> String {
        text(&self.publish(&json!({"effective_on": effective_on})).expect(201)["id"])
    }

    pub fn version(&self, id: &str) -> Value {
        self.lead.get(&format!("/sequences/{}/versions/{id}", self.sequence)).expect(200)
    }

    pub fn first_id(&self) -> String {
        text(&self.first["id"])
    }

    /// The first version's lesson of a letter.
    pub fn lesson(&self, letter: &str) -> Value {
        let steps = self.first["steps"].as_array().unwrap().iter();
        let mut lessons = steps.flat_map(|step| step["lessons"].as_array().unwrap());
        lessons.find(|lesson| lesson["title"] == letter).unwrap().clone()
    }

    /// Drafts m, a new s, e / d, n, g: o is withdrawn, e goes before d, and g stands in a new lesson.
    pub fn revise(&self) {
        let old = |letter: &str| self.lesson(letter);
        let steps = json!([
            {"id": self.first["steps"][0]["id"], "title": "Step 1", "lessons": [old("m"), lesson("s"), old("e")]},
            {"id": self.first["steps"][1]["id"], "title": "Step 2", "lessons": [old("d"), old("n"), lesson("g")]}]);
        let path = format!("/sequences/{}/draft", self.sequence);
        self.lead.put(&path, &self.lead.get(&path).etag(), json!({"steps": steps})).expect(200);
    }

    pub fn group(&self, name: &str, pupil: &str) -> String {
        self.school.group(name, &self.sequence, &[&self.pupils[pupil]])
    }

    /// Records one of the first version's lessons.
    pub fn log(&self, group: &str, on: &str, letter: &str, more: &Value) -> Answer {
        let lesson = text(&self.lesson(letter)["id"]);
        self.school.log_lesson(&self.lead, group, on, &lesson, "delivered", more)
    }

    /// Records these letters on the first school days of September.
    pub fn teach(&self, group: &str, letters: &[&str]) {
        for (n, letter) in letters.iter().enumerate() {
            self.log(group, &format!("2026-09-{:02}", 7 + n), letter, &json!({})).expect(201);
        }
    }

    /// The lesson a group is taught next on a day: the version's number and the title.
    pub fn next(&self, group: &str, on: &str) -> (i64, String) {
        let next = self.lead.get(&format!("/groups/{group}/next-lesson?on={on}")).expect(200);
        let shown = self.lead.get(&format!("/groups/{group}?on={on}")).expect(200);
        assert_eq!(shown["version"]["id"], next["version_id"]);
        (shown["version"]["number"].as_i64().unwrap(), text(&next["lesson"]["title"]))
    }

    pub fn keep(&self, group: &str, version: &Value, from: &str) -> Answer {
        let path = format!("/groups/{group}");
        let body = json!({"version_id": version, "from": from});
        self.lead.put(&format!("{path}/version"), &self.lead.get(&path).etag(), body)
    }

    pub fn withdraw(&self, version: &str) -> Answer {
        let path = format!("/sequences/{}/versions/{version}/withdraw", self.sequence);
        self.lead.post(&path, json!({"note": "Published by mistake"}))
    }

    pub fn restore(&self, version: &str) -> Answer {
        let path = format!("/sequences/{}/versions/{version}/withdraw", self.sequence);
        self.lead.call("DELETE", &path, None)
    }
}

/// Titles with places, as `m 1.1`.
pub fn places(lessons: &Value) -> Vec<String> {
    lessons.as_array().unwrap().iter().map(place).collect()
}

pub fn place(lesson: &Value) -> String {
    format!("{} {}.{}", text(&lesson["title"]), lesson["place"]["step"], lesson["place"]["lesson"])
}

/// Labels of items without their sound.
pub fn letters(items: &Value) -> Vec<String> {
    let letter = |label: String| label.split(' ').next().unwrap().to_owned();
    column(items, "label").into_iter().map(letter).collect()
}
