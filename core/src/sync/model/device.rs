//! A device of the model.

use std::collections::{BTreeMap, BTreeSet};

use super::{super::Cursor, Fault, Lost, Scope, Sent, Server};
use crate::phonics::rng::Rng;

#[derive(Default)]
pub struct Device {
    pub id: usize,
    pub user: usize,
    pub epoch: u32,
    pub n: i64,
    pub cursors: BTreeMap<Scope, Cursor>,
    pub presence: BTreeSet<(Scope, u128)>,
    pub values: BTreeMap<u128, (i64, u64)>,
    pub outbox: Vec<Sent>,
    pub journal: Vec<Sent>,
}

impl Device {
    pub fn push(
        &mut self,
        server: &mut Server,
        many: usize,
        lost: Lost,
        acknowledged: &mut BTreeSet<(usize, i64)>,
    ) {
        for op in self.outbox.iter().take(many).cloned().collect::<Vec<_>>() {
            if server.is(Fault::KeepsOutbox) {
                self.outbox.retain(|waiting| waiting.n != op.n);
            }
            if lost == Lost::Request {
                return;
            }
            let answer = server.push(self.id, self.user, &op);
            if answer.is_none() || lost == Lost::Answer {
                return;
            }
            acknowledged.insert((self.id, op.n));
            self.outbox.retain(|waiting| waiting.n != op.n);
            if !server.is(Fault::KeepsJournal) {
                self.journal.push(op);
            }
        }
    }

    /// Takes a page; true if there is more.
    pub fn pull(
        &mut self,
        server: &Server,
        limit: usize,
        rng: &mut Rng,
        wrong: &mut Vec<&'static str>,
    ) -> bool {
        let safe = server.safe.get(&self.id).copied().unwrap_or(0);
        if self.epoch != server.epoch && !server.is(Fault::HeedsEpoch) {
            let last = server.store.last.get(&self.id).copied().unwrap_or(0);
            self.epoch = server.epoch;
            self.cursors.clear();
            self.presence.clear();
            self.values.clear();
            let (back, kept) = std::mem::take(&mut self.journal).into_iter().partition(|op| op.n > last);
            self.journal = kept;
            self.outbox.extend::<Vec<Sent>>(back);
            self.outbox.sort_by_key(|op| op.n);
            return true;
        }
        let mut page = server.pull(self.user, self, limit);
        if server.is(Fault::AppliesBeforeCursor) && rng.below(5) == 0 {
            page.rows.truncate(page.rows.len() / 2);
        }
        self.presence.retain(|(scope, _)| !page.drop.contains(scope) && !page.reset.contains(scope));
        self.cursors.retain(|scope, _| !page.drop.contains(scope));
        for (scope, rec, body) in page.rows {
            if body.is_some() && !server.grants[self.user].contains_key(&scope) {
                wrong.push("I2 a row of a scope that is not held");
            }
            match body {
                Some((v, value)) => {
                    self.presence.insert((scope, rec));
                    let known = self.values.get(&rec).map_or(0, |known| known.0);
                    if v >= known {
                        self.values.insert(rec, (v, value));
                    }
                }
                None => _ = self.presence.remove(&(scope, rec)),
            }
        }
        for (scope, cursor) in page.cursors {
            let before = self.cursors.get(&scope).filter(|_| !page.reset.contains(&scope));
            if before.is_some_and(|before| before.at > cursor.at) {
                wrong.push("I6 a cursor went back");
            }
            self.cursors.insert(scope, cursor);
        }
        if !page.more {
            let there: BTreeSet<u128> = self.presence.iter().map(|(_, rec)| *rec).collect();
            self.values.retain(|rec, _| there.contains(rec));
        }
        self.journal.retain(|op| op.n > safe);
        page.more
    }
}
