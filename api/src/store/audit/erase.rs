//! Taking who and whom out of the audit log, without a trace but that it was done.

use diesel::prelude::*;
use plumbline_core::id::{SchoolId, StaffId};
use uuid::Uuid;

use super::{append, lock, verify::ERASE};
use crate::store::{
    Error, Store,
    change::AnyId,
    conn::db,
    schema::{audit_erased, audit_identity},
};

impl Store {
    /// Erases who and whom of every entry of a school about somebody or something by its id; how many. The
    /// operator's command. What the entries say beside that stays, and the chain holds.
    ///
    /// # Errors
    /// [`Error::Missing`] without such an entry.
    pub fn erase_from_audit(&self, school: SchoolId, about: Uuid) -> Result<usize, Error> {
        let (clock, about) = (self.clock(), AnyId::from_uuid(about));
        self.transact(move |mut conn| {
            let head = lock(&mut conn, school)?.ok_or(Error::Missing)?;
            let found: Vec<i64> = db!(conn, c => audit_identity::table
                .filter(audit_identity::school_id.eq(school))
                .filter(audit_identity::subject_id.eq(about))
                .select(audit_identity::seq)
                .load(c))?;
            if found.is_empty() {
                return Err(Error::Missing);
            }
            let by = append(&mut conn, school, head, clock.now(), ERASE, None::<StaffId>, None)?.seq;
            for some in found.chunks(100) {
                let rows: Vec<_> = some
                    .iter()
                    .map(|seq| {
                        (
                            audit_erased::school_id.eq(school),
                            audit_erased::seq.eq(*seq),
                            audit_erased::by_seq.eq(by),
                        )
                    })
                    .collect();
                db!(conn, c => diesel::insert_into(audit_erased::table).values(&rows).execute(c))?;
                db!(conn, c => diesel::delete(audit_identity::table
                    .filter(audit_identity::school_id.eq(school))
                    .filter(audit_identity::seq.eq_any(some)))
                    .execute(c))?;
            }
            Ok(found.len())
        })
    }
}
