//! Staff, their roles, invitations and sign-ins.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use plumbline_core::{
    access::{
        Role,
        act::{Manage, Read},
        resource::{OwnSessions, Passwords, StaffList},
    },
    id::{AccountId, InvitationId, StaffId},
    text::Email,
    time::{Date, Instant, Span},
};
use serde_json::json;

use super::{
    Error, Permit, Tx,
    change::{ChangeKind, Scope},
    conn::db,
    gate::{SecretHash, end_session, insert_invitation, insert_renewal, insert_staff, withdraw},
    schema::{session, staff, staff_role},
};

/// A member of staff.
#[derive(Clone, Debug, Queryable, Selectable)]
#[diesel(table_name = staff)]
pub struct StaffRow {
    /// The member of staff.
    pub id: StaffId,
    /// The account, once an invitation was accepted.
    pub account_id: Option<AccountId>,
    /// Name.
    pub name: String,
    /// Address as typed.
    pub email: String,
    /// Version of this row.
    pub v: i64,
    /// Since when signing in is off.
    pub disabled_at: Option<Instant>,
}

/// A role with its days.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Queryable)]
pub struct RoleSpan {
    /// The role.
    pub role: Role,
    /// First day.
    pub from: Date,
    /// Last day, or none while it goes on.
    pub until: Option<Date>,
}

/// A member of staff with roles.
#[derive(Clone, Debug)]
pub struct StaffView {
    /// The row.
    pub row: StaffRow,
    /// All roles, past and coming ones too.
    pub roles: Vec<RoleSpan>,
}

impl<'tx> Tx<'tx> {
    /// Oneself.
    ///
    /// # Errors
    /// If the store fails.
    pub fn me(&mut self, _permit: &Permit<'tx, Read, OwnSessions>) -> Result<StaffView, Error> {
        let id = self.actor.staff;
        self.staff_view(id)
    }

    fn staff_view(&mut self, id: StaffId) -> Result<StaffView, Error> {
        let school = self.school();
        let row =
            db!(self.conn, c => staff::table.find((school, id)).select(StaffRow::as_select()).first(c))?;
        let roles = db!(self.conn, c => staff_role::table
            .filter(staff_role::school_id.eq(school))
            .filter(staff_role::staff_id.eq(id))
            .order((staff_role::from_on, staff_role::role))
            .select((staff_role::role, staff_role::from_on, staff_role::until_on))
            .load(c))?;
        Ok(StaffView { row, roles })
    }

    /// All staff by name.
    ///
    /// # Errors
    /// If the store fails.
    pub fn staff_list(&mut self, _permit: &Permit<'tx, Read, StaffList>) -> Result<Vec<StaffView>, Error> {
        let school = self.school();
        let rows: Vec<StaffRow> = db!(self.conn, c => staff::table
            .filter(staff::school_id.eq(school))
            .order((staff::name, staff::id))
            .select(StaffRow::as_select())
            .load(c))?;
        let spans: Vec<(StaffId, Role, Date, Option<Date>)> = db!(self.conn, c => staff_role::table
            .filter(staff_role::school_id.eq(school))
            .order((staff_role::from_on, staff_role::role))
            .select((staff_role::staff_id, staff_role::role, staff_role::from_on, staff_role::until_on))
            .load(c))?;
        let mut roles: BTreeMap<StaffId, Vec<RoleSpan>> = BTreeMap::new();
        for (id, role, from, until) in spans {
            roles.entry(id).or_default().push(RoleSpan { role, from, until });
        }
        Ok(rows
            .into_iter()
            .map(|row| StaffView { roles: roles.remove(&row.id).unwrap_or_default(), row })
            .collect())
    }

    /// One member of staff.
    ///
    /// # Errors
    /// [`Error::Missing`] if the school has no such member.
    pub fn staff_member(
        &mut self,
        _permit: &Permit<'tx, Read, StaffList>,
        id: StaffId,
    ) -> Result<StaffView, Error> {
        self.staff_view(id)
    }

    /// The roles that some adults of this school hold on any of some days; none of them where somebody holds no role.
    /// Who is not of its staff has no line.
    ///
    /// # Errors
    /// If the store fails.
    pub fn roles_of<A, R>(
        &mut self,
        _permit: &Permit<'tx, A, R>,
        adults: &[StaffId],
        days: Span,
    ) -> Result<BTreeMap<StaffId, BTreeSet<Role>>, Error> {
        self.roles_within(adults, days)
    }

