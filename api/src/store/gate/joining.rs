//! Schools and staff coming into being: invitations, accounts, the operator's command.

use diesel::prelude::*;
use plumbline_core::{
    access::Role,
    id::{AccountId, InvitationId, SchoolId, StaffId},
    text::Email,
    time::{Date, Instant},
};

use super::{NewSchool, SecretHash, password};
use crate::{
    clock::date_in,
    store::{
        Error,
        audit::{self, AuditHead},
        change::put_in_school,
        conn::{Conn, db},
        schema::{account, invitation, school, staff, staff_role},
        tx::{new_id, next_version},
    },
};

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

/// Whom an open invitation is for.
pub(super) struct Open {
    pub staff: StaffId,
    pub renews: bool,
}

pub(super) fn open_invitation(
    conn: &mut Conn<'_>,
    school: SchoolId,
    id: InvitationId,
    secret: SecretHash,
    now: Instant,
) -> Result<Open, Error> {
    let (staff, stored, renews): (StaffId, Vec<u8>, bool) = db!(*conn, c => invitation::table
        .find((school, id))
        .filter(invitation::accepted_at.is_null())
        .filter(invitation::withdrawn_at.is_null())
        .filter(invitation::expires_at.gt(now))
        .select((invitation::staff_id, invitation::secret_hash, invitation::renews))
        .first(c))?;
    if stored == secret { Ok(Open { staff, renews }) } else { Err(Error::Missing) }
}

pub(super) fn accept(
    conn: &mut Conn<'_>,
    school: SchoolId,
    id: InvitationId,
    secret: SecretHash,
    new_password_hash: Option<&str>,
    now: Instant,
) -> Result<StaffId, Error> {
    let head = next_version(conn, school)?.ok_or(Error::Missing)?;
    let Open { staff, renews } = open_invitation(conn, school, id, secret, now)?;
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
        (Some(account), Some(hash)) if renews => {
            password::set(conn, account, hash, None, now)?;
            account
        }
        (Some(account), None) if !renews => account,
        (None, Some(hash)) if !renews => {
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
        if renews { "password.renew" } else { "invitation.accept" },
        staff,
        Some(("invitation", id.uuid())),
    )?;
    Ok(staff)
}

pub(super) fn found_school(
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
    put_in_school(conn, school, 1, &[("school", school.uuid()), ("staff_name", admin.uuid())])?;
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
pub(in crate::store) fn insert_staff(
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
pub(in crate::store) fn insert_invitation(
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
