//! What is dropped is gone from the rows, on both stores.

use serde_json::{Value, json};

use super::*;
use crate::{
    clock::Clock,
    store::{Place, conn::Conn, gate::tests::larchfield, tests::on_each_store},
};

fn opened(place: &Place) -> Store {
    Store::migrate(place).unwrap();
    Store::open(place, Clock::starting(Date::from_ymd_opt(2026, 11, 25).unwrap()), 1).unwrap()
}

#[test]
fn nothing_of_a_file_stays_in_its_row() {
    on_each_store(|place| check_files(&opened(place)));
}

fn check_files(store: &Store) {
    let now = store.clock().now();
    let (school, staff) = larchfield(store);
    let add = move |n: u128, until: i64| {
        move |mut conn: Conn<'_>| -> Result<(), Error> {
            db!(conn, c => diesel::insert_into(roster_import::table).values((
                roster_import::school_id.eq(school),
                roster_import::id.eq(RosterImportId::from_uuid(uuid::Uuid::from_u128(n))),
                roster_import::status.eq(ImportStatus::Confirmed),
                roster_import::encoding.eq("UTF-8"),
                roster_import::readings.eq(json!(["Ida"])),
                roster_import::plan.eq(json!(["Ida"])),
                roster_import::answers.eq(json!(["Ida"])),
                roster_import::before.eq(Some(json!(["Ida"]))),
                roster_import::summary.eq(json!({"created": 1})),
                roster_import::created_by.eq(staff),
                roster_import::created_at.eq(now),
                roster_import::kept_until.eq(Some(now.plus_seconds(until))),
                roster_import::v.eq(1),
            )).execute(c))?;
            Ok(())
        }
    };
    store.transact(add(1, -1)).unwrap();
    store.transact(add(2, 3600)).unwrap();
    assert_eq!([store.drop_old_files().unwrap(), store.drop_old_files().unwrap()], [1, 0]);
    type Held = (Value, Value, Value, Option<Value>, Value);
    let read = |mut conn: Conn<'_>| -> Result<Vec<Held>, Error> {
        Ok(db!(conn, c => roster_import::table
            .order(roster_import::id)
            .select((
                roster_import::readings,
                roster_import::plan,
                roster_import::answers,
                roster_import::before,
                roster_import::summary,
            ))
            .load(c))?)
    };
    let (held, summary) = (json!(["Ida"]), json!({"created": 1}));
    let gone = (Value::Null, Value::Null, Value::Null, None, summary.clone());
    let kept = (held.clone(), held.clone(), held.clone(), Some(held), summary);
    assert_eq!(store.snapshot(read).unwrap(), [gone, kept]);
}

#[test]
fn answers_are_remembered_for_two_days_whoever_asks_again() {
    on_each_store(|place| {
        let store = opened(place);
        let now = store.clock().now();
        // Of two schools, an answer ten minutes before its 48 hours are over and one a second after.
        let (new, old) = (600 - 48 * 3600, -1 - 48 * 3600);
        store
            .transact(move |mut conn| -> Result<(), Error> {
                for (school, key, seconds) in
                    [(1, "new", new), (1, "old", old), (2, "new", new), (2, "old", old)]
                {
                    db!(conn, c => diesel::insert_into(idempotency::table).values((
                        idempotency::school_id.eq(SchoolId::from_uuid(uuid::Uuid::from_u128(school))),
                        idempotency::staff_id.eq(StaffId::from_uuid(uuid::Uuid::nil())),
                        idempotency::idem_key.eq(key),
                        idempotency::request_hash.eq(vec![0_u8]),
                        idempotency::reply.eq(json!({"body": "Ida"})),
                        idempotency::at.eq(now.plus_seconds(seconds)),
                    )).execute(c))?;
                }
                Ok(())
            })
            .unwrap();
        assert_eq!([store.drop_old_answers().unwrap(), store.drop_old_answers().unwrap()], [2, 0]);
        let left = |mut conn: Conn<'_>| -> Result<Vec<String>, Error> {
            Ok(db!(conn, c => idempotency::table.select(idempotency::idem_key).load(c))?)
        };
        assert_eq!(store.snapshot(left).unwrap(), ["new", "new"]);
    });
}
