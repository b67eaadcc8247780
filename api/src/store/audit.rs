//! The audit log: who did and looked at what. Entries are chained and only ever added.

mod erase;
mod seal;
#[cfg(test)]
mod tests;
mod verify;

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Read, resource::AuditLog},
    audit::{Digest, Entry, commit, link},
    id::{SchoolId, StaffId},
    time::Instant,
};
use uuid::Uuid;

use super::{
    Error, Permit, Tx,
    change::AnyId,
    conn::{Conn, db},
    schema::{audit_entry, audit_identity, school},
};
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
    /// The latest entries before `before`, newest first.
    pub fn audit_lines(
        &mut self,
        _permit: &Permit<'tx, Read, AuditLog>,
        before: Option<i64>,
        limit: i64,
    ) -> Result<Vec<AuditLine>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => audit_entry::table
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
            .load(c))?)
    }
}
