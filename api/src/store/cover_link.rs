//! Links that open a group's cover page on one day without an account.

use diesel::prelude::*;
use plumbline_core::{
    access::{
        Actor,
        act::{Manage, Read},
        resource::{CoverLinks, Group},
    },
    id::{CoverLinkId, GroupId, SchoolId, StaffId},
    lesson::AdultOfDay,
    time::{Date, Instant, Span},
};
use serde_json::json;

use super::{
    Error, Permit, Tx,
    conn::{Conn, db},
    gate::SecretHash,
    schema::{cover_link, staff},
    tx::roles_on,
};

/// What a link says it is: its secret is right only if its hash is the one kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LinkKey {
    /// The school.
    pub school: SchoolId,
    /// The link.
    pub id: CoverLinkId,
    /// The hash of the secret it came with.
    pub secret: SecretHash,
}

/// A link, without its secret.
#[derive(Clone, Debug, Queryable)]
pub struct CoverLinkRow {
    /// Its id.
    pub id: CoverLinkId,
    /// The day of the page.
    pub on: Date,
    /// Who made it.
    pub created_by: StaffId,
    /// That adult's name.
    pub created_by_name: String,
    /// From when on it opens the page.
    pub valid_from: Instant,
    /// Until when.
    pub valid_until: Instant,
}

/// What an open link leads to.
#[derive(Clone, Copy, Debug)]
pub struct Opened {
    /// The link.
    pub link: CoverLinkId,
    /// The group.
    pub group: GroupId,
    /// The day of the page.
    pub on: Date,
}

/// The maker of a link as an actor, with what the link leads to.
///
/// # Errors
/// [`Error::Missing`] for an unknown link, and one that comes without its secret; [`Error::SignedOut`] for one
/// with it that does not hold: not begun, over, revoked, or made by somebody who cannot sign in any more.
pub(super) fn maker(
    conn: &mut Conn<'_>,
    key: LinkKey,
    now: Instant,
    today: Date,
) -> Result<(Actor, Opened), Error> {
    let found: (GroupId, Date, Vec<u8>, StaffId, bool) = db!(*conn, c => cover_link::table
        .find((key.school, key.id))
        .inner_join(staff::table.on(staff::school_id.eq(cover_link::school_id).and(staff::id.eq(cover_link::created_by))))
        .select((
            cover_link::group_id,
            cover_link::on_date,
            cover_link::secret_hash,
            cover_link::created_by,
            cover_link::revoked_at.is_null()
                .and(cover_link::valid_from.le(now))
                .and(cover_link::valid_until.gt(now))
                .and(staff::disabled_at.is_null()),
        ))
        .first(c))?;
    let (group, on, hash, staff, holds) = found;
    // Both sides are digests of random secrets: timing tells nothing.
    if hash != key.secret {
        return Err(Error::Missing);
    }
    if !holds {
        return Err(Error::SignedOut);
    }
    let roles = roles_on(conn, key.school, staff, today)?.into_iter().collect();
    let actor = Actor { school: key.school, staff, session: None, roles };
    Ok((actor, Opened { link: key.id, group, on }))
}

impl<'tx> Tx<'tx> {
    /// What the link leads to that this reader holds; none for somebody signed in.
    pub const fn opened(&self) -> Option<Opened> {
        self.opened
    }

    /// The adults a group has on a day, each with the roles held that day.
    ///
    /// # Errors
    /// If the store fails.
    pub fn adults_of_day(
        &mut self,
        permit: &Permit<'tx, Read, Group>,
        on: Date,
    ) -> Result<Vec<AdultOfDay>, Error> {
        let (school, all) = (self.school(), self.group_adults(permit)?);
        let of_day = all.into_iter().filter(|one| Span { from: one.from, until: one.until }.holds(on));
        of_day
            .map(|one| {
                let roles = roles_on(&mut self.conn, school, one.staff_id, on)?;
                Ok(AdultOfDay { staff: one.staff_id, name: one.name, roles })
            })
            .collect()
    }

    /// Says in the audit log what a reading of a cover page was about: the group, or the link that
    /// opened its page.
    pub fn note_cover_page(&mut self, permit: &Permit<'tx, Read, Group>) {
        match self.opened {
            Some(opened) => self.about("cover_link", opened.link.uuid()),
            None => self.about("group", permit.resource().0.uuid()),
        }
    }

    /// Adds a link.
    ///
    /// # Errors
    /// If the store fails.
    pub fn add_cover_link(
        &mut self,
        permit: &Permit<'tx, Manage, CoverLinks>,
        on: Date,
        secret: SecretHash,
        (valid_from, valid_until): (Instant, Instant),
    ) -> Result<CoverLinkId, Error> {
        let (school, group, id): (_, _, CoverLinkId) = (self.school(), permit.resource().0, self.new_id());
        let (created_by, now) = (self.actor.staff, self.now());
        db!(self.conn, c => diesel::insert_into(cover_link::table)
            .values((
                cover_link::school_id.eq(school),
                cover_link::id.eq(id),
                cover_link::group_id.eq(group),
                cover_link::on_date.eq(on),
                cover_link::secret_hash.eq(secret.to_vec()),
                cover_link::created_by.eq(created_by),
                cover_link::created_at.eq(now),
                cover_link::valid_from.eq(valid_from),
                cover_link::valid_until.eq(valid_until),
            ))
            .execute(c))?;
        self.save("cover_link", id.uuid(), &[], &json!({"group_id": group, "on": on}))?;
        Ok(id)
    }

    /// A group's links that open its page now or on a day to come, the next first.
    ///
    /// # Errors
    /// If the store fails.
    pub fn cover_links<A>(
        &mut self,
        permit: &Permit<'tx, A, CoverLinks>,
    ) -> Result<Vec<CoverLinkRow>, Error> {
        let (school, group, now) = (self.school(), permit.resource().0, self.now());
        Ok(db!(self.conn, c => cover_link::table
            .inner_join(staff::table.on(staff::school_id.eq(cover_link::school_id).and(staff::id.eq(cover_link::created_by))))
            .filter(cover_link::school_id.eq(school))
            .filter(cover_link::group_id.eq(group))
            .filter(cover_link::revoked_at.is_null())
            .filter(cover_link::valid_until.gt(now))
            .order((cover_link::on_date, cover_link::id))
            .select((
                cover_link::id,
                cover_link::on_date,
                cover_link::created_by,
                staff::name,
                cover_link::valid_from,
                cover_link::valid_until,
            ))
            .load(c))?)
    }

    /// Ends a link of the group at once. One that is over stays as it is.
    ///
    /// # Errors
    /// [`Error::Missing`] if the group has no such link that is open.
    pub fn revoke_cover_link(
        &mut self,
        permit: &Permit<'tx, Manage, CoverLinks>,
        id: CoverLinkId,
    ) -> Result<(), Error> {
        let (school, group, now) = (self.school(), permit.resource().0, self.now());
        let ended = db!(self.conn, c => diesel::update(cover_link::table
            .find((school, id))
            .filter(cover_link::group_id.eq(group))
            .filter(cover_link::valid_until.gt(now))
            .filter(cover_link::revoked_at.is_null()))
            .set(cover_link::revoked_at.eq(Some(now)))
            .execute(c))?;
        if ended == 0 {
            return Err(Error::Missing);
        }
        self.save_gone("cover_link", id.uuid(), &[])
    }
}
