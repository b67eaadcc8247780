//! What is done to the log behind the server's back is named, on both stores.

use std::sync::{Arc, Mutex};

use diesel::{QueryableByName, RunQueryDsl as _, sql_query, sql_types::BigInt};
use plumbline_core::{
    audit::Fault,
    id::{SchoolId, StaffId},
    time::Date,
};
use sha2::{Digest as _, Sha256};

use super::*;
use crate::{
    clock::Clock,
    store::{Place, Store, gate::tests::larchfield, tests::on_each_store},
};

/// Stands for a key of the server's: whoever knows its name can sign.
struct Key(&'static str);

impl AuditKeys for Key {
    fn sign(&self, message: &[u8]) -> Option<Signed> {
        let digest = Sha256::digest([self.0.as_bytes(), message].concat());
        Some(Signed { key: self.0.into(), signature: format!("{digest:?}") })
    }

    fn signed(&self, message: &[u8], by: &Signed) -> bool {
        self.sign(message).as_ref() == Some(by)
    }
}

const OURS: Key = Key("ours");

fn opened(place: &Place, month: u32, day: u32) -> Store {
    Store::open(place, Clock::starting(Date::from_ymd_opt(2026, month, day).unwrap()), 2).unwrap()
}

/// A school with entries in its log: 1 its making, 2 the accepting of its administrator, then one a sign-in.
fn school(place: &Place, sign_ins: usize) -> (Store, SchoolId, StaffId) {
    Store::migrate(place).unwrap();
    let store = opened(place, 11, 25);
    let (school, staff) = larchfield(&store);
    sign_in(&store, school, staff, sign_ins);
    (store, school, staff)
}

fn sign_in(store: &Store, school: SchoolId, staff: StaffId, times: usize) {
    let until = store.clock().now().plus_seconds(60);
    for _ in 0..times {
        store.start_session(school, staff, [2; 32], until).unwrap();
    }
}

fn sealed(store: &Store) -> Result<(i64, Digest), Fault> {
    store.seal_audit(&Arc::new(OURS)).unwrap().remove(0).end
}

fn checked(store: &Store, school: SchoolId) -> Result<AuditChecked, Fault> {
    store.check_audit(school, &[], &OURS).unwrap()
}

/// Runs a statement as whoever owns the database can.
fn done(store: &Store, statement: &str) -> Result<(), Error> {
    let statement = statement.to_owned();
    store.transact(move |mut conn| conn.execute(&statement))
}

/// The same with the triggers out of the way.
fn forced(place: &Place, store: &Store, statements: &[&str]) {
    const TRIGGERS: [(&str, &str); 6] = [
        ("audit_entry_kept_as_is", "audit_entry"),
        ("audit_entry_kept", "audit_entry"),
        ("audit_identity_kept_as_is", "audit_identity"),
        ("audit_identity_kept", "audit_identity"),
        ("audit_seal_kept_as_is", "audit_seal"),
        ("audit_seal_kept", "audit_seal"),
    ];
    for (name, table) in TRIGGERS {
        let on = if matches!(place, Place::Postgres(_)) { format!(" ON {table}") } else { String::new() };
        done(store, &format!("DROP TRIGGER IF EXISTS {name}{on}")).unwrap();
    }
    statements.iter().for_each(|statement| done(store, statement).unwrap());
}

/// What a fresh log of eight entries, signed up to the last, is found to be after this was done to it.
fn after(statements: &[&str]) -> Vec<Result<i64, Fault>> {
    let found = Mutex::new(Vec::new());
    on_each_store(|place| {
        let (store, school, _) = school(place, 6);
        assert_eq!(sealed(&store).unwrap().0, 8);
        assert_eq!(checked(&store, school).unwrap().entries, 8);
        forced(place, &store, statements);
        found.lock().unwrap().push(checked(&store, school).map(|checked| checked.entries));
    });
    let mut found = found.into_inner().unwrap();
    found.dedup();
    found
}

#[test]
fn an_edited_entry_is_named() {
    let edited = after(&["UPDATE audit_entry SET operation = 'session.end' WHERE seq = 5"]);
    assert_eq!(edited, [Err(Fault::Changed(5))]);
    let whom = after(&["UPDATE audit_identity SET subject_id = NULL WHERE seq = 4"]);
    assert_eq!(whom, [Err(Fault::Identity(4))]);
}

#[test]
fn a_deleted_entry_is_named() {
    assert_eq!(after(&["DELETE FROM audit_entry WHERE seq = 5"]), [Err(Fault::Missing(5))]);
    assert_eq!(after(&["DELETE FROM audit_entry WHERE seq = 1"]), [Err(Fault::Missing(1))]);
    // Closed up, so that none is missing by its number: one by one, for the key is looked at row by row.
    let closed_up = after(&[
        "DELETE FROM audit_entry WHERE seq = 5",
        "UPDATE audit_entry SET seq = 5 WHERE seq = 6",
        "UPDATE audit_entry SET seq = 6 WHERE seq = 7",
        "UPDATE audit_entry SET seq = 7 WHERE seq = 8",
    ]);
    assert_eq!(closed_up, [Err(Fault::Changed(5))]);
    assert_eq!(after(&["DELETE FROM audit_identity WHERE seq = 3"]), [Err(Fault::IdentityGone(3))]);
}

#[test]
fn a_moved_entry_is_named() {
    let moved = after(&[
        "UPDATE audit_entry SET seq = 100 WHERE seq = 4",
        "UPDATE audit_entry SET seq = 4 WHERE seq = 6",
        "UPDATE audit_entry SET seq = 6 WHERE seq = 100",
    ]);
    assert_eq!(moved, [Err(Fault::Moved { seq: 4, stands_at: 6 })]);
}

const CUT: &str = "DELETE FROM audit_entry WHERE seq > 6";
/// What stood beside them, so that others can be written in their place.
const CUT_BESIDE: &str = "DELETE FROM audit_identity WHERE seq > 6";
/// The school's own record of the end, made to agree.
const AGREED: &str =
    "UPDATE school SET audit_seq = 6, audit_head = (SELECT digest FROM audit_entry WHERE seq = 6)";

#[test]
fn a_log_that_was_cut_off_is_named_by_its_signed_end() {
    assert_eq!(after(&[CUT]), [Err(Fault::CutOff(7))]);
    assert_eq!(after(&[CUT, AGREED]), [Err(Fault::CutOff(7))]);
    // The signature is of entry 8 and of no other.
    let seal = "UPDATE audit_seal SET seq = 6, digest = (SELECT digest FROM audit_entry WHERE seq = 6)";
    let signature = Fault::Signature { seq: 6, segment: "head".into(), key: "ours".into() };
    assert_eq!(after(&[CUT, AGREED, seal]), [Err(signature)]);
}

#[test]
fn what_is_cut_off_is_not_signed_anew() {
    on_each_store(|place| {
        let (store, school, staff) = school(place, 6);
        sealed(&store).unwrap();
        forced(place, &store, &[CUT, CUT_BESIDE, AGREED]);
        assert_eq!(sealed(&store), Err(Fault::CutOff(8)));
        // Nor once there are as many again.
        sign_in(&store, school, staff, 3);
        let anew = Fault::MadeAnew { seq: 8, segment: "head".into() };
        assert_eq!(sealed(&store), Err(anew.clone()));
        assert_eq!(checked(&store, school), Err(anew));
    });
}

#[test]
fn a_log_without_its_signatures_is_known_by_what_was_noted() {
    on_each_store(|place| {
        let (store, school, staff) = school(place, 6);
        let noted = sealed(&store).unwrap();
        forced(place, &store, &[CUT, CUT_BESIDE, AGREED, "DELETE FROM audit_seal"]);
        assert_eq!(checked(&store, school).unwrap().signed, None);
        let against =
            |noted| store.check_audit(school, &[noted], &OURS).unwrap().map(|checked| checked.entries);
        assert_eq!(against(noted), Err(Fault::CutOff(7)));
        sign_in(&store, school, staff, 2);
        assert_eq!(against(noted), Err(Fault::Noted(8)));
    });
}

#[test]
fn the_store_refuses_what_is_no_adding() {
    on_each_store(|place| {
        let (store, school, _) = school(place, 1);
        sealed(&store).unwrap();
        for (statement, said) in [
            ("UPDATE audit_entry SET operation = 'x' WHERE seq = 2", "only added to"),
            ("DELETE FROM audit_entry WHERE seq = 3", "only added to"),
            ("UPDATE audit_identity SET staff_id = NULL WHERE seq = 2", "only added to"),
            ("DELETE FROM audit_identity WHERE seq = 2", "erasure alone"),
            ("UPDATE audit_seal SET seq = 1", "only added to"),
            ("DELETE FROM audit_seal", "only added to"),
        ] {
            let refused = done(&store, statement);
            assert!(
                matches!(&refused, Err(Error::Db(text)) if text.contains(said)),
                "{statement}: {refused:?}"
            );
        }
        assert_eq!(checked(&store, school).unwrap().entries, 3);
    });
}

#[derive(QueryableByName)]
struct Count {
    #[diesel(sql_type = BigInt)]
    count: i64,
}

fn count(store: &Store, of: &str) -> i64 {
    let question = format!("SELECT COUNT(*) AS count FROM {of}");
    let found: Count = store
        .snapshot(|mut conn| -> Result<_, Error> { Ok(db!(conn, c => sql_query(&question).get_result(c))?) })
        .unwrap();
    found.count
}

#[test]
fn an_erasure_leaves_the_log_verifying() {
    on_each_store(|place| {
        let (store, school, _) = school(place, 6);
        sealed(&store).unwrap();
        assert_eq!(count(&store, "audit_identity WHERE subject_id IS NOT NULL"), 8);
        // Of entry 1, the one about the school itself.
        assert_eq!(store.erase_from_audit(school, school.uuid()).unwrap(), 1);
        assert!(matches!(store.erase_from_audit(school, school.uuid()), Err(Error::Missing)));
        assert_eq!(count(&store, "audit_identity WHERE seq = 1"), 0);
        assert_eq!(sealed(&store).unwrap().0, 9);
        let found = AuditChecked { entries: 9, erased: 1, months: 0, signed: Some(9) };
        assert_eq!(checked(&store, school), Ok(found));
        // What says that it was an erasure and was none is named.
        done(
            &store,
            "INSERT INTO audit_erased (school_id, seq, by_seq) SELECT school_id, 4, 5 FROM audit_erased",
        )
        .unwrap();
        done(&store, "DELETE FROM audit_identity WHERE seq = 4").unwrap();
        assert_eq!(checked(&store, school), Err(Fault::IdentityGone(4)));
    });
}

#[test]
fn a_month_is_signed_once_it_is_over() {
    on_each_store(|place| {
        let (november, school, staff) = school(place, 3);
        assert_eq!(sealed(&november).unwrap().0, 5);
        assert_eq!(checked(&november, school).unwrap().months, 0);
        assert!(!november.audit_is_unsealed().unwrap());
        let january =
            Store::open(place, Clock::starting(Date::from_ymd_opt(2027, 1, 4).unwrap()), 2).unwrap();
        // Nothing was written, but November is over.
        assert!(january.audit_is_unsealed().unwrap());
        sign_in(&january, school, staff, 2);
        assert_eq!(sealed(&january).unwrap().0, 7);
        assert_eq!(count(&january, "audit_seal WHERE segment = '2026-11' AND seq = 5"), 1);
        let found = AuditChecked { entries: 7, erased: 0, months: 1, signed: Some(7) };
        assert_eq!(checked(&january, school), Ok(found));
        // A clock that was put back: what it writes counts to the month after, when that is over.
        sign_in(&november, school, staff, 1);
        let march = Store::open(place, Clock::starting(Date::from_ymd_opt(2027, 3, 1).unwrap()), 2).unwrap();
        assert_eq!(sealed(&march).unwrap().0, 8);
        assert_eq!(count(&march, "audit_seal WHERE segment <> 'head'"), 2);
        assert_eq!(count(&march, "audit_seal WHERE segment = '2027-01' AND seq = 8"), 1);
        // Signed with another key, it is not ours.
        let theirs = march.check_audit(school, &[], &Key("theirs")).unwrap();
        let signature = Fault::Signature { seq: 5, segment: "2026-11".into(), key: "ours".into() };
        assert_eq!(theirs, Err(signature));
        forced(place, &march, &["DELETE FROM audit_seal WHERE segment = 'head'"]);
        assert_eq!(checked(&march, school), Err(Fault::NoHead));
        assert_eq!(sealed(&march), Err(Fault::NoHead));
    });
}

#[test]
fn writers_at_once_make_one_chain() {
    on_each_store(|place| {
        let (one, school, staff) = school(place, 0);
        let other = opened(place, 11, 25);
        std::thread::scope(|scope| {
            for store in [&one, &other, &one, &other] {
                scope.spawn(|| sign_in(store, school, staff, 10));
            }
        });
        assert_eq!(sealed(&other).unwrap().0, 42);
        assert_eq!(checked(&one, school).unwrap().entries, 42);
    });
}
