//! The audit log: who did and looked at what. Entries are chained and only ever added.

mod erase;
mod seal;
#[cfg(test)]
mod tests;
mod verify;

use chrono::NaiveTime;
use diesel::prelude::*;
use plumbline_core::{
    access::{act::Read, resource::AuditLog},
    audit::{Digest, Entry, commit, link},
    id::{PupilId, SchoolId, StaffId},
    time::{Date, Instant},
};
use uuid::Uuid;

use super::{
    Error, Permit, Tx,
    change::AnyId,
    conn::{Conn, db},
    schema::{audit_entry, audit_identity, school},
    tx::days_after,
};
use crate::clock::instant_in;
pub use seal::{AuditEnd, AuditKeys, Signed};
pub use verify::AuditChecked;

/// The end of a school's chain.
#[derive(Clone, Copy)]
pub(super) struct AuditHead {
    seq: i64,
    digest: Digest,
}

impl AuditHead {
    pub(super) fn new(seq: i64, digest: &[u8]) -> Result<Self, Error> {
        Ok(Self { seq, digest: digest_of(digest)? })
    }
}

fn digest_of(bytes: &[u8]) -> Result<Digest, Error> {
    bytes.try_into().map_err(|_| Error::Damaged("a digest of the audit log".into()))
}

#[derive(Insertable)]
#[diesel(table_name = audit_entry, treat_none_as_default_value = false)]
struct EntryRow<'a> {
    school_id: SchoolId,
    seq: i64,
    at: Instant,
    operation: &'a str,
    subject_kind: &'a str,
    commitment: Vec<u8>,
    digest: Vec<u8>,
}

#[derive(Insertable)]
#[diesel(table_name = audit_identity, treat_none_as_default_value = false)]
struct IdentityRow {
    school_id: SchoolId,
    seq: i64,
    staff_id: Option<StaffId>,
    subject_id: Option<AnyId>,
    salt: Vec<u8>,
}

/// An entry as the log shows it. Names no pupil and holds no content.
#[derive(Clone, Debug, Queryable)]
pub struct AuditLine {
    /// Place in the chain.
    pub seq: i64,
    /// When.
    pub at: Instant,
    /// The operation's name.
    pub operation: String,
    /// The kind of thing acted on.
    pub subject_kind: String,
    /// Who, unless erased; nobody where a link was opened.
    pub staff_id: Option<StaffId>,
}

/// Which entries to list; what is left out is no matter.
#[derive(Clone, Debug, Default)]
pub struct AuditSearch {
    /// Those of this day at the school.
    pub on: Option<Date>,
    /// Those of this member of staff.
    pub staff: Option<StaffId>,
    /// Those of this operation.
    pub operation: Option<String>,
    /// Those about this kind of thing.
    pub subject_kind: Option<String>,
    /// Those about this pupil.
    pub pupil: Option<PupilId>,
}

/// Adds an entry at the end of the chain, of nobody where a link was opened; gives the new end. The caller holds
/// the school's row.
pub(super) fn append(
    conn: &mut Conn<'_>,
    school_id: SchoolId,
    head: AuditHead,
    at: Instant,
    operation: &str,
    staff: impl Into<Option<StaffId>>,
    subject: Option<(&str, Uuid)>,
) -> Result<AuditHead, Error> {
    let staff = staff.into();
    let mut salt = [0; 16];
    getrandom::fill(&mut salt).map_err(|error| Error::Db(error.to_string()))?;
    let seq = head.seq + 1;
    let commitment = commit(&salt, staff, subject.map(|(_, id)| id));
    let subject_kind = subject.map_or("school", |(kind, _)| kind);
    let digest = link(&head.digest, &Entry { seq, at, operation, subject_kind, commitment });
    let entry = EntryRow {
        school_id,
        seq,
        at,
        operation,
        subject_kind,
        commitment: commitment.to_vec(),
        digest: digest.to_vec(),
    };
    let identity = IdentityRow {
        school_id,
        seq,
        staff_id: staff,
        subject_id: subject.map(|(_, id)| AnyId::from_uuid(id)),
        salt: salt.to_vec(),
    };
    db!(*conn, c => diesel::insert_into(audit_entry::table).values(&entry).execute(c))?;
    db!(*conn, c => diesel::insert_into(audit_identity::table).values(&identity).execute(c))?;
    db!(*conn, c => diesel::update(school::table.find(school_id))
        .set((school::audit_seq.eq(seq), school::audit_head.eq(digest.to_vec())))
        .execute(c))?;
    Ok(AuditHead { seq, digest })
}

