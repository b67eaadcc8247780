//! Answers remembered by Idempotency-Key, so that a repeated request is answered again and
//! not done again.

use diesel::prelude::*;
use plumbline_core::{
    id::{SchoolId, StaffId},
    time::Instant,
};

use super::{Error, Permit, Tx, conn::db, schema::idempotency};

#[derive(Insertable)]
#[diesel(table_name = idempotency, treat_none_as_default_value = false)]
struct Row<'a> {
    school_id: SchoolId,
    staff_id: StaffId,
    idem_key: &'a str,
    request_hash: &'a [u8],
    reply: serde_json::Value,
    at: Instant,
}

/// What is remembered under a key.
#[derive(Debug, PartialEq, Eq)]
pub enum Remembered {
    /// Nothing: go on.
    Nothing,
    /// The answer to the same request.
    Reply(serde_json::Value),
    /// Another request used this key.
    OtherRequest,
}

/// How long an answer is remembered: the oldest moment that still counts.
pub(super) fn oldest(now: Instant) -> Instant {
    now.plus_seconds(-48 * 3600)
}

impl<'tx> Tx<'tx> {
    /// What this member of staff was answered under a key.
    ///
    /// # Errors
    /// If the store fails.
    pub fn recall(&mut self, key: &str, request_hash: &[u8]) -> Result<Remembered, Error> {
        let (school, staff) = (self.school(), self.actor.staff);
        let oldest = oldest(self.now());
        db!(self.conn, c => diesel::delete(idempotency::table
            .filter(idempotency::school_id.eq(school))
            .filter(idempotency::at.lt(oldest)))
            .execute(c))?;
        let found: Option<(Vec<u8>, serde_json::Value)> = db!(self.conn, c => idempotency::table
            .find((school, staff, key))
            .select((idempotency::request_hash, idempotency::reply))
            .first(c)
            .optional())?;
        Ok(match found {
            None => Remembered::Nothing,
            Some((hash, reply)) if hash == request_hash => Remembered::Reply(reply),
            Some(_) => Remembered::OtherRequest,
        })
    }

    /// Remembers an answer, in the same transaction as what it answers for.
    ///
    /// # Errors
    /// If the store fails.
    pub fn remember(
        &mut self,
        key: &str,
        request_hash: &[u8],
        reply: serde_json::Value,
    ) -> Result<(), Error> {
        let row = Row {
            school_id: self.school(),
            staff_id: self.actor.staff,
            idem_key: key,
            request_hash,
            reply,
            at: self.now(),
        };
        db!(self.conn, c => diesel::insert_into(idempotency::table).values(&row).execute(c))?;
        Ok(())
    }

    /// Forgets what the answers said that told of something new at this place, because it is to be
    /// gone; that it was done stays known, so that a late repeat does not bring it back.
    ///
    /// # Errors
    /// If the store fails.
    pub fn forget_answers<A, R: Copy>(
        &mut self,
        _permit: &Permit<'tx, A, R>,
        location: &str,
    ) -> Result<(), Error> {
        let school = self.school();
        let answers: Vec<(StaffId, String, serde_json::Value)> = db!(self.conn, c => idempotency::table
            .filter(idempotency::school_id.eq(school))
            .select((idempotency::staff_id, idempotency::idem_key, idempotency::reply))
            .load(c))?;
        for (staff, key, mut reply) in answers {
            if reply["location"] == location {
                reply["body"] = serde_json::Value::Null;
                db!(self.conn, c => diesel::update(idempotency::table.find((school, staff, &key)))
                    .set(idempotency::reply.eq(&reply))
                    .execute(c))?;
            }
        }
        Ok(())
    }
}
