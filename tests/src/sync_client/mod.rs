//! A device that works offline, as the README's guide says one is written: an outbox that survives a crash, records
//! pulled by scope, and nothing that is the server's to decide. The simulator drives it; its put-in faults show that
//! the simulator sees them.

mod kept;

use std::{
    collections::{BTreeMap, BTreeSet},
    path::Path,
};

use serde_json::{Value, json};

pub use kept::{File, Kept, Op, Record};

use crate::{Answer, Client, new_id, text};

/// A fault put into a device.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// Takes an operation out of the outbox when it is sent, not when it is answered.
    ForgetsUnanswered,
    /// Sends an operation again under a new number and id.
    NumbersAnew,
    /// Keeps the cursors before the rows.
    CursorsFirst,
    /// Removes a record as soon as one scope no longer has it.
    ForgetsOtherScopes,
    /// Keeps what a dropped scope held.
    KeepsDropped,
    /// Takes no notice of records that are gone.
    KeepsDeleted,
    /// Removes in the middle of a pull.
    SweepsEarly,
    /// Stops at the first page.
    OnePageOnly,
    /// Takes only rows of records it does not have yet.
    KeepsOld,
}

/// Where a pull breaks off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stop {
    /// Nowhere.
    Never,
    /// After so many pages were kept.
    After(usize),
    /// In a crash while this page is being kept: none of it is.
    Within(usize),
}

/// One person on one tablet.
pub struct Device {
    /// What it is called in what a failing schedule tells.
    pub name: String,
    client: Client,
    tablet: String,
    file: File,
    /// What it keeps.
    pub kept: Kept,
    fault: Option<Fault>,
    /// How far each scope has come, and what went in the middle of the pull that goes on.
    seen: BTreeMap<String, u64>,
    gone: BTreeSet<String>,
    /// Rows it was sent and kept.
    pub rows: usize,
    /// What must never be, and was.
    pub violations: Vec<String>,
    /// Statuses with which something that is not the server answered, or that say nothing yet: all stays as it is, and is
    /// asked again.
    pub unanswered: Vec<u16>,
}

/// Whether a status, where nothing of the server's comes with it, says nothing: a proxy's, or a page for signing in to
/// the network.
const fn is_no_answer(status: u16) -> bool {
    matches!(status, 200 | 300..=399 | 429 | 500..=599)
}

fn number(v: &Value) -> u64 {
    v.as_str().and_then(|v| v.parse().ok()).unwrap_or_else(|| panic!("{v} is no version"))
}

fn strings(list: &Value) -> Vec<String> {
    list.as_array().map(|list| list.iter().map(text).collect()).unwrap_or_default()
}

/// A new replica of this person on a tablet.
fn replica(client: &Client, tablet: &str) -> Kept {
    let id = new_id();
    let made = client.post("/sync/replicas", json!({"id": id, "tablet_id": tablet})).expect(201);
    Kept::new(id, text(&made["epoch"]))
}

impl Device {
    /// A new device of this person, known to the server.
    pub fn new(name: &str, client: &Client, folder: &Path, fault: Option<Fault>) -> Self {
        let tablet = new_id();
        client.post("/tablets", json!({"id": tablet, "name": name})).expect(201);
        let file = File::at(&folder.join(format!("{tablet}.json")));
        let kept = replica(client, &tablet);
        file.write(&kept);
        let (seen, gone, violations) = (BTreeMap::new(), BTreeSet::new(), Vec::new());
        Self {
            name: name.to_owned(),
            client: client.clone(),
            tablet,
            file,
            kept,
            fault,
            seen,
            gone,
            rows: 0,
            violations,
            unanswered: Vec::new(),
        }
    }

    fn has(&self, fault: Fault) -> bool {
        self.fault == Some(fault)
    }

    fn save(&self) {
        self.file.write(&self.kept);
    }

    /// Loses what is only in memory.
    pub fn crash(&mut self) {
        self.kept = self.file.read().unwrap();
        self.seen.clear();
        self.gone.clear();
    }

    /// What another tab of the browser, or a copy of its store, has.
    #[must_use]
    pub fn another_tab(&self) -> Self {
        Self {
            name: format!("{} again", self.name),
            client: self.client.clone(),
            tablet: self.tablet.clone(),
            file: self.file.beside(),
            kept: self.kept.clone(),
            fault: self.fault,
            seen: BTreeMap::new(),
            gone: BTreeSet::new(),
            rows: 0,
            violations: Vec::new(),
            unanswered: Vec::new(),
        }
    }

