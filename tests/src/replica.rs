//! A person's replica on a tablet, as small as can be: what it holds by scope, and what it sends.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use crate::{Answer, Client, School, text};

/// A record as a replica holds it: scope, kind and id.
pub type Key = (String, String, String);

/// One person on one tablet.
pub struct Replica {
    /// Who.
    pub client: Client,
    /// The tablet.
    pub tablet: String,
    /// Its id.
    pub id: String,
    /// The epoch it last heard of.
    pub epoch: String,
    /// Cursors by scope.
    pub cursors: BTreeMap<String, String>,
    /// Records by scope, kind and id.
    pub records: BTreeMap<Key, Value>,
    /// The number of its last operation.
    pub n: i64,
}

impl School {
    /// A replica of a member of staff on a tablet of its own.
    pub fn replica(&self, who: &str) -> Replica {
        let (client, tablet, id) = (self.signed_in(who), new_id(), new_id());
        client.post("/tablets", json!({"id": tablet, "name": format!("Tablet of {who}")})).expect(201);
        let made = client.post("/sync/replicas", json!({"id": id, "tablet_id": tablet})).expect(201);
        let (cursors, records) = (BTreeMap::new(), BTreeMap::new());
        Replica { client, tablet, id, epoch: text(&made["epoch"]), cursors, records, n: 0 }
    }
}

/// A new id, as a device makes one.
pub fn new_id() -> String {
    uuid::Uuid::now_v7().to_string()
}

impl Replica {
    /// Asks for a page.
    pub fn page(&self, limit: usize) -> Answer {
        let body = json!({"replica": self.id, "epoch": self.epoch, "schema": 1, "cursors": self.cursors,
                          "limit": limit});
        self.client.post("/sync/pull", body)
    }

    /// Takes a page; true if there are more.
    pub fn take(&mut self, page: &Value) -> bool {
        let listed =
            |field: &str| -> Vec<String> { page[field].as_array().unwrap().iter().map(text).collect() };
        let (dropped, reset) = (listed("drop"), listed("reset"));
        self.records.retain(|(scope, ..), _| !dropped.contains(scope) && !reset.contains(scope));
        self.cursors.retain(|scope, _| !dropped.contains(scope));
        for row in page["rows"].as_array().unwrap() {
            let key = (text(&row["scope"]), text(&row["kind"]), text(&row["id"]));
            match row["is"].as_str().unwrap() {
                "put" => _ = self.records.insert(key, row["body"].clone()),
                _ => _ = self.records.remove(&key),
            }
        }
        for (scope, cursor) in page["cursors"].as_object().unwrap() {
            self.cursors.insert(scope.clone(), text(cursor));
        }
        page["more"] == true
    }

    /// Pulls to the end in pages of a size; how many there were.
    pub fn pull(&mut self, limit: usize) -> usize {
        for pages in 1..1000 {
            let page = self.page(limit).expect(200);
            if !self.take(&page) {
                return pages;
            }
        }
        panic!("a pull never ends");
    }

    /// The records of a kind, whatever scope holds them, each once.
    pub fn of(&self, kind: &str) -> BTreeMap<String, Value> {
        let held = self.records.iter().filter(|((_, of, _), _)| of == kind);
        held.map(|((.., id), body)| (id.clone(), body.clone())).collect()
    }

    /// The next operation.
    pub fn op(&mut self, kind: &str, base_v: Option<&str>, set: Value) -> Value {
        self.n += 1;
        json!({"n": self.n, "op_id": new_id(), "type": kind, "base_v": base_v, "at": "2026-11-25T09:30:00Z",
               "tz": "Europe/London", "set": set})
    }

    /// Sends operations, with the answers up to a number acknowledged.
    pub fn send(&self, ops: &[&Value], ack_n: i64) -> Answer {
        let body = json!({"replica": self.id, "epoch": self.epoch, "schema": 1, "ack_n": ack_n, "ops": ops});
        self.client.post("/sync/push", body)
    }

    /// Makes an operation, sends it and gives what became of it.
    pub fn push(&mut self, kind: &str, base_v: Option<&str>, set: Value) -> Value {
        let op = self.op(kind, base_v, set);
        self.send(&[&op], 0).expect(200)["outcomes"][0].clone()
    }
}
