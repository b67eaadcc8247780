//! New passwords of accounts that are there.

use diesel::prelude::*;
use plumbline_core::{
    id::{AccountId, InvitationId, SchoolId, SessionId, StaffId},
    time::Instant,
};

use super::{SecretHash, joining::insert_invitation};
use crate::store::{
    Error, Who, audit,
    conn::{Conn, db},
    schema::{account, invitation, session, staff},
    tx::live,
};

/// Withdraws the open invitations of a member of staff.
pub(in crate::store) fn withdraw(
    conn: &mut Conn<'_>,
    school: SchoolId,
    staff: StaffId,
    now: Instant,
) -> Result<(), Error> {
    db!(*conn, c => diesel::update(invitation::table
        .filter(invitation::school_id.eq(school))
        .filter(invitation::staff_id.eq(staff))
        .filter(invitation::accepted_at.is_null())
        .filter(invitation::withdrawn_at.is_null()))
        .set(invitation::withdrawn_at.eq(Some(now)))
        .execute(c))?;
    Ok(())
}

/// An invitation to give an account a new password, in the place of earlier ones.
pub(in crate::store) fn insert_renewal(
    conn: &mut Conn<'_>,
    (school, of): (SchoolId, StaffId),
    by: Option<StaffId>,
    secret: SecretHash,
    now: Instant,
    expires_at: Instant,
) -> Result<InvitationId, Error> {
    withdraw(conn, school, of, now)?;
    let id = insert_invitation(conn, school, of, by, secret, now, expires_at)?;
    db!(*conn, c => diesel::update(invitation::table.find((school, id)))
        .set(invitation::renews.eq(true))
        .execute(c))?;
    Ok(id)
}

/// The same by the operator's command, in the audit log.
pub(super) fn renewal(
    conn: &mut Conn<'_>,
    (school, of): (SchoolId, StaffId),
    by: Option<StaffId>,
    secret: SecretHash,
    now: Instant,
    expires_at: Instant,
) -> Result<InvitationId, Error> {
    audit::note(conn, school, now, "password.offer", by, Some(("staff", of.uuid())))?;
    insert_renewal(conn, (school, of), by, secret, now, expires_at)
}

/// Gives an account a new password and ends its sign-ins but one; the schools it works in.
pub(super) fn set(
    conn: &mut Conn<'_>,
    of: AccountId,
    hash: &str,
    kept: Option<SessionId>,
    now: Instant,
) -> Result<Vec<SchoolId>, Error> {
    db!(*conn, c => diesel::update(account::table.find(of)).set(account::password_hash.eq(hash)).execute(c))?;
    let places: Vec<(SchoolId, StaffId)> = db!(*conn, c => staff::table
        .filter(staff::account_id.eq(of))
        .order((staff::school_id, staff::id))
        .select((staff::school_id, staff::id))
        .load(c))?;
    for &(school, staff) in &places {
        db!(*conn, c => diesel::update(session::table
            .filter(session::school_id.eq(school))
            .filter(session::staff_id.eq(staff))
            .filter(session::ended_at.is_null())
            .filter(session::id.ne(kept.unwrap_or_else(|| SessionId::from_uuid(uuid::Uuid::nil())))))
            .set(session::ended_at.eq(Some(now)))
            .execute(c))?;
    }
    Ok(places.into_iter().map(|(school, _)| school).collect())
}

/// The account somebody signed in with: its address key and its password hash.
pub(super) fn account_of(conn: &mut Conn<'_>, who: Who) -> Result<(AccountId, String, String), Error> {
    Ok(db!(*conn, c => staff::table
        .inner_join(account::table.on(account::id.nullable().eq(staff::account_id)))
        .filter(staff::school_id.eq(who.school))
        .filter(staff::id.eq(who.staff))
        .select((account::id, account::email_key, account::password_hash))
        .first(c))?)
}

pub(super) fn change(
    conn: &mut Conn<'_>,
    who: Who,
    known: &str,
    new: &str,
    now: Instant,
) -> Result<Vec<SchoolId>, Error> {
    let head = audit::lock(conn, who.school)?.ok_or(Error::SignedOut)?;
    if live(conn, who, now)?.is_some() {
        return Err(Error::TabletRevoked);
    }
    let (of, _, stands) = account_of(conn, who)?;
    if stands != known {
        return Err(Error::Conflict);
    }
    let schools = set(conn, of, new, Some(who.session), now)?;
    let subject = Some(("staff", who.staff.uuid()));
    audit::append(conn, who.school, head, now, "password.change", who.staff, subject)?;
    Ok(schools)
}
