//! A group of two in Alder whose lessons are not recorded yet: what operations of devices are tried on.

use serde_json::{Value, json};

use crate::{Replica, School, lesson_ids};

/// A school with that group and its teacher.
pub struct Alder {
    /// The school.
    pub school: School,
    /// The group.
    pub group: String,
    /// Its sequence's lessons, in order.
    pub lessons: Vec<String>,
    /// A pupil.
    pub zoe: String,
    /// The other one.
    pub max: String,
    /// The version in force.
    pub content: Value,
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
        let (zoe, max) = (pupils["Zoe"].clone(), pupils["Max"].clone());
        let group = school.group("Alder", &sequence, &[&zoe, &max]);
        Self { lessons: lesson_ids(&content), zoe, max, school, group, content }
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

    /// The group's records, as the lead has them.
    pub fn records(&self) -> Vec<Value> {
        let list = self.school.lead().get(&format!("/groups/{}/lesson-records", self.group)).expect(200);
        list["items"].as_array().unwrap().clone()
    }

    /// The teacher on one tablet and on another.
    pub fn two(&self) -> (Replica, Replica) {
        (self.school.replica("teacher"), self.school.replica("teacher"))
    }

    /// That one of them was not there.
    pub fn absent(&self) -> Value {
        json!({"register": [{"pupil_id": self.zoe, "mark": "absent"}]})
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
