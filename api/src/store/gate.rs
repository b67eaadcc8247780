//! The one way into the store without an actor: signing in, and the operator's command
//! that makes a school. Everything else asks the policy.

use diesel::prelude::*;
use plumbline_core::{
    access::Role,
    id::{AccountId, Id, InvitationId, SchoolId, SessionId, StaffId},
    text::Email,
    time::{Date, Instant},
};

use super::{
    Error, Store, Who,
    audit::{self, AuditHead},
    conn::{Conn, db},
    schema::{account, invitation, refresh_token, school, session, staff, staff_role},
    tx::{new_id, next_version},
};
use crate::clock::date_in;

/// A secret as stored: its SHA-256.
pub type SecretHash = [u8; 32];

/// An account and where it works.
#[derive(Clone, Debug)]
pub struct Candidate {
    /// The account.
    pub account: AccountId,
    /// Argon2id, in PHC form.
    pub password_hash: String,
    /// Schools where it is not disabled.
    pub places: Vec<Workplace>,
}

/// A school an account works in.
#[derive(Clone, Debug, Queryable)]
pub struct Workplace {
    /// The school.
    pub school: SchoolId,
    /// Its name.
    pub school_name: String,
    /// The member of staff.
    pub staff: StaffId,
}

/// Kind of the ids of refresh tokens, which no other module names.
pub enum RefreshKind {}
/// A refresh token's id.
pub type RefreshId = Id<RefreshKind>;

/// What a refresh token names.
#[derive(Clone, Copy, Debug)]
pub struct RefreshKey {
    /// The school.
    pub school: SchoolId,
    /// The sign-in.
    pub session: SessionId,
    /// The token.
    pub token: RefreshId,
}

/// What came of presenting a refresh token.
#[derive(Debug)]
pub enum Refresh {
    /// A new token under the same sign-in.
    Renewed(Who, RefreshKey),
    /// Unknown, ended or expired.
    Refused,
    /// A token whose successor was already used came back: the sign-in was ended.
    Replayed,
}

/// An open invitation.
#[derive(Clone, Debug)]
pub struct Invited {
    /// The school's name.
    pub school_name: String,
    /// The invited person's name.
    pub name: String,
    /// The invited address.
    pub email: String,
    /// What makes its spellings one account.
    pub email_key: String,
    /// The account that has this address already, with its password hash.
    pub account: Option<(AccountId, String)>,
}

/// The first school of a store, or a further one.
#[derive(Clone, Debug)]
pub struct NewSchool {
    /// Its name.
    pub name: String,
    /// A rule pack's id.
    pub rule_pack: String,
    /// A time zone of the tz database.
    pub time_zone: String,
    /// The first administrator's name.
    pub admin_name: String,
    /// The first administrator's address.
    pub admin_email: Email,
    /// Hash of the invitation's secret.
    pub secret_hash: SecretHash,
    /// When the invitation ends.
    pub expires_at: Instant,
}

#[derive(Insertable)]
#[diesel(table_name = school, treat_none_as_default_value = false)]
struct SchoolInsert<'a> {
    id: SchoolId,
    name: &'a str,
    rule_pack: &'a str,
    time_zone: &'a str,
    epoch: SchoolId,
    version: i64,
    floor: i64,
    audit_seq: i64,
    audit_head: Vec<u8>,
    v: i64,
    created_at: Instant,
}

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

impl Store {
    /// The account with this address key.
    ///
    /// # Errors
    /// If the store fails.
    pub fn candidate(&self, email_key: &str) -> Result<Option<Candidate>, Error> {
        self.snapshot(|mut conn| {
            let found: Option<(AccountId, String)> = db!(conn, c => account::table
                .filter(account::email_key.eq(email_key))
                .select((account::id, account::password_hash))
                .first(c)
                .optional())?;
            let Some((account, password_hash)) = found else { return Ok(None) };
            let places = db!(conn, c => staff::table
                .inner_join(school::table.on(school::id.eq(staff::school_id)))
                .filter(staff::account_id.eq(account))
                .filter(staff::disabled_at.is_null())
                .order(school::name)
                .select((school::id, school::name, staff::id))
                .load(c))?;
            Ok(Some(Candidate { account, password_hash, places }))
        })
    }

    /// Replaces a password hash, when parameters have risen since it was made.
    ///
    /// # Errors
    /// If the store fails.
    pub fn rehash(&self, account: AccountId, password_hash: String) -> Result<(), Error> {
        self.transact(move |mut conn| {
            db!(conn, c => diesel::update(account::table.find(account))
                .set(account::password_hash.eq(&password_hash))
                .execute(c))?;
            Ok(())
        })
    }