/// Adds an entry outside a write: a reading, a sign-in. Takes no version of the school,
/// because nothing a device could hold has changed.
pub(super) fn note(
    conn: &mut Conn<'_>,
    school_id: SchoolId,
    at: Instant,
    operation: &str,
    staff: impl Into<Option<StaffId>>,
    subject: Option<(&str, Uuid)>,
) -> Result<(), Error> {
    let head = lock(conn, school_id)?.ok_or(Error::Missing)?;
    append(conn, school_id, head, at, operation, staff, subject).map(|_| ())
}

/// Holds off other writers of a school until the end of the transaction, and reads the end
/// of its chain.
pub(super) fn lock(conn: &mut Conn<'_>, school_id: SchoolId) -> Result<Option<AuditHead>, Error> {
    let found: Option<(i64, Vec<u8>)> = db!(*conn, c => diesel::update(school::table.find(school_id))
        .set(school::audit_seq.eq(school::audit_seq))
        .returning((school::audit_seq, school::audit_head))
        .get_result(c)
        .optional())?;
    found.map(|(seq, digest)| AuditHead::new(seq, &digest)).transpose()
}

impl<'tx> Tx<'tx> {
    /// The latest entries before `before` of those that are looked for, newest first. Looking for a pupil's is about
    /// that pupil.
    pub fn audit_lines(
        &mut self,
        _permit: &Permit<'tx, Read, AuditLog>,
        search: &AuditSearch,
        before: Option<i64>,
        limit: i64,
    ) -> Result<Vec<AuditLine>, Error> {
        let school = self.school();
        if let Some(pupil) = search.pupil {
            self.about("pupil", pupil.uuid());
        }
        let day = search.on.map(|on| self.day_of_school(on)).transpose()?;
        Ok(db!(self.conn, c => {
            let mut query = audit_entry::table
            .left_join(audit_identity::table.on(
                audit_identity::school_id.eq(audit_entry::school_id).and(audit_identity::seq.eq(audit_entry::seq))))
            .filter(audit_entry::school_id.eq(school))
            .filter(audit_entry::seq.lt(before.unwrap_or(i64::MAX)))
            .order(audit_entry::seq.desc())
            .limit(limit)
            .select((
                audit_entry::seq,
                audit_entry::at,
                audit_entry::operation,
                audit_entry::subject_kind,
                audit_identity::staff_id.nullable(),
            ))
            .into_boxed();
            if let Some((begins, ends)) = day {
                query = query.filter(audit_entry::at.ge(begins)).filter(audit_entry::at.lt(ends));
            }
            if let Some(staff) = search.staff {
                query = query.filter(audit_identity::staff_id.eq(staff));
            }
            if let Some(operation) = &search.operation {
                query = query.filter(audit_entry::operation.eq(operation));
            }
            if let Some(kind) = &search.subject_kind {
                query = query.filter(audit_entry::subject_kind.eq(kind));
            }
            if let Some(pupil) = search.pupil {
                let pupil = AnyId::from_uuid(pupil.uuid());
                query = query
                    .filter(audit_identity::subject_id.eq(pupil))
                    .filter(audit_entry::subject_kind.eq("pupil"));
            }
            query.load(c)
        })?)
    }

    /// When a day at the school begins and ends.
    fn day_of_school(&mut self, on: Date) -> Result<(Instant, Instant), Error> {
        let id = self.school();
        let zone: String = db!(self.conn, c => school::table.find(id).select(school::time_zone).first(c))?;
        Ok((instant_in(&zone, on, NaiveTime::MIN), instant_in(&zone, days_after(on, 1), NaiveTime::MIN)))
    }
}
