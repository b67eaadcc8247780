//! Devices against a store in memory, in random schedules: what they push and pull, what moves, what is purged, what
//! a restored backup takes back. The rules are those of this module; the store around them is as plain as can be.
//! With a fault put in, the same checks must find something.

mod device;
mod server;

use std::collections::{BTreeMap, BTreeSet};

use super::Cursor;
use crate::phonics::rng::Rng;
use device::Device;

/// A duty that can be left undone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Fault {
    Dedupes,
    LogsLeaving,
    Drops,
    RaisesFloor,
    HeedsEpoch,
    KeepsJournal,
    KeepsOutbox,
    AppliesBeforeCursor,
    PutsDependentsInAll,
    PagesWithinVersion,
    KeepsBase,
    KeepsDeleted,
    RereadsOtherViews,
}

const FAULTS: [Fault; 13] = [
    Fault::Dedupes,
    Fault::LogsLeaving,
    Fault::Drops,
    Fault::RaisesFloor,
    Fault::HeedsEpoch,
    Fault::KeepsJournal,
    Fault::KeepsOutbox,
    Fault::AppliesBeforeCursor,
    Fault::PutsDependentsInAll,
    Fault::PagesWithinVersion,
    Fault::KeepsBase,
    Fault::KeepsDeleted,
    Fault::RereadsOtherViews,
];

type Scope = char;

#[derive(Clone, Debug)]
struct Record {
    scopes: BTreeSet<Scope>,
    value: u64,
    v: i64,
    gone: bool,
}

/// What a reader may see: scopes, each with a view. View 1 shows even records only.
type Grants = BTreeMap<Scope, u32>;

#[derive(Clone, Debug, Default)]
struct Store {
    head: i64,
    floor: i64,
    records: BTreeMap<u128, Record>,
    log: BTreeMap<(Scope, u128), (i64, bool)>,
    last: BTreeMap<usize, i64>,
    effects: BTreeMap<(usize, i64), usize>,
    answers: BTreeMap<(usize, i64), &'static str>,
    deleted: BTreeSet<u128>,
}

struct Server {
    store: Store,
    epoch: u32,
    safe: BTreeMap<usize, i64>,
    grants: [Grants; 2],
    fault: Option<Fault>,
}

#[derive(Clone, Debug)]
enum Change {
    Create(Scope, u64),
    Set(u64),
    Delete,
}

#[derive(Clone, Debug)]
struct Sent {
    n: i64,
    rec: u128,
    change: Change,
}

fn shows(view: u32, rec: u128) -> bool {
    view == 2 || rec.is_multiple_of(2)
}

/// A record in a scope, and what it is there: its version and value, or nothing any more.
type Row = (Scope, u128, Option<(i64, u64)>);

