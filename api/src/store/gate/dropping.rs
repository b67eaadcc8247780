//! The server at work on what has had its time: rows of pupil files that nothing can be done with
//! any more.

use diesel::prelude::*;
use plumbline_core::id::{RosterImportId, SchoolId, StaffId};

use crate::store::{
    Error, ImportStatus, Store, audit, conn::db, roster_import::RowsGone, schema::roster_import,
};

impl Store {
    /// Drops the rows of every pupil file whose time is over, of all schools; how many files that
    /// were. What came of each stays, in numbers. Written to the audit log in the name of whoever
    /// sent the file.
    ///
    /// # Errors
    /// If the store fails; what was dropped before stays dropped.
    pub fn drop_old_files(&self) -> Result<usize, Error> {
        let now = self.clock().now();
        let due: Vec<(SchoolId, RosterImportId)> = self.snapshot(|mut conn| -> Result<_, Error> {
            Ok(db!(conn, c => roster_import::table
                .filter(roster_import::kept_until.le(now))
                .select((roster_import::school_id, roster_import::id))
                .load(c))?)
        })?;
        let mut dropped = 0;
        for (school, id) in due {
            dropped += usize::from(self.drop_file(school, id)?);
        }
        Ok(dropped)
    }

    /// Drops the rows of one file, unless another server did.
    fn drop_file(&self, school: SchoolId, id: RosterImportId) -> Result<bool, Error> {
        let clock = self.clock();
        self.transact(move |mut conn| {
            let now = clock.now();
            let found: Option<(ImportStatus, StaffId)> = db!(conn, c => diesel::update(
                roster_import::table.find((school, id)).filter(roster_import::kept_until.le(now)))
                .set(RowsGone::default())
                .returning((roster_import::status, roster_import::created_by))
                .get_result(c)
                .optional())?;
            let Some((status, sent_by)) = found else { return Ok(false) };
            if status == ImportStatus::Preview {
                db!(conn, c => diesel::update(roster_import::table.find((school, id)))
                    .set(roster_import::status.eq(ImportStatus::Expired))
                    .execute(c))?;
            }
            let subject = Some(("roster_import", id.uuid()));
            audit::note(&mut conn, school, now, "roster_import.drop", sent_by, subject)?;
            Ok(true)
        })
    }
}

#[cfg(test)]
mod tests {
    use plumbline_core::time::Date;
    use serde_json::{Value, json};

    use super::*;
    use crate::{
        clock::Clock,
        store::{Place, conn::Conn, gate::tests::larchfield},
    };

    #[test]
    fn nothing_of_a_file_stays_in_its_row() {
        let folder = tempfile::tempdir().unwrap();
        let place = Place::Sqlite(folder.path().join("store.db").display().to_string());
        Store::migrate(&place).unwrap();
        let store =
            Store::open(&place, Clock::starting(Date::from_ymd_opt(2026, 11, 25).unwrap()), 1).unwrap();
        let now = store.clock().now();
        let (school, staff) = larchfield(&store);
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
}