    /// Starts a sign-in and issues its first refresh token.
    ///
    /// # Errors
    /// If the store fails.
    pub fn start_session(
        &self,
        school: SchoolId,
        staff: StaffId,
        secret: SecretHash,
        expires_at: Instant,
    ) -> Result<(Who, RefreshKey), Error> {
        let clock = self.clock();
        self.transact(move |mut conn| {
            let now = clock.now();
            begin_session(&mut conn, school, staff, secret, now, expires_at)
        })
    }

    /// Trades a refresh token for a new one. A used token is honoured only while none of
    /// the tokens it was traded for has been used, so that two tabs racing keep the
    /// sign-in, and a stolen token that comes back late ends it.
    ///
    /// # Errors
    /// If the store fails.
    pub fn refresh(
        &self,
        key: RefreshKey,
        presented: SecretHash,
        next: SecretHash,
    ) -> Result<Refresh, Error> {
        let clock = self.clock();
        self.transact(move |mut conn| rotate(&mut conn, key, presented, next, clock.now()))
    }

    /// The open invitation with this id and secret.
    ///
    /// # Errors
    /// [`Error::Missing`] for an unknown, withdrawn, accepted or expired one alike.
    pub fn invited(&self, school: SchoolId, id: InvitationId, secret: SecretHash) -> Result<Invited, Error> {
        let now = self.clock().now();
        self.snapshot(|mut conn| {
            let staff = open_invitation(&mut conn, school, id, secret, now)?;
            let (school_name, name, email, key): (String, String, String, String) = db!(conn, c => staff::table
                .inner_join(school::table.on(school::id.eq(staff::school_id)))
                .filter(staff::school_id.eq(school))
                .filter(staff::id.eq(staff))
                .select((school::name, staff::name, staff::email, staff::email_key))
                .first(c))?;
            let account = db!(conn, c => account::table
                .filter(account::email_key.eq(&key))
                .select((account::id, account::password_hash))
                .first(c)
                .optional())?;
            Ok(Invited { school_name, name, email, email_key: key, account })
        })
    }

    /// Accepts an invitation: with the account that has the address, or a new one with
    /// this password hash.
    ///
    /// # Errors
    /// [`Error::Missing`] if it is not open any more, [`Error::Conflict`] if the address
    /// got an account meanwhile.
    pub fn accept_invitation(
        &self,
        school: SchoolId,
        id: InvitationId,
        secret: SecretHash,
        new_password_hash: Option<String>,
    ) -> Result<StaffId, Error> {
        let clock = self.clock();
        self.transact(move |mut conn| {
            accept(&mut conn, school, id, secret, new_password_hash.as_deref(), clock.now())
        })
    }

    /// Makes a school with its first administrator's invitation. The operator's command,
    /// not the API's.
    ///
    /// # Errors
    /// If the store fails.
    pub fn create_school(&self, new: NewSchool) -> Result<(SchoolId, InvitationId), Error> {
        let clock = self.clock();
        self.transact(move |mut conn| found_school(&mut conn, &new, clock.now()))
    }

    /// The schools in this store, by name.
    ///
    /// # Errors
    /// If the store fails.
    pub fn schools(&self) -> Result<Vec<(SchoolId, String)>, Error> {
        self.snapshot(|mut conn| {
            Ok(db!(conn, c => school::table.order(school::name).select((school::id, school::name)).load(c))?)
        })
    }
}