    /// Goes on as another sign-in; the one before.
    pub fn signed_in_as(&mut self, client: &Client) -> Client {
        std::mem::replace(&mut self.client, client.clone())
    }

    /// The tablet's id.
    pub fn tablet(&self) -> &str {
        &self.tablet
    }

    /// Somebody enters something; it is kept before they see it. Its id.
    pub fn write(&mut self, kind: &str, base_v: Option<&str>, set: Value) -> String {
        let op = Op {
            n: self.kept.next_n,
            op_id: new_id(),
            kind: kind.to_owned(),
            base_v: base_v.map(str::to_owned),
            at: "2026-11-25T09:00:00Z".into(),
            tz: "Europe/London".into(),
            set,
        };
        let id = op.op_id.clone();
        self.kept.next_n += 1;
        self.kept.outbox.push(op);
        self.save();
        id
    }

    /// Sends what waits, at most so many. Where the answer is lost, the device learns nothing.
    pub fn push(&mut self, most: usize, answer_lost: bool) {
        let ops: Vec<Op> = self.kept.outbox.iter().take(most).cloned().collect();
        if ops.is_empty() {
            return;
        }
        if self.has(Fault::ForgetsUnanswered) {
            self.kept.outbox.drain(..ops.len());
            self.save();
        }
        let answer = self.client.post("/sync/push", self.pushed(&ops));
        if !answer_lost {
            self.answered(&answer);
        } else if self.has(Fault::NumbersAnew) {
            for op in &mut self.kept.outbox {
                op.n += ops.len() as u64;
                op.op_id = new_id();
            }
            self.kept.next_n += ops.len() as u64;
            self.save();
        }
    }

    fn pushed(&self, ops: &[Op]) -> Value {
        json!({"replica": self.kept.replica, "epoch": self.kept.epoch, "schema": 1, "ack_n": self.kept.known_n(),
               "ops": ops})
    }

    fn answered(&mut self, answer: &Answer) {
        let body = answer.json();
        match (answer.status, body["code"].as_str()) {
            (200, _) if body["outcomes"].is_array() => {
                for outcome in body["outcomes"].as_array().into_iter().flatten() {
                    self.settle(outcome.clone());
                }
                self.save();
            }
            (422, Some("op_reused")) => self.begin_anew(),
            (403, Some("tablet_revoked")) => self.leave(),
            // Whoever has it signs in again; what waits goes on waiting.
            (401, _) => {}
            (status, _) if is_no_answer(status) => self.unanswered.push(status),
            (status, code) => {
                self.violations.push(format!("push answered {status} {code:?}: {}", answer.text))
            }
        }
    }

    /// Hands what still waits to the server, which keeps it for the lead and says no all the same; then forgets
    /// everything, as the tablet is no longer the school's.
    fn leave(&mut self) {
        for ops in self.kept.outbox.chunks(500) {
            let answer = self.client.post("/sync/push", self.pushed(ops));
            if answer.json()["code"] != "tablet_revoked" {
                self.violations.push(format!("handing over answered {}: {}", answer.status, answer.text));
            }
        }
        self.wipe();
    }

    fn wipe(&mut self) {
        self.kept = Kept::new(self.kept.replica.clone(), self.kept.epoch.clone());
        self.save();
    }

    fn settle(&mut self, outcome: Value) {
        let id = text(&outcome["op_id"]);
        if let Some(known) = self.kept.outcomes.get(&id)
            && *known != outcome
        {
            self.violations.push(format!("{id} has two outcomes: {known} and {outcome}"));
        }
        self.kept.outbox.retain(|op| op.op_id != id);
        self.kept.outcomes.insert(id, outcome);
    }

    /// Under another replica, as this one's numbers are another's too: a store that was copied, or put back.
    fn begin_anew(&mut self) {
        let outbox = std::mem::take(&mut self.kept.outbox);
        let outcomes = std::mem::take(&mut self.kept.outcomes);
        self.kept = Kept { outcomes, ..replica(&self.client, &self.tablet) };
        self.seen.clear();
        for (at, op) in outbox.into_iter().enumerate() {
            self.kept.outbox.push(Op { n: at as u64 + 1, ..op });
        }
        self.kept.next_n = self.kept.outbox.len() as u64 + 1;
        self.save();
    }

