//! The one way into the store without an actor: signing in, the operator's command that makes
//! a school, and the server's work on what somebody was permitted to ask for. Everything else
//! asks the policy.

mod dropping;
mod joining;
mod password;
mod proposing;
mod session;
#[cfg(test)]
pub(super) mod tests;

use diesel::prelude::*;
use plumbline_core::{
    id::{AccountId, Id, InvitationId, SchoolId, SessionId, StaffId},
    text::Email,
    time::Instant,
};

use super::{
    Error, Store, Who,
    conn::db,
    schema::{account, school, staff},
    tx::live,
};
use joining::{Open, accept, found_school, open_invitation};
pub(super) use joining::{insert_invitation, insert_staff};
use password::{account_of, change, renewal};
pub(super) use password::{insert_renewal, withdraw};
pub use proposing::ProposalEnd;
pub(super) use session::end_session;
use session::{begin_session, rotate};

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
    /// Whether the account gets a new password.
    pub renews: bool,
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
        let done = self.transact(move |mut conn| rotate(&mut conn, key, presented, next, clock.now()))?;
        // It may have ended the sign-in.
        self.inner.heads.stirred(key.school);
        Ok(done)
    }

    /// The open invitation with this id and secret.
    ///
    /// # Errors
    /// [`Error::Missing`] for an unknown, withdrawn, accepted or expired one alike.
    pub fn invited(&self, school: SchoolId, id: InvitationId, secret: SecretHash) -> Result<Invited, Error> {
        let now = self.clock().now();
        self.snapshot(|mut conn| {
            let Open { staff, renews } = open_invitation(&mut conn, school, id, secret, now)?;
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
            Ok(Invited { school_name, name, email, email_key: key, account, renews })
        })
    }

    /// Accepts an invitation: with the account that has the address, or a new one with
    /// this password hash. One that renews gives the hash to the account that is there, and ends all its sign-ins.
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
        let staff = self.transact(move |mut conn| {
            accept(&mut conn, school, id, secret, new_password_hash.as_deref(), clock.now())
        })?;
        // It may have ended sign-ins.
        self.inner.heads.stirred(school);
        Ok(staff)
    }

    /// Invites somebody who has an account to give it a new password; a school it works in, which has the invitation.
    /// The operator's command.
    ///
    /// # Errors
    /// [`Error::Missing`] without such an account, or where it works in no school.
    pub fn renew(
        &self,
        email_key: &str,
        secret: SecretHash,
        expires_at: Instant,
    ) -> Result<(Workplace, InvitationId), Error> {
        let place = self.candidate(email_key)?.and_then(|found| found.places.into_iter().next());
        let (place, clock) = (place.ok_or(Error::Missing)?, self.clock());
        let (school, staff) = (place.school, place.staff);
        let id = self.transact(move |mut conn| {
            renewal(&mut conn, (school, staff), None, secret, clock.now(), expires_at)
        })?;
        Ok((place, id))
    }

    /// The account somebody signed in with: its address key and its password hash.
    ///
    /// # Errors
    /// [`Error::SignedOut`] if the sign-in has ended.
    pub fn own_account(&self, who: Who) -> Result<(String, String), Error> {
        let now = self.clock().now();
        self.snapshot(|mut conn| {
            live(&mut conn, who, now)?;
            let (_, email_key, hash) = account_of(&mut conn, who)?;
            Ok((email_key, hash))
        })
    }

    /// Gives an account a new password by who is signed in with it and knew the one it has; ends all its other
    /// sign-ins.
    ///
    /// # Errors
    /// [`Error::Conflict`] if it was changed meanwhile, [`Error::SignedOut`] if the sign-in has ended.
    pub fn change_password(&self, who: Who, known: String, new: String) -> Result<(), Error> {
        let clock = self.clock();
        let schools = self.transact(move |mut conn| change(&mut conn, who, &known, &new, clock.now()))?;
        schools.into_iter().for_each(|school| self.inner.heads.stirred(school));
        Ok(())
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