fn begin_session(
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

fn rotate(
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
pub(super) fn end_session(
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

fn open_invitation(
    conn: &mut Conn<'_>,
    school: SchoolId,
    id: InvitationId,
    secret: SecretHash,
    now: Instant,
) -> Result<StaffId, Error> {
    let found: (StaffId, Vec<u8>) = db!(*conn, c => invitation::table
        .find((school, id))
        .filter(invitation::accepted_at.is_null())
        .filter(invitation::withdrawn_at.is_null())
        .filter(invitation::expires_at.gt(now))
        .select((invitation::staff_id, invitation::secret_hash))
        .first(c))?;
    if found.1 == secret { Ok(found.0) } else { Err(Error::Missing) }
}

fn accept(
    conn: &mut Conn<'_>,
    school: SchoolId,
    id: InvitationId,
    secret: SecretHash,
    new_password_hash: Option<&str>,
    now: Instant,
) -> Result<StaffId, Error> {
    let head = next_version(conn, school)?.ok_or(Error::Missing)?;
    let staff = open_invitation(conn, school, id, secret, now)?;
    let (email, email_key): (String, String) = db!(*conn, c => staff::table
        .find((school, staff))
        .select((staff::email, staff::email_key))
        .first(c))?;
    let existing: Option<AccountId> = db!(*conn, c => account::table
        .filter(account::email_key.eq(&email_key))
        .select(account::id)
        .first(c)
        .optional())?;
    let account = match (existing, new_password_hash) {
        (Some(account), None) => account,
        (None, Some(hash)) => {
            let account: AccountId = new_id(now);
            db!(*conn, c => diesel::insert_into(account::table)
                .values((
                    account::id.eq(account),
                    account::email.eq(&email),
                    account::email_key.eq(&email_key),
                    account::password_hash.eq(hash),
                    account::created_at.eq(now),
                ))
                .execute(c))?;
            account
        }
        _ => return Err(Error::Conflict),
    };
    db!(*conn, c => diesel::update(staff::table.find((school, staff)))
        .set((staff::account_id.eq(Some(account)), staff::v.eq(head.version)))
        .execute(c))?;
    db!(*conn, c => diesel::update(invitation::table.find((school, id)))
        .set(invitation::accepted_at.eq(Some(now)))
        .execute(c))?;
    let audit_head = AuditHead::new(head.audit_seq, &head.audit_head)?;
    audit::append(
        conn,
        school,
        audit_head,
        now,
        "invitation.accept",
        staff,
        Some(("invitation", id.uuid())),
    )?;
    Ok(staff)
}

fn found_school(
    conn: &mut Conn<'_>,
    new: &NewSchool,
    now: Instant,
) -> Result<(SchoolId, InvitationId), Error> {
    let school: SchoolId = new_id(now);
    let row = SchoolInsert {
        id: school,
        name: &new.name,
        rule_pack: &new.rule_pack,
        time_zone: &new.time_zone,
        epoch: new_id(now),
        version: 1,
        floor: 0,
        audit_seq: 0,
        audit_head: vec![0; 32],
        v: 1,
        created_at: now,
    };
    db!(*conn, c => diesel::insert_into(school::table).values(&row).execute(c))?;
    let admin: StaffId = new_id(now);
    let today: Date = date_in(&new.time_zone, now);
    insert_staff(conn, school, admin, &new.admin_name, &new.admin_email, 1, now)?;
    db!(*conn, c => diesel::insert_into(staff_role::table)
        .values((
            staff_role::school_id.eq(school),
            staff_role::staff_id.eq(admin),
            staff_role::role.eq(Role::Administrator),
            staff_role::from_on.eq(today),
        ))
        .execute(c))?;
    let id = insert_invitation(conn, school, admin, None, new.secret_hash, now, new.expires_at)?;
    let head = AuditHead::new(0, &[0; 32])?;
    audit::append(conn, school, head, now, "school.create", admin, Some(("school", school.uuid())))?;
    Ok((school, id))
}

/// Adds a member of staff without an account.
pub(super) fn insert_staff(
    conn: &mut Conn<'_>,
    school: SchoolId,
    id: StaffId,
    name: &str,
    email: &Email,
    v: i64,
    now: Instant,
) -> Result<(), Error> {
    db!(*conn, c => diesel::insert_into(staff::table)
        .values((
            staff::school_id.eq(school),
            staff::id.eq(id),
            staff::name.eq(name),
            staff::email.eq(email.as_str()),
            staff::email_key.eq(email.key()),
            staff::v.eq(v),
            staff::created_at.eq(now),
        ))
        .execute(c))?;
    Ok(())
}

/// Adds an invitation for a member of staff.
pub(super) fn insert_invitation(
    conn: &mut Conn<'_>,
    school: SchoolId,
    staff: StaffId,
    by: Option<StaffId>,
    secret: SecretHash,
    now: Instant,
    expires_at: Instant,
) -> Result<InvitationId, Error> {
    let id: InvitationId = new_id(now);
    db!(*conn, c => diesel::insert_into(invitation::table)
        .values((
            invitation::school_id.eq(school),
            invitation::id.eq(id),
            invitation::staff_id.eq(staff),
            invitation::secret_hash.eq(secret.to_vec()),
            invitation::created_by.eq(by),
            invitation::created_at.eq(now),
            invitation::expires_at.eq(expires_at),
        ))
        .execute(c))?;
    Ok(id)
}
