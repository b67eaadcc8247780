//! A group of two in Alder whose lessons are not recorded yet: what lessons, and operations of devices, are tried on.

use serde_json::{Value, json};

use crate::{Pupils, Replica, School, lesson_ids, text};

/// A school with that group and its teacher.
pub struct Alder {
    /// The school.
    pub school: School,
    /// The group.
    pub group: String,
    /// Its pupils: Zoe and Max.
    pub pupils: Pupils,
    /// Its sequence.
    pub sequence: String,
    /// The version in force.
    pub content: Value,
    /// That version's lessons, in order.
    pub lessons: Vec<String>,
}

impl Default for Alder {
    fn default() -> Self {
        Self::new()
    }
}

impl Alder {
    /// A server of its own.
    #[must_use]
    pub fn new() -> Self {
        let school = School::start();
        school.calendar();
        let (sequence, content) = school.sequence();
        let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder")]);
        let group = school.group("Alder", &sequence, &[&pupils["Zoe"], &pupils["Max"]]);
        Self { lessons: lesson_ids(&content), school, group, pupils, sequence, content }
    }

    /// What is said of the `nth` lesson on a day.
    pub fn lesson(&self, n: usize, on: &str, more: &Value) -> Value {
        let mut set =
            json!({"group_id": self.group, "on": on, "lesson_id": self.lessons[n], "outcome": "delivered"});
        for (field, value) in more.as_object().unwrap() {
            set[field] = value.clone();
        }
        set
    }

    /// Records the `n`th lesson, as the teacher; it must be taken.
    pub fn log(&self, on: &str, n: usize, outcome: &str, more: Value) -> Value {
        let teacher = self.school.staff("teacher");
        self.school.log_lesson(&teacher, &self.group, on, &self.lessons[n], outcome, &more).expect(201)
    }

    /// The complaints about a report that is not taken.
    pub fn refused(&self, on: &str, n: usize, outcome: &str, more: Value) -> Vec<String> {
        let teacher = self.school.staff("teacher");
        let answer = self.school.log_lesson(&teacher, &self.group, on, &self.lessons[n], outcome, &more);
        answer.problem(422, "invalid")
    }

    /// The group's next lesson, and how many items are left of it.
    pub fn next(&self) -> (String, usize) {
        self.school.next_lesson(&self.group)
    }

    /// Who missed what: names with numbers of items.
    pub fn missed(&self) -> Vec<(String, usize)> {
        let coverage = self.school.lead().get(&format!("/groups/{}/coverage", self.group)).expect(200);
        let lines = coverage["missed"].as_array().unwrap();
        lines.iter().map(|line| (text(&line["name"]), line["items"].as_array().unwrap().len())).collect()
    }

    /// What one pupil's lessons covered: label, day taught, day missed, times.
    pub fn covered(&self, pupil: &str) -> Vec<(String, String, String, u64)> {
        let path = format!("/pupils/{}/coverage", self.pupils[pupil]);
        let coverage = self.school.lead().get(&path).expect(200);
        let lines = coverage["items"].as_array().unwrap();
        let line = |l: &Value| {
            (text(&l["label"]), text(&l["taught_on"]), text(&l["missed_on"]), l["times"].as_u64().unwrap())
        };
        lines.iter().map(line).collect()
    }

    /// A register with one mark.
    pub fn mark(&self, pupil: &str, mark: &str) -> Value {
        json!({"register": [{"pupil_id": self.pupils[pupil], "mark": mark}]})
    }

    /// The group's records, as the lead has them.
    pub fn records(&self) -> Vec<Value> {
        let list = self.school.lead().get(&format!("/groups/{}/lesson-records", self.group)).expect(200);
        list["items"].as_array().unwrap().clone()
    }

    /// The teacher on one tablet and on another.
    pub fn two(&self) -> (Replica, Replica) {
        (self.school.replica("teacher"), self.school.replica("teacher"))
    }

    /// Says who the group's adults are.
    pub fn adults(&self, adults: &Value) {
        let (lead, path) = (self.school.lead(), format!("/groups/{}", self.group));
        lead.put(&format!("{path}/adults"), &lead.get(&path).etag(), json!({"adults": adults})).expect(200);
    }

    /// Says which roles a member of staff holds.
    pub fn roles(&self, key: &str, roles: &Value) {
        let (admin, path) =
            (self.school.staff("administrator"), format!("/staff/{}", self.school.staff_id(key)));
        admin.put(&format!("{path}/roles"), &admin.get(&path).etag(), json!({"roles": roles})).expect(200);
    }
}