    pub(super) fn roles_within(
        &mut self,
        adults: &[StaffId],
        days: Span,
    ) -> Result<BTreeMap<StaffId, BTreeSet<Role>>, Error> {
        let school = self.school();
        let known: Vec<StaffId> = db!(self.conn, c => staff::table
            .filter(staff::school_id.eq(school))
            .filter(staff::id.eq_any(adults))
            .select(staff::id)
            .load(c))?;
        let held: Vec<(StaffId, Role, Date, Option<Date>)> = db!(self.conn, c => staff_role::table
            .filter(staff_role::school_id.eq(school))
            .filter(staff_role::staff_id.eq_any(adults))
            .select((staff_role::staff_id, staff_role::role, staff_role::from_on, staff_role::until_on))
            .load(c))?;
        let mut roles: BTreeMap<StaffId, BTreeSet<Role>> =
            known.into_iter().map(|id| (id, BTreeSet::new())).collect();
        for (id, role, from, until) in held {
            if let Some(of) = roles.get_mut(&id).filter(|_| Span { from, until }.meets(&days)) {
                of.insert(role);
            }
        }
        Ok(roles)
    }

    /// Invites someone: adds the member of staff, or renews the invitation of one who has
    /// not accepted yet.
    ///
    /// # Errors
    /// [`Error::Conflict`] if the address belongs to a member who has accepted.
    pub fn invite(
        &mut self,
        permit: &Permit<'tx, Manage, StaffList>,
        name: &str,
        email: &Email,
        roles: &[RoleSpan],
        secret: SecretHash,
        expires_at: Instant,
    ) -> Result<(StaffView, InvitationId), Error> {
        let (school, now) = (self.school(), self.now());
        let known: Option<(StaffId, Option<AccountId>)> = db!(self.conn, c => staff::table
            .filter(staff::school_id.eq(school))
            .filter(staff::email_key.eq(email.key()))
            .select((staff::id, staff::account_id))
            .first(c)
            .optional())?;
        let id = match known {
            Some((_, Some(_))) => return Err(Error::Conflict),
            Some((id, None)) => {
                withdraw(&mut self.conn, school, id, now)?;
                db!(self.conn, c => diesel::update(staff::table.find((school, id)))
                    .set((staff::name.eq(name), staff::email.eq(email.as_str())))
                    .execute(c))?;
                id
            }
            None => {
                let id = self.new_id();
                insert_staff(&mut self.conn, school, id, name, email, self.version, now)?;
                id
            }
        };
        let by = Some(self.actor.staff);
        let invitation = insert_invitation(&mut self.conn, school, id, by, secret, now, expires_at)?;
        let view = self.set_roles(permit, id, roles)?;
        Ok((view, invitation))
    }

    /// Invites a colleague to choose a new password, in the place of earlier invitations to.
    ///
    /// # Errors
    /// [`Error::Missing`] if the school has no such member.
    pub fn offer_password(
        &mut self,
        _permit: &Permit<'tx, Manage, Passwords>,
        id: StaffId,
        secret: SecretHash,
        expires_at: Instant,
    ) -> Result<InvitationId, Error> {
        let (school, now, by) = (self.school(), self.now(), Some(self.actor.staff));
        self.about("staff", id.uuid());
        insert_renewal(&mut self.conn, (school, id), by, secret, now, expires_at)
    }

    /// A member of staff, for whoever may make the password anew, and how many schools the account works in.
    ///
    /// # Errors
    /// [`Error::Missing`] if the school has no such member.
    pub fn whose_password(
        &mut self,
        _permit: &Permit<'tx, Manage, Passwords>,
        id: StaffId,
    ) -> Result<(StaffView, i64), Error> {
        let view = self.staff_view(id)?;
        let account = view.row.account_id;
        let places =
            db!(self.conn, c => staff::table.filter(staff::account_id.eq(account)).count().get_result(c))?;
        Ok((view, places))
    }

