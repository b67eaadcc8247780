//! A school that joins in mid-year. The sequence teaches m and o; d and "the"; e; a review and n.

use plumbline_tests::{Answer, Client, Pupils, School, Value, item_ids, json, lesson_ids};

/// A school in its first week here: Zoe, Max and Ida in a group, nothing recorded.
pub struct Joining {
    pub school: School,
    pub content: Value,
    pub pupils: Pupils,
    pub group: String,
}

pub fn joining() -> Joining {
    let school = School::start();
    school.calendar();
    let (sequence, content) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder"), ("Ida", "Alder"), ("Kit", "Birch")]);
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"], &pupils["Max"], &pupils["Ida"]]);
    Joining { school, content, pupils, group }
}

impl Joining {
    pub fn path(&self, rest: &str) -> String {
        format!("/groups/{}/carried-in{rest}", self.group)
    }

    pub fn lessons(&self) -> Vec<String> {
        lesson_ids(&self.content)
    }

    /// m, o, d, "the", e, the review, n.
    pub fn items(&self) -> Vec<String> {
        (0..4).flat_map(|n| item_ids(&self.content, n)).collect()
    }

    /// Says what was taught before, on what is there.
    pub fn carry(&self, who: &Client, body: Value) -> Answer {
        who.put(&self.path(""), &who.get(&self.path("")).etag(), body)
    }

    /// Answers of one day: pupil, and right or wrong by the place of the item.
    pub fn answers(&self, on: &str, rows: &[(&str, &[(usize, &str)])]) -> Value {
        let items = self.items();
        let row = |(name, answers): &(&str, &[(usize, &str)])| {
            let answers: Vec<Value> =
                answers.iter().map(|(n, said)| json!({"item_id": items[*n], "outcome": said})).collect();
            json!({"pupil_id": self.pupils[*name], "answers": answers})
        };
        json!({"on": on, "rows": rows.iter().map(row).collect::<Vec<_>>()})
    }

    pub fn report(&self) -> Value {
        self.school.lead().get("/reports/attainment").expect(200)["school"].clone()
    }
}
