//! Going through a school's audit log: whether it is what was written.

use diesel::prelude::*;
use plumbline_core::{
    audit::{Digest, Entry, Fault, Walk, commit},
    id::{SchoolId, StaffId},
    time::Instant,
};

use super::{
    digest_of,
    seal::{AuditKeys, HEAD, seals_of},
};
use crate::store::{
    Error, Store,
    change::AnyId,
    conn::{Conn, db},
    schema::{audit_entry, audit_erased, audit_identity, school},
};

/// Entries looked at together.
const PAGE: i64 = 1000;
/// The operation of an entry that says who and whom of others were erased.
pub(super) const ERASE: &str = "audit.erase";

/// What a log was found to be.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct AuditChecked {
    /// Entries that hold.
    pub entries: i64,
    /// Of these, how many have no who and whom any more.
    pub erased: i64,
    /// Months that are signed.
    pub months: usize,
    /// The last entry that is signed; none where nothing is.
    pub signed: Option<i64>,
}

/// An entry with what stands beside it.
#[derive(Queryable)]
struct Line {
    seq: i64,
    at: Instant,
    operation: String,
    subject_kind: String,
    commitment: Vec<u8>,
    digest: Vec<u8>,
    staff_id: Option<StaffId>,
    subject_id: Option<AnyId>,
    salt: Option<Vec<u8>>,
    erased_by: Option<i64>,
}

impl Line {
    fn entry(&self) -> Result<(Entry<'_>, Digest), Error> {
        let entry = Entry {
            seq: self.seq,
            at: self.at,
            operation: &self.operation,
            subject_kind: &self.subject_kind,
            commitment: digest_of(&self.commitment)?,
        };
        Ok((entry, digest_of(&self.digest)?))
    }
}

impl Store {
    /// Goes through a school's log from its first entry, in one snapshot, with the ends that were noted
    /// outside. Says the first thing that is wrong.
    ///
    /// # Errors
    /// If the store fails.
    pub fn check_audit(
        &self,
        school: SchoolId,
        noted: &[(i64, Digest)],
        keys: &impl AuditKeys,
    ) -> Result<Result<AuditChecked, Fault>, Error> {
        self.snapshot(|mut conn| check(&mut conn, school, noted, keys))
    }
}

fn check(
    conn: &mut Conn<'_>,
    school: SchoolId,
    noted: &[(i64, Digest)],
    keys: &impl AuditKeys,
) -> Result<Result<AuditChecked, Fault>, Error> {
    let seals = seals_of(conn, school)?;
    let (end, end_digest): (i64, Vec<u8>) =
        db!(*conn, c => school::table.find(school).select((school::audit_seq, school::audit_head)).first(c))?;
    let signed = seals.iter().find(|sealed| sealed.segment == HEAD).map(|sealed| sealed.seq);
    let mut found =
        AuditChecked { months: seals.len() - usize::from(signed.is_some()), signed, ..Default::default() };
    let mut due = seals.into_iter().peekable();
    let mut walk = Walk::default();
    // What is signed or noted is looked at where it stands, so that the first fault is the one that is told.
    let mut at_their_place = |walk: &Walk| -> Result<(), Fault> {
        while let Some(sealed) = due.next_if(|sealed| sealed.seq <= walk.seq) {
            sealed.fault(school, Some(walk.digest), keys)?;
        }
        let same = |(seq, digest): &(i64, Digest)| *seq != walk.seq || *digest == walk.digest;
        if noted.iter().all(same) { Ok(()) } else { Err(Fault::Noted(walk.seq)) }
    };
    if let Err(fault) = at_their_place(&walk) {
        return Ok(Err(fault));
    }
    loop {
        let lines = page(conn, school, walk.seq)?;
        let entries = lines.iter().map(Line::entry).collect::<Result<Vec<_>, _>>()?;
        for (n, (line, (entry, digest))) in lines.iter().zip(&entries).enumerate() {
            let followed = walk
                .follow((entry, digest), &entries[n + 1..])
                .and_then(|()| identity(line, entry.commitment))
                .and_then(|()| at_their_place(&walk));
            if let Err(fault) = followed {
                return Ok(Err(fault));
            }
            found.erased += i64::from(line.salt.is_none());
        }
        if i64::try_from(lines.len()).unwrap_or(i64::MAX) < PAGE {
            break;
        }
    }
    found.entries = walk.seq;
    let ends = noted.iter().map(|(seq, _)| *seq).chain(due.map(|sealed| sealed.seq));
    let last = ends.max().unwrap_or(0).max(end);
    if walk.seq < last {
        return Ok(Err(Fault::CutOff(walk.seq + 1)));
    }
    if (walk.seq, walk.digest.as_slice()) != (end, end_digest.as_slice()) {
        return Ok(Err(Fault::End(walk.seq)));
    }
    if found.months > 0 && signed.is_none() {
        return Ok(Err(Fault::NoHead));
    }
    unsaid_erasure(conn, school).map(|unsaid| unsaid.map_or(Ok(found), |seq| Err(Fault::IdentityGone(seq))))
}

/// Whether what stands beside an entry is what it committed to, or was erased.
fn identity(line: &Line, commitment: Digest) -> Result<(), Fault> {
    let Some(salt) = &line.salt else {
        return if line.erased_by.is_some() { Ok(()) } else { Err(Fault::IdentityGone(line.seq)) };
    };
    let salt = salt.as_slice().try_into().map_err(|_| Fault::Identity(line.seq))?;
    let same = commit(salt, line.staff_id, line.subject_id.map(AnyId::uuid)) == commitment;
    if same { Ok(()) } else { Err(Fault::Identity(line.seq)) }
}

/// The first entry that is said to be erased by one that says no such thing.
fn unsaid_erasure(conn: &mut Conn<'_>, school: SchoolId) -> Result<Option<i64>, Error> {
    Ok(db!(*conn, c => audit_erased::table
        .left_join(audit_entry::table.on(audit_entry::school_id.eq(audit_erased::school_id)
            .and(audit_entry::seq.eq(audit_erased::by_seq))
            .and(audit_entry::operation.eq(ERASE))))
        .filter(audit_erased::school_id.eq(school))
        .filter(audit_entry::seq.nullable().is_null())
        .order(audit_erased::seq)
        .select(audit_erased::seq)
        .first(c)
        .optional())?)
}

fn page(conn: &mut Conn<'_>, school: SchoolId, after: i64) -> Result<Vec<Line>, Error> {
    Ok(db!(*conn, c => audit_entry::table
        .left_join(audit_identity::table.on(audit_identity::school_id.eq(audit_entry::school_id)
            .and(audit_identity::seq.eq(audit_entry::seq))))
        .left_join(audit_erased::table.on(audit_erased::school_id.eq(audit_entry::school_id)
            .and(audit_erased::seq.eq(audit_entry::seq))))
        .filter(audit_entry::school_id.eq(school))
        .filter(audit_entry::seq.gt(after))
        .order(audit_entry::seq)
        .limit(PAGE)
        .select((
            audit_entry::seq,
            audit_entry::at,
            audit_entry::operation,
            audit_entry::subject_kind,
            audit_entry::commitment,
            audit_entry::digest,
            audit_identity::staff_id.nullable(),
            audit_identity::subject_id.nullable(),
            audit_identity::salt.nullable(),
            audit_erased::by_seq.nullable(),
        ))
        .load(c))?)
}