    /// Replaces a member's roles. Takes effect with the commit.
    ///
    /// # Errors
    /// [`Error::Missing`] if the school has no such member.
    pub fn set_roles(
        &mut self,
        _permit: &Permit<'tx, Manage, StaffList>,
        id: StaffId,
        roles: &[RoleSpan],
    ) -> Result<StaffView, Error> {
        let school = self.school();
        db!(self.conn, c => diesel::delete(staff_role::table
            .filter(staff_role::school_id.eq(school))
            .filter(staff_role::staff_id.eq(id)))
            .execute(c))?;
        for span in roles {
            db!(self.conn, c => diesel::insert_into(staff_role::table)
                .values((
                    staff_role::school_id.eq(school),
                    staff_role::staff_id.eq(id),
                    staff_role::role.eq(span.role),
                    staff_role::from_on.eq(span.from),
                    staff_role::until_on.eq(span.until),
                ))
                .execute(c))?;
        }
        self.touch_staff(id)
    }

    /// Changes a member's name, or whether signing in is on. Turning it off ends every sign-in.
    ///
    /// # Errors
    /// [`Error::Missing`] if the school has no such member.
    pub fn update_staff(
        &mut self,
        _permit: &Permit<'tx, Manage, StaffList>,
        id: StaffId,
        name: Option<&str>,
        disabled: Option<bool>,
    ) -> Result<StaffView, Error> {
        let (school, now) = (self.school(), self.now());
        if let Some(name) = name {
            db!(self.conn, c => diesel::update(staff::table.find((school, id))).set(staff::name.eq(name)).execute(c))?;
        }
        if let Some(disabled) = disabled {
            db!(self.conn, c => diesel::update(staff::table.find((school, id)))
                .set(staff::disabled_at.eq(disabled.then_some(now)))
                .execute(c))?;
        }
        if disabled == Some(true) {
            self.end_sessions_of(id)?;
        }
        self.touch_staff(id)
    }

    fn touch_staff(&mut self, id: StaffId) -> Result<StaffView, Error> {
        let (school, version) = (self.school(), self.version);
        let touched = db!(self.conn, c => diesel::update(staff::table.find((school, id)))
            .set(staff::v.eq(version))
            .execute(c))?;
        if touched == 0 {
            return Err(Error::Missing);
        }
        let view = self.staff_view(id)?;
        let roles: Vec<_> = view
            .roles
            .iter()
            .map(|span| json!({"role": span.role, "from": span.from, "until": span.until}))
            .collect();
        let body = json!({"name": view.row.name, "disabled": view.row.disabled_at.is_some(), "roles": roles});
        self.save("staff", id.uuid(), &[], &body)?;
        self.log("staff_name", id.uuid(), &[Scope::School], ChangeKind::Put)?;
        Ok(view)
    }

    /// Whether someone who can sign in is administrator today and without an end.
    ///
    /// # Errors
    /// If the store fails.
    pub fn has_lasting_administrator(
        &mut self,
        _permit: &Permit<'tx, Manage, StaffList>,
    ) -> Result<bool, Error> {
        let (school, today) = (self.school(), self.today());
        Ok(db!(self.conn, c => diesel::select(diesel::dsl::exists(staff_role::table
            .inner_join(staff::table.on(staff::school_id.eq(staff_role::school_id).and(staff::id.eq(staff_role::staff_id))))
            .filter(staff_role::school_id.eq(school))
            .filter(staff_role::role.eq(Role::Administrator))
            .filter(staff_role::from_on.le(today))
            .filter(staff_role::until_on.is_null())
            .filter(staff::account_id.is_not_null())
            .filter(staff::disabled_at.is_null())))
            .get_result(c))?)
    }

    /// Ends this sign-in.
    ///
    /// # Errors
    /// If the store fails.
    pub fn sign_out(&mut self, permit: &Permit<'tx, Manage, OwnSessions>) -> Result<(), Error> {
        let Some(id) = permit.resource().0 else { return Ok(()) };
        self.about("session", id.uuid());
        let (school, now) = (self.school(), self.now());
        end_session(&mut self.conn, school, id, now)
    }

    /// Ends all of one's sign-ins.
    ///
    /// # Errors
    /// If the store fails.
    pub fn sign_out_everywhere(&mut self, _permit: &Permit<'tx, Manage, OwnSessions>) -> Result<(), Error> {
        let id = self.actor.staff;
        self.about("staff", id.uuid());
        self.end_sessions_of(id)
    }

    fn end_sessions_of(&mut self, id: StaffId) -> Result<(), Error> {
        let (school, now) = (self.school(), self.now());
        db!(self.conn, c => diesel::update(session::table
            .filter(session::school_id.eq(school))
            .filter(session::staff_id.eq(id))
            .filter(session::ended_at.is_null()))
            .set(session::ended_at.eq(Some(now)))
            .execute(c))?;
        Ok(())
    }
}
