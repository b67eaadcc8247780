//! Signing the ends of the audit chain: of each month that is over, and the latest.
//!
//! A write signs nothing: the server does, a minute after, at its start and its end, and whoever asks for
//! the head. The chain of entries is the same whenever that is; only what was not signed yet can be cut off
//! unseen.

use std::sync::Arc;

use chrono::{Months, NaiveTime};
use diesel::prelude::*;
use plumbline_core::{
    audit::{Digest, Fault, seal},
    id::SchoolId,
    time::{Date, Instant},
};

use super::{AuditHead, audit_entry, digest_of, lock};
use crate::{
    clock::{date_in, instant_in},
    store::{
        Error, Store,
        conn::{Conn, db},
        schema::{audit_seal, school},
    },
};

/// The segment of all there is so far.
pub(super) const HEAD: &str = "head";
/// How other segments are named.
const MONTH: &str = "%Y-%m";

/// A signature, and the name of its key.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Signed {
    /// The key's name.
    pub key: String,
    /// The signature in base64url.
    pub signature: String,
}

/// The keys by which a server vouches for its audit log.
pub trait AuditKeys: Send + Sync + 'static {
    /// Signs with the newest key; none where that fails.
    fn sign(&self, message: &[u8]) -> Option<Signed>;
    /// Whether one of the keys signed this.
    fn signed(&self, message: &[u8], by: &Signed) -> bool;
}

/// A signed end.
#[derive(Clone, Debug, Queryable, Selectable)]
#[diesel(table_name = audit_seal)]
pub(super) struct SealRow {
    pub segment: String,
    pub seq: i64,
    digest: Vec<u8>,
    key_id: String,
    signature: String,
}

#[derive(Insertable, AsChangeset)]
#[diesel(table_name = audit_seal, primary_key(school_id, segment), treat_none_as_default_value = false)]
struct SealInsert<'a> {
    school_id: SchoolId,
    segment: &'a str,
    seq: i64,
    digest: Vec<u8>,
    key_id: String,
    signature: String,
    at: Instant,
}

impl SealRow {
    /// What is wrong with it as such, or beside the digest of the entry it names.
    pub fn fault(&self, school: SchoolId, there: Option<Digest>, keys: &impl AuditKeys) -> Result<(), Fault> {
        let (seq, segment, key) = (self.seq, self.segment.clone(), self.key_id.clone());
        let by = Signed { key: key.clone(), signature: self.signature.clone() };
        let digest = self.digest.as_slice().try_into().ok();
        match digest {
            Some(digest) if keys.signed(&seal(school, &segment, seq, digest), &by) => match there {
                None => Err(Fault::CutOff(seq)),
                Some(there) if there != *digest => Err(Fault::MadeAnew { seq, segment }),
                Some(_) => Ok(()),
            },
            _ => Err(Fault::Signature { seq, segment, key }),
        }
    }
}

/// The end of a school's audit log.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AuditEnd {
    /// The school.
    pub school: SchoolId,
    /// Its name.
    pub name: String,
    /// The last entry and its digest, now signed; or why it is not.
    pub end: Result<(i64, Digest), Fault>,
}

impl Store {
    /// Signs the end of every school's audit log, and of the months that are over. What was signed before is
    /// looked at first: an end that does not go on from it stays unsigned, and is among the faults.
    ///
    /// # Errors
    /// If the store fails.
    pub fn seal_audit(&self, keys: &Arc<impl AuditKeys>) -> Result<Vec<AuditEnd>, Error> {
        let mut ends = Vec::new();
        for (school, name) in self.schools()? {
            let (keys, clock) = (keys.clone(), self.clock());
            let end = self.transact(move |mut conn| seal_school(&mut conn, school, clock.now(), &*keys))?;
            ends.push(AuditEnd { school, name, end: end.map(|head| (head.seq, head.digest)) });
        }
        Ok(ends)
    }

    /// Whether the log of any school has an end that is not signed.
    ///
    /// # Errors
    /// If the store fails.
    pub fn audit_is_unsealed(&self) -> Result<bool, Error> {
        let month = month_of(self.clock().now());
        self.snapshot(|mut conn| {
            let ends: Vec<(i64, Option<i64>, Option<Instant>)> = db!(conn, c => school::table
                .left_join(audit_seal::table.on(audit_seal::school_id.eq(school::id)
                    .and(audit_seal::segment.eq(HEAD))))
                .select((school::audit_seq, audit_seal::seq.nullable(), audit_seal::at.nullable()))
                .load(c))?;
            Ok(ends
                .into_iter()
                .any(|(seq, sealed, at)| sealed != Some(seq) || at.is_none_or(|at| month_of(at) != month)))
        })
    }
}

