//! A class and a round that asks each of its pupils the items of one check.

use serde_json::{Value, json};

use crate::{Answer, Client, School, TODAY};

/// A class with a round of one check.
pub struct ClassRound {
    /// The school.
    pub school: School,
    /// The pupils' ids.
    pub pupils: Vec<String>,
    /// The check.
    pub check: String,
    /// Its items' ids, in order.
    pub items: Vec<String>,
    /// The round.
    pub round: String,
}

impl ClassRound {
    /// A school with a class of some pupils and a round of a check of some items, open today.
    pub fn start(pupils: usize, items: usize) -> Self {
        let school = School::start();
        school.calendar();
        let names: Vec<String> = (0..pupils).map(|n| format!("Pupil{n:02}")).collect();
        let rows: Vec<(&str, &str)> = names.iter().map(|name| (name.as_str(), "Alder")).collect();
        let ids = school.pupils(&rows);
        let words: Vec<String> = (0..items).map(|n| format!("word {n}")).collect();
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        let (check, items) = school.word_check("Words", &words);
        let round = school.round("Autumn 2", "2026-11-16", "2026-11-27", &[&check]);
        Self { school, pupils: ids.into_values().collect(), check, items, round }
    }

    /// Begins a sitting of a pupil; its address.
    pub fn begin(&self, who: &Client, pupil: &str) -> String {
        self.school.sitting(who, (&self.round, pupil, &self.check))
    }

    /// The answers of the pupil that stands `n`th, one an item, under ids of their own.
    pub fn answers(&self, n: usize) -> Vec<Value> {
        let outcome = |item: usize| ["right", "right", "wrong", "no_response"][(n + item) % 4];
        let id = |item: usize| format!("0199f2c4-6666-7000-8{n:03x}-{item:012x}");
        let items = self.items.iter().enumerate();
        items.map(|(k, item)| json!({"id": id(k), "item_id": item, "outcome": outcome(k)})).collect()
    }

    /// Sends answers of a sitting.
    pub fn send(&self, who: &Client, sitting: &str, answers: &[Value]) -> Answer {
        who.post(&format!("{sitting}/answers"), json!({"on": TODAY, "answers": answers}))
    }
}
