//! The server of the model.

use std::collections::BTreeSet;

use uuid::Uuid;

use super::{
    super::{Place, Rec, Receipt, advance, plan, receive},
    Change, Fault, Page, Record, Scope, Sent, Server,
    device::Device,
    shows,
};

impl Server {
    pub fn is(&self, fault: Fault) -> bool {
        self.fault == Some(fault)
    }

    pub fn push(&mut self, device: usize, user: usize, op: &Sent) -> Option<&'static str> {
        let last = self.store.last.get(&device).copied().unwrap_or(0);
        let kept = self.store.answers.get(&(device, op.n)).copied();
        match receive(last, op.n, kept.map(|_| true)) {
            Receipt::Known if !self.is(Fault::Dedupes) => return kept,
            Receipt::Gap { .. } | Receipt::Reused => return None,
            Receipt::Next | Receipt::Known => {}
        }
        let answer = self.apply(user, op);
        if answer == "applied" {
            *self.store.effects.entry((device, op.n)).or_default() += 1;
        }
        self.store.last.insert(device, last.max(op.n));
        self.store.answers.insert((device, op.n), answer);
        Some(answer)
    }

    fn apply(&mut self, user: usize, op: &Sent) -> &'static str {
        let keeps_deleted = !self.is(Fault::KeepsDeleted);
        let found = self.store.records.get(&op.rec);
        let scopes = match (&op.change, found) {
            (Change::Create(scope, _), _) => BTreeSet::from([*scope]),
            (_, Some(record)) => record.scopes.clone(),
            (_, None) => BTreeSet::new(),
        };
        if !scopes.iter().any(|scope| self.grants[user].contains_key(scope)) {
            return "denied";
        }
        match (&op.change, found) {
            (Change::Create(..), Some(_)) => return "exists",
            (Change::Set(_) | Change::Delete, None) => return "gone",
            (Change::Set(_), Some(record)) if record.gone && keeps_deleted => return "gone",
            (Change::Delete, Some(record)) if record.gone => return "gone",
            _ => {}
        }
        self.store.head += 1;
        let v = self.store.head;
        let value = match op.change {
            Change::Create(_, value) | Change::Set(value) => value,
            Change::Delete => 0,
        };
        let gone = matches!(op.change, Change::Delete);
        self.store.deleted.extend(gone.then_some(op.rec));
        for scope in &scopes {
            self.store.log.insert((*scope, op.rec), (v, !gone));
        }
        self.store.records.insert(op.rec, Record { scopes, value, v, gone });
        "applied"
    }

    /// Several records come into other scopes in one version.
    pub fn move_to(&mut self, records: &[u128], new: &BTreeSet<Scope>) {
        self.store.head += 1;
        let v = self.store.head;
        let (logs_leaving, in_all) = (!self.is(Fault::LogsLeaving), !self.is(Fault::PutsDependentsInAll));
        for (nth, rec) in records.iter().enumerate() {
            let Some(record) = self.store.records.get_mut(rec).filter(|record| !record.gone) else {
                continue;
            };
            for scope in record.scopes.difference(new) {
                if logs_leaving {
                    self.store.log.insert((*scope, *rec), (v, false));
                } else {
                    self.store.log.remove(&(*scope, *rec));
                }
            }
            for scope in new {
                if in_all || nth == 0 {
                    self.store.log.insert((*scope, *rec), (v, true));
                }
            }
            (record.scopes, record.v) = (new.clone(), v);
        }
    }

    pub fn purge(&mut self, floor: i64) {
        self.store.log.retain(|_, (v, put)| *put || *v > floor);
        if !self.is(Fault::RaisesFloor) {
            self.store.floor = floor;
        }
    }

    pub fn pull(&self, user: usize, device: &Device, limit: usize) -> Page {
        let (held, head) = (&self.grants[user], self.store.head);
        let mut told = device.cursors.clone();
        if self.is(Fault::KeepsBase) {
            told.values_mut().filter(|cursor| cursor.at.rec != Rec::End).for_each(|cursor| cursor.base = 0);
        }
        if self.is(Fault::RereadsOtherViews) {
            for (scope, cursor) in &mut told {
                cursor.view = held.get(scope).copied().unwrap_or(0);
            }
        }
        let plan = plan(held, &told, head, self.store.floor);
        let mut page = Page { drop: plan.drop, reset: plan.reset, ..Page::default() };
        if self.is(Fault::Drops) {
            page.drop.clear();
        }
        for (scope, from) in &plan.from {
            let mut found: Vec<(Place, bool)> = self
                .store
                .log
                .iter()
                .filter(|((of, rec), _)| of == scope && shows(from.view, *rec))
                .map(|((_, rec), (v, put))| {
                    (Place { v: *v, rec: Rec::At(Uuid::from_u128(*rec), "r".into()) }, *put)
                })
                .filter(|(place, _)| *place > from.at)
                .collect();
            found.sort();
            let places: Vec<Place> = found.iter().map(|(place, _)| place.clone()).collect();
            let step = advance(from, &places, limit - page.rows.len(), head);
            let mut cursor = step.cursor;
            if self.is(Fault::PagesWithinVersion) && step.taken > 0 {
                cursor.at = Place::after(cursor.at.v);
            }
            for (place, put) in found.into_iter().take(step.taken) {
                if let Rec::At(id, _) = place.rec {
                    let rec = id.as_u128();
                    let body = self.store.records.get(&rec).filter(|_| put);
                    page.rows.push((*scope, rec, body.map(|record| (record.v, record.value))));
                }
            }
            page.cursors.insert(*scope, cursor);
            page.more |= step.more;
        }
        page
    }
}
