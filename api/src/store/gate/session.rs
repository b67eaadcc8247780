//! Sign-ins and their refresh tokens.

use diesel::prelude::*;
use plumbline_core::{
    id::{SchoolId, SessionId, StaffId},
    time::Instant,
};

use super::{Refresh, RefreshId, RefreshKey, SecretHash};
use crate::store::{
    Error, Who, audit,
    conn::{Conn, db},
    schema::{refresh_token, session, staff},
    tx::new_id,
};

#[derive(Insertable)]
#[diesel(table_name = refresh_token, treat_none_as_default_value = false)]
struct RefreshInsert {
    school_id: SchoolId,
    session_id: SessionId,
    id: RefreshId,
    secret_hash: Vec<u8>,
    issued_at: Instant,
    parent_id: Option<RefreshId>,
}
pub(super) fn begin_session(
    conn: &mut Conn<'_>,
    school: SchoolId,
    staff: StaffId,
    secret: SecretHash,
    now: Instant,
    expires_at: Instant,
) -> Result<(Who, RefreshKey), Error> {
    let id: SessionId = new_id(now);
    db!(*conn, c => diesel::insert_into(session::table)
        .values((
            session::school_id.eq(school),
            session::id.eq(id),
            session::staff_id.eq(staff),
            session::created_at.eq(now),
            session::expires_at.eq(expires_at),
        ))
        .execute(c))?;
    let key = issue(conn, RefreshKey { school, session: id, token: new_id(now) }, secret, now, None)?;
    audit::note(conn, school, now, "session.create", staff, Some(("session", id.uuid())))?;
    Ok((Who { school, staff, session: id }, key))
}

fn issue(
    conn: &mut Conn<'_>,
    key: RefreshKey,
    secret: SecretHash,
    now: Instant,
    parent_id: Option<RefreshId>,
) -> Result<RefreshKey, Error> {
    let row = RefreshInsert {
        school_id: key.school,
        session_id: key.session,
        id: key.token,
        secret_hash: secret.to_vec(),
        issued_at: now,
        parent_id,
    };
    db!(*conn, c => diesel::insert_into(refresh_token::table).values(&row).execute(c))?;
    Ok(key)
}

/// Secret's hash, member of staff, end and expiry of the sign-in, when the member was disabled.
type Presented = (Vec<u8>, StaffId, Option<Instant>, Instant, Option<Instant>);

pub(super) fn rotate(
    conn: &mut Conn<'_>,
    key: RefreshKey,
    presented: SecretHash,
    next: SecretHash,
    now: Instant,
) -> Result<Refresh, Error> {
    // The school's row serialises refreshes of one sign-in on PostgreSQL too.
    let Some(head) = audit::lock(conn, key.school)? else { return Ok(Refresh::Refused) };
    let found: Option<Presented> = db!(*conn, c => refresh_token::table
        .inner_join(session::table.on(session::school_id.eq(refresh_token::school_id)
            .and(session::id.eq(refresh_token::session_id))))
        .inner_join(staff::table.on(staff::school_id.eq(session::school_id).and(staff::id.eq(session::staff_id))))
        .filter(refresh_token::school_id.eq(key.school))
        .filter(refresh_token::session_id.eq(key.session))
        .filter(refresh_token::id.eq(key.token))
        .select((
            refresh_token::secret_hash,
            session::staff_id,
            session::ended_at,
            session::expires_at,
            staff::disabled_at,
        ))
        .first(c)
        .optional())?;
    let Some((hash, staff, None, expires_at, None)) = found else { return Ok(Refresh::Refused) };
    // Both sides are digests of random secrets: timing tells nothing.
    if hash != presented || expires_at <= now {
        return Ok(Refresh::Refused);
    }
    if successor_was_used(conn, key)? {
        end_session(conn, key.school, key.session, now)?;
        let subject = Some(("session", key.session.uuid()));
        audit::append(conn, key.school, head, now, "session.replayed", staff, subject)?;
        return Ok(Refresh::Replayed);
    }
    db!(*conn, c => diesel::update(refresh_token::table.find((key.school, key.session, key.token)))
        .set(refresh_token::used_at.eq(Some(now)))
        .execute(c))?;
    let renewed = issue(conn, RefreshKey { token: new_id(now), ..key }, next, now, Some(key.token))?;
    Ok(Refresh::Renewed(Who { school: key.school, staff, session: key.session }, renewed))
}

fn successor_was_used(conn: &mut Conn<'_>, key: RefreshKey) -> Result<bool, Error> {
    Ok(db!(*conn, c => diesel::select(diesel::dsl::exists(refresh_token::table
        .filter(refresh_token::school_id.eq(key.school))
        .filter(refresh_token::session_id.eq(key.session))
        .filter(refresh_token::parent_id.eq(key.token))
        .filter(refresh_token::used_at.is_not_null())))
        .get_result(c))?)
}

/// Ends one sign-in.
pub(in crate::store) fn end_session(
    conn: &mut Conn<'_>,
    school: SchoolId,
    id: SessionId,
    now: Instant,
) -> Result<(), Error> {
    db!(*conn, c => diesel::update(session::table.find((school, id)))
        .filter(session::ended_at.is_null())
        .set(session::ended_at.eq(Some(now)))
        .execute(c))?;
    Ok(())
}