fn seal_school(
    conn: &mut Conn<'_>,
    school: SchoolId,
    now: Instant,
    keys: &impl AuditKeys,
) -> Result<Result<AuditHead, Fault>, Error> {
    let head = lock(conn, school)?.ok_or(Error::Missing)?;
    let seals = seals_of(conn, school)?;
    for sealed in &seals {
        let there = if sealed.seq <= head.seq { digest_at(conn, school, sealed.seq)? } else { None };
        if let Err(fault) = sealed.fault(school, there, keys) {
            return Ok(Err(fault));
        }
    }
    if !seals.is_empty() && !seals.iter().any(|sealed| sealed.segment == HEAD) {
        return Ok(Err(Fault::NoHead));
    }
    let last = seals.iter().rfind(|sealed| sealed.segment != HEAD);
    let (mut after, mut month) = last.map_or((0, String::new()), |last| (last.seq, last.segment.clone()));
    while let Some((next, end)) = month_after(conn, school, (after, &month), now)? {
        put(conn, school, &next, end, now, keys)?;
        (after, month) = (end.seq, next);
    }
    put(conn, school, HEAD, head, now, keys)?;
    Ok(Ok(head))
}

/// The signed ends of a school, in the chain's order.
pub(super) fn seals_of(conn: &mut Conn<'_>, school: SchoolId) -> Result<Vec<SealRow>, Error> {
    Ok(db!(*conn, c => audit_seal::table
        .filter(audit_seal::school_id.eq(school))
        .order((audit_seal::seq, audit_seal::segment))
        .select(SealRow::as_select())
        .load(c))?)
}

/// The digest of an entry; of no entry, that of an empty chain.
fn digest_at(conn: &mut Conn<'_>, school: SchoolId, seq: i64) -> Result<Option<Digest>, Error> {
    if seq == 0 {
        return Ok(Some(Digest::default()));
    }
    let found: Option<Vec<u8>> = db!(*conn, c => audit_entry::table
        .find((school, seq))
        .select(audit_entry::digest)
        .first(c)
        .optional())?;
    found.map(|digest| digest_of(&digest)).transpose()
}

/// The month of a moment, in UTC: `2026-11`.
fn month_of(at: Instant) -> String {
    date_in("UTC", at).format(MONTH).to_string()
}

/// The next month to be signed after one that ended with an entry, and its last entry; none while it is not over.
/// What was written by a clock that was put back counts to the month after the signed one.
fn month_after(
    conn: &mut Conn<'_>,
    school: SchoolId,
    (after, signed): (i64, &str),
    now: Instant,
) -> Result<Option<(String, AuditHead)>, Error> {
    let next = |month: &str| format!("{month}-01").parse::<Date>().ok()?.checked_add_months(Months::new(1));
    let first: Option<Instant> = db!(*conn, c => audit_entry::table
        .find((school, after + 1))
        .select(audit_entry::at)
        .first(c)
        .optional())?;
    let Some(first) = first else { return Ok(None) };
    let month =
        next(signed).map_or_else(String::new, |day| day.format(MONTH).to_string()).max(month_of(first));
    let Some(ends) = next(&month).filter(|ends| *ends <= date_in("UTC", now)) else { return Ok(None) };
    let ends = instant_in("UTC", ends, NaiveTime::MIN);
    let (seq, digest): (i64, Vec<u8>) = db!(*conn, c => audit_entry::table
        .filter(audit_entry::school_id.eq(school))
        .filter(audit_entry::seq.gt(after))
        .filter(audit_entry::at.lt(ends))
        .order(audit_entry::seq.desc())
        .select((audit_entry::seq, audit_entry::digest))
        .first(c))?;
    Ok(Some((month, AuditHead::new(seq, &digest)?)))
}

fn put(
    conn: &mut Conn<'_>,
    school: SchoolId,
    segment: &str,
    end: AuditHead,
    at: Instant,
    keys: &impl AuditKeys,
) -> Result<(), Error> {
    let AuditHead { seq, digest } = end;
    let by = keys
        .sign(&seal(school, segment, seq, &digest))
        .ok_or_else(|| Error::Db("the end of the audit log could not be signed".into()))?;
    let row = SealInsert {
        school_id: school,
        segment,
        seq,
        digest: digest.to_vec(),
        key_id: by.key,
        signature: by.signature,
        at,
    };
    db!(*conn, c => diesel::insert_into(audit_seal::table)
        .values(&row)
        .on_conflict((audit_seal::school_id, audit_seal::segment))
        .do_update()
        .set(&row)
        .execute(c))?;
    Ok(())
}