#[derive(Default)]
struct Page {
    drop: BTreeSet<Scope>,
    reset: BTreeSet<Scope>,
    rows: Vec<Row>,
    cursors: BTreeMap<Scope, Cursor>,
    more: bool,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Lost {
    Nothing,
    Request,
    Answer,
}

/// Plays one schedule and says what went wrong.
fn play(seed: u64, fault: Option<Fault>) -> Vec<&'static str> {
    let mut rng = Rng::new(seed);
    let mut wrong = Vec::new();
    let all = [('a', 2), ('b', 2)];
    let grants = [Grants::from(all), Grants::from([('b', 1)])];
    let mut server = Server { store: Store::default(), epoch: 1, safe: BTreeMap::new(), grants, fault };
    let device = |id: usize, user: usize, epoch| Device { id, user, epoch, ..Device::default() };
    let mut devices: Vec<Device> = vec![device(0, 0, 1), device(1, 1, 1), device(2, 0, 1)];
    let (mut acknowledged, mut backup, mut made) = (BTreeSet::new(), None, 0_u128);
    for step in 0..120_u64 {
        let which = rng.below(devices.len());
        match rng.below(100) {
            0..28 => {
                let one = &mut devices[which];
                let known: Vec<u128> = one.values.keys().copied().collect();
                let own: Vec<Scope> = server.grants[one.user].keys().copied().collect();
                let value = seed.wrapping_mul(1000) + step;
                let pick = rng.below(100);
                let (rec, change) = if known.is_empty() || pick < 45 {
                    made += 1;
                    let scope = own.get(rng.below(own.len())).copied().unwrap_or('a');
                    (made, Change::Create(scope, value))
                } else if pick < 85 {
                    (known[rng.below(known.len())], Change::Set(value))
                } else {
                    (known[rng.below(known.len())], Change::Delete)
                };
                one.n += 1;
                one.outbox.push(Sent { n: one.n, rec, change });
            }
            28..48 => {
                let lost = [Lost::Nothing, Lost::Nothing, Lost::Request, Lost::Answer][rng.below(4)];
                let many = 1 + rng.below(4);
                devices[which].push(&mut server, many, lost, &mut acknowledged);
            }
            48..70 => {
                let limit = [1, 2, 5, 50][rng.below(4)];
                devices[which].pull(&server, limit, &mut rng, &mut wrong);
            }
            70..78 => {
                let mut there: Vec<u128> = server.store.records.keys().copied().collect();
                rng.shuffle(&mut there);
                there.truncate(1 + rng.below(3));
                let new = ['a', 'b', 'c'].into_iter().filter(|_| rng.below(2) == 0).collect::<BTreeSet<_>>();
                if !new.is_empty() {
                    server.move_to(&there, &new);
                }
            }
            78..84 => {
                let user = rng.below(2);
                let scopes = ['a', 'b', 'c'].into_iter().filter(|_| rng.below(2) == 0).collect::<Vec<_>>();
                server.grants[user] =
                    scopes.into_iter().map(|scope| (scope, if rng.below(2) == 0 { 1 } else { 2 })).collect();
            }
            84..90 => {
                let (low, high) = (server.store.floor, server.store.head);
                let span = usize::try_from(high - low + 1).unwrap_or(1);
                server.purge(low + i64::try_from(rng.below(span)).unwrap_or(0));
            }
            90..94 => {
                server.safe = server.store.last.clone();
                backup = Some(server.store.clone());
            }
            94..97 => {
                if let Some(before) = &backup {
                    server.store = Store::clone(before);
                    server.epoch += 1;
                    server.safe = server.store.last.clone();
                }
            }
            _ => {}
        }
    }
    for _ in 0..3 {
        for one in &mut devices {
            one.push(&mut server, usize::MAX, Lost::Nothing, &mut acknowledged);
            let mut pages = 0;
            while one.pull(&server, 7, &mut rng, &mut wrong) {
                pages += 1;
                if pages > 300 {
                    wrong.push("I9 a pull never ends");
                    break;
                }
            }
            one.push(&mut server, usize::MAX, Lost::Nothing, &mut acknowledged);
        }
    }
    at_rest(&server, &devices, &acknowledged, &mut wrong);
    wrong
}

/// What must hold once everything was sent and read.
fn at_rest(
    server: &Server,
    devices: &[Device],
    acknowledged: &BTreeSet<(usize, i64)>,
    wrong: &mut Vec<&'static str>,
) {
    for one in devices {
        let held = &server.grants[one.user];
        let visible = |(rec, record): &(&u128, &Record)| {
            let seen = |scope: &Scope| held.get(scope).is_some_and(|view| shows(*view, **rec));
            !record.gone && record.scopes.iter().any(seen)
        };
        let want: BTreeMap<u128, u64> =
            server.store.records.iter().filter(visible).map(|(rec, record)| (*rec, record.value)).collect();
        let got: BTreeMap<u128, u64> = one.values.iter().map(|(rec, (_, value))| (*rec, *value)).collect();
        if got.keys().any(|rec| !want.contains_key(rec)) {
            wrong.push("I2 a device still holds what it may not, or what was deleted");
        }
        if want.iter().any(|(rec, value)| got.get(rec) != Some(value)) {
            wrong.push("I1 a device lacks a record, or holds an old one");
        }
        if !one.outbox.is_empty() {
            wrong.push("I5 an outbox never drains");
        }
        if (1..=one.n).any(|n| !server.store.answers.contains_key(&(one.id, n))) {
            wrong.push("I4 an operation is lost");
        }
    }
    if server.store.effects.values().any(|many| *many > 1) {
        wrong.push("I3 an operation was done twice");
    }
    if acknowledged.iter().any(|key| !server.store.answers.contains_key(key)) {
        wrong.push("I4 an acknowledged operation is missing");
    }
    if server.store.deleted.iter().any(|rec| !server.store.records[rec].gone) {
        wrong.push("I7 a deleted record came back");
    }
}

#[test]
fn every_schedule_ends_as_it_should() {
    for seed in 0..20_000 {
        let wrong = play(seed, None);
        assert!(wrong.is_empty(), "seed {seed}: {wrong:?}");
    }
}

#[test]
fn every_fault_is_found() {
    for fault in FAULTS {
        let found = (0..2_000).any(|seed| !play(seed, Some(fault)).is_empty());
        assert!(found, "{fault:?} is not found in 2,000 schedules");
    }
}
