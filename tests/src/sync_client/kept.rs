//! What a device keeps across a crash: one file, replaced whole, as a browser's one transaction would.

use std::{
    collections::{BTreeMap, BTreeSet},
    path::{Path, PathBuf},
};

use serde::{Deserialize, Serialize};
use serde_json::Value;

/// An operation as it is sent.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Op {
    /// Its number on this replica, from 1.
    pub n: u64,
    /// Its id.
    pub op_id: String,
    /// What it does.
    #[serde(rename = "type")]
    pub kind: String,
    /// The version it is based on.
    pub base_v: Option<String>,
    /// When, by the device's clock: it orders nothing.
    pub at: String,
    /// The device's time zone.
    pub tz: String,
    /// The body.
    pub set: Value,
}

/// A record with the version it was told at.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Record {
    /// The version.
    pub v: String,
    /// What it says.
    pub body: Value,
}

/// Everything a device keeps.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Kept {
    /// This person on this tablet.
    pub replica: String,
    /// Which history of the school the cursors belong to.
    pub epoch: String,
    /// The number of the next operation.
    pub next_n: u64,
    /// Operations without an outcome yet, in order.
    pub outbox: Vec<Op>,
    /// The outcome of each operation that has one, by its id.
    pub outcomes: BTreeMap<String, Value>,
    /// Where to go on, by scope.
    pub cursors: BTreeMap<String, String>,
    /// In which scopes each record is, by `kind/id`. Empty while a pull goes on that has told of its leaving.
    pub places: BTreeMap<String, BTreeSet<String>>,
    /// The records, by `kind/id`.
    pub records: BTreeMap<String, Record>,
}

impl Kept {
    /// Nothing yet.
    pub fn new(replica: String, epoch: String) -> Self {
        Self {
            replica,
            epoch,
            next_n: 1,
            outbox: Vec::new(),
            outcomes: BTreeMap::new(),
            cursors: BTreeMap::new(),
            places: BTreeMap::new(),
            records: BTreeMap::new(),
        }
    }

    /// A scope is held no longer, or begins anew.
    pub fn forget_scope(&mut self, scope: &str) {
        self.cursors.remove(scope);
        for places in self.places.values_mut() {
            places.remove(scope);
        }
    }

    /// Removes what is in no scope any more.
    pub fn sweep(&mut self) {
        self.places.retain(|_, places| !places.is_empty());
        let places = &self.places;
        self.records.retain(|key, _| places.contains_key(key));
    }

    /// Up to which number every operation's outcome is kept here.
    pub fn known_n(&self) -> u64 {
        self.outbox.first().map_or(self.next_n, |op| op.n) - 1
    }
}

/// The file.
#[derive(Clone, Debug)]
pub struct File(PathBuf);

impl File {
    /// At a path.
    pub fn at(path: &Path) -> Self {
        Self(path.to_owned())
    }

    /// Another one for a copy.
    #[must_use]
    pub fn beside(&self) -> Self {
        Self(self.0.with_extension("copy"))
    }

    /// What was kept, if anything was.
    pub fn read(&self) -> Option<Kept> {
        Some(serde_json::from_slice(&std::fs::read(&self.0).ok()?).unwrap())
    }

    /// Keeps this: all of it or, in a crash, what was kept before.
    pub fn write(&self, kept: &Kept) {
        // Another tab may write at the same time.
        let beside = self.0.with_extension(crate::new_id());
        std::fs::write(&beside, serde_json::to_vec(kept).unwrap()).unwrap();
        std::fs::rename(&beside, &self.0).unwrap();
    }
}