    /// Fetches what is new, page by page; how many pages it took.
    pub fn pull(&mut self, limit: usize, stop: Stop) -> usize {
        let mut pages = 0;
        loop {
            let body = json!({"replica": self.kept.replica, "epoch": self.kept.epoch, "schema": 1,
                              "cursors": self.kept.cursors, "limit": limit});
            let page = self.client.post("/sync/pull", body);
            if page.json()["code"] == "tablet_revoked" {
                self.leave();
                return pages;
            }
            if !page.json()["rows"].is_array() && is_no_answer(page.status) {
                self.unanswered.push(page.status);
                return pages;
            }
            let page = page.expect(200);
            pages += 1;
            if stop == Stop::Within(pages) {
                if self.has(Fault::CursorsFirst) {
                    self.keep_cursors(&page);
                    self.save();
                }
                self.crash();
                return pages;
            }
            self.take(&page);
            self.save();
            if page["more"] != true || stop == Stop::After(pages) || self.has(Fault::OnePageOnly) {
                return pages;
            }
        }
    }

    fn keep_cursors(&mut self, page: &Value) {
        self.kept.epoch = text(&page["epoch"]);
        for (scope, cursor) in page["cursors"].as_object().unwrap() {
            self.kept.cursors.insert(scope.clone(), text(cursor));
        }
    }

    /// One page: rows, cursors and what is held no longer, kept together.
    fn take(&mut self, page: &Value) {
        for scope in strings(&page["drop"]).iter().chain(&strings(&page["reset"])) {
            self.seen.remove(scope);
            if !self.has(Fault::KeepsDropped) {
                self.kept.forget_scope(scope);
            }
        }
        let held = strings(&page["scopes"]);
        for row in page["rows"].as_array().unwrap() {
            self.rows += 1;
            self.take_row(row, &held);
        }
        self.keep_cursors(page);
        let before: Vec<String> = self.kept.records.keys().cloned().collect();
        let more = page["more"] == true;
        if !more || self.has(Fault::SweepsEarly) {
            self.kept.sweep();
        }
        let there = &self.kept.records;
        if more {
            self.gone.extend(before.into_iter().filter(|key| !there.contains_key(key)));
        } else {
            let back = std::mem::take(&mut self.gone).into_iter().filter(|key| there.contains_key(key));
            self.violations.extend(back.map(|key| format!("{key} was gone for a while")));
        }
    }

    fn take_row(&mut self, row: &Value, held: &[String]) {
        let (scope, v) = (text(&row["scope"]), text(&row["v"]));
        let key = format!("{}/{}", text(&row["kind"]), text(&row["id"]));
        if !held.contains(&scope) {
            self.violations.push(format!("{key} came in {scope}, which is not held"));
        }
        let seen = self.seen.entry(scope.clone()).or_default();
        let version = number(&row["v"]);
        if version < *seen {
            self.violations.push(format!("{scope} went back from {seen} to {v}"));
        }
        *seen = version;
        match row["is"].as_str() {
            Some("put") => {
                self.kept.places.entry(key.clone()).or_default().insert(scope);
                if !(self.has(Fault::KeepsOld) && self.kept.records.contains_key(&key)) {
                    self.kept.records.insert(key, Record { v, body: row["body"].clone() });
                }
            }
            Some("leave" | "del") if self.has(Fault::KeepsDeleted) => {}
            Some("leave" | "del") => {
                let everywhere = self.has(Fault::ForgetsOtherScopes);
                let places = self.kept.places.entry(key).or_default();
                places.retain(|place| !everywhere && *place != scope);
            }
            other => self.violations.push(format!("{key} is {other:?}")),
        }
    }

    /// The records of a kind, by id.
    pub fn all(&self, kind: &str) -> BTreeMap<String, Value> {
        let of_kind =
            |key: &str| key.split_once('/').filter(|(of, _)| *of == kind).map(|(_, id)| id.to_owned());
        self.kept
            .records
            .iter()
            .filter_map(|(key, record)| Some((of_kind(key)?, record.body.clone())))
            .collect()
    }

    /// The version a record was told at.
    pub fn version(&self, kind: &str, id: &str) -> Option<&str> {
        self.kept.records.get(&format!("{kind}/{id}")).map(|record| record.v.as_str())
    }
}
