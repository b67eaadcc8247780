//! A transaction: one actor, one snapshot, one version.

use std::marker::PhantomData;

use chrono::Days;
use diesel::prelude::*;
use plumbline_core::{
    access::{Actor, Role},
    id::{Id, SchoolId, SessionId, StaffId},
    rules::RulePack,
    time::{Date, Instant},
};
use uuid::{NoContext, Timestamp, Uuid};

use super::{
    Error,
    audit::{self, AuditHead},
    conn::{Conn, db, held_on},
    cover_link::{self, LinkKey, Opened},
    permit::Brand,
    schema::{school, session, staff, staff_role, tablet},
    versions::Versions,
};
use crate::clock::{Clock, date_in};

/// Who asks: what an access token vouches for. Roles are not in it; they are read in the
/// transaction, so a change of role counts at once.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Who {
    /// The school of the sign-in.
    pub school: SchoolId,
    /// The member of staff.
    pub staff: StaffId,
    /// The sign-in.
    pub session: SessionId,
}

/// Who reads: somebody signed in, or whoever holds a link to a cover page, by the rights of the one
/// who made it. Only the first can write.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reader {
    /// Somebody signed in.
    SignedIn(Who),
    /// Whoever holds a link.
    Link(LinkKey),
}

impl From<Who> for Reader {
    fn from(who: Who) -> Self {
        Self::SignedIn(who)
    }
}

impl Reader {
    /// The school.
    pub const fn school(&self) -> SchoolId {
        match self {
            Self::SignedIn(who) => who.school,
            Self::Link(key) => key.school,
        }
    }

    /// Who it is, for the audit log: nobody known, where a link was opened.
    pub(super) const fn staff(&self) -> Option<StaffId> {
        match self {
            Self::SignedIn(who) => Some(who.staff),
            Self::Link(_) => None,
        }
    }
}

/// What transactions of one store share.
#[derive(Clone)]
pub(super) struct Shared {
    pub clock: Clock,
    pub versions: Versions,
}

/// An open transaction. Functions on rows are in the modules named after the rows.
pub struct Tx<'tx> {
    pub(super) conn: Conn<'tx>,
    pub(super) actor: Actor,
    pub(super) version: i64,
    /// Which of several things done in it is being done, as [`Self::attempt`] counts them.
    pub(super) turn: i16,
    pub(super) audit: AuditHead,
    pub(super) subject: Option<(&'static str, Uuid)>,
    pub(super) opened: Option<Opened>,
    pub(super) versions: Versions,
    /// Whether somebody's class or group was changed: the change log is made to agree at the end.
    pub(super) places_moved: bool,
    rule_pack: String,
    now: Instant,
    today: Date,
    brand: Brand<'tx>,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = school)]
pub(super) struct SchoolHead {
    pub version: i64,
    pub audit_seq: i64,
    pub audit_head: Vec<u8>,
    pub rule_pack: String,
    pub time_zone: String,
}

impl<'tx> Tx<'tx> {
    /// Opens for a read: everything is seen as of one moment.
    pub(super) fn open_read(mut conn: Conn<'tx>, shared: &Shared, reader: Reader) -> Result<Self, Error> {
        let head: Option<SchoolHead> = db!(conn, c => school::table
            .find(reader.school())
            .select(SchoolHead::as_select())
            .first(c)
            .optional())?;
        Self::open(conn, shared, reader, head.ok_or(Error::SignedOut)?)
    }

    /// Opens for a write: takes the school's next version first, which holds off every other
    /// writer of this school until the end, so that version order is commit order.
    pub(super) fn open_write(mut conn: Conn<'tx>, shared: &Shared, who: Who) -> Result<Self, Error> {
        let head = next_version(&mut conn, who.school)?.ok_or(Error::SignedOut)?;
        Self::open(conn, shared, who.into(), head)
    }

    fn open(mut conn: Conn<'tx>, shared: &Shared, reader: Reader, head: SchoolHead) -> Result<Self, Error> {
        let now = shared.clock.now();
        let today = date_in(&head.time_zone, now);
        let (actor, opened) = match reader {
            Reader::SignedIn(who) => (load_actor(&mut conn, who, now, today)?, None),
            Reader::Link(key) => {
                let (actor, opened) = cover_link::maker(&mut conn, key, now, today)?;
                (actor, Some(opened))
            }
        };
        Ok(Self {
            conn,
            actor,
            version: head.version,
            turn: 0,
            audit: AuditHead::new(head.audit_seq, &head.audit_head)?,
            subject: None,
            opened,
            versions: shared.versions.clone(),
            places_moved: false,
            rule_pack: head.rule_pack,
            now,
            today,
            brand: PhantomData,
        })
    }

    /// Who acts.
    pub const fn actor(&self) -> &Actor {
        &self.actor
    }

    /// The school of this transaction; the first part of every key.
    pub const fn school(&self) -> SchoolId {
        self.actor.school
    }

    /// This moment, the same throughout the transaction.
    pub const fn now(&self) -> Instant {
        self.now
    }

    /// The moment some days of 24 hours from now.
    pub(super) fn in_days(&self, days: u32) -> Instant {
        self.now.plus_seconds(i64::from(days) * 86_400)
    }

    /// Today at the school.
    pub const fn today(&self) -> Date {
        self.today
    }

    /// The version this write makes, or the one a read sees.
    pub const fn version(&self) -> i64 {
        self.version
    }

    /// The school's rule pack.
    ///
    /// # Errors
    /// If the school names a pack this build does not have.
    pub fn rules(&self) -> Result<&'static RulePack, Error> {
        plumbline_core::rules::pack(&self.rule_pack).map_err(|error| Error::Damaged(error.to_string()))
    }

    /// A new id, sorted by time.
    pub fn new_id<K>(&self) -> Id<K> {
        new_id(self.now)
    }

    /// Does one of several things in a transaction: it alone is rolled back where it is refused, and has an entry of
    /// its own in the audit log where it is not.
    ///
    /// # Errors
    /// If the savepoint cannot be kept. What the work answers is inside.
    pub fn attempt<T, E: From<Error>>(
        &mut self,
        operation: &'static str,
        work: impl FnOnce(&mut Self) -> Result<T, E>,
    ) -> Result<Result<T, E>, Error> {
        self.conn.execute("SAVEPOINT attempt")?;
        self.turn = self.turn.saturating_add(1);
        let (subject, moved) = (self.subject.take(), self.places_moved);
        let done = work(self).and_then(|value| {
            let who = self.actor.staff;
            self.audit = audit::append(
                &mut self.conn,
                self.actor.school,
                self.audit,
                self.now,
                operation,
                who,
                self.subject,
            )?;
            Ok(value)
        });
        if done.is_err() {
            self.conn.execute("ROLLBACK TO attempt")?;
            self.places_moved = moved;
        }
        self.subject = subject;
        self.conn.execute("RELEASE attempt")?;
        Ok(done)
    }

    /// Brings the change log up to date with who is where, if that was changed.
    pub(super) fn settle_if_moved(&mut self) -> Result<(), Error> {
        if std::mem::take(&mut self.places_moved) { self.settle_places() } else { Ok(()) }
    }

    /// Names the main subject of the operation for the audit log; the first one counts.
    pub(super) fn about(&mut self, kind: &'static str, id: Uuid) {
        self.subject.get_or_insert((kind, id));
    }
}

/// The day some days after another.
pub(super) fn days_after(day: Date, days: u32) -> Date {
    day.checked_add_days(Days::new(days.into())).unwrap_or(day)
}

/// A new UUIDv7 of this moment.
pub(super) fn new_id<K>(now: Instant) -> Id<K> {
    let micros = now.micros().max(0).unsigned_abs();
    let nanos = u32::try_from(micros % 1_000_000).unwrap_or(0) * 1000;
    Id::from_uuid(Uuid::new_v7(Timestamp::from_unix(NoContext, micros / 1_000_000, nanos)))
}

/// Moves the school to its next version and locks it for this transaction.
pub(super) fn next_version(conn: &mut Conn<'_>, id: SchoolId) -> Result<Option<SchoolHead>, Error> {
    Ok(db!(*conn, c => diesel::update(school::table.find(id))
        .set(school::version.eq(school::version + 1))
        .returning(SchoolHead::as_returning())
        .get_result(c)
        .optional())?)
}

/// Refuses a sign-in that has ended. Since when the tablet it is on is revoked.
pub(super) fn live(conn: &mut Conn<'_>, who: Who, now: Instant) -> Result<Option<Instant>, Error> {
    type Live = (Option<Instant>, Instant, Option<Instant>, Option<Instant>);
    let live: Option<Live> = db!(*conn, c => session::table
        .inner_join(staff::table.on(staff::school_id.eq(session::school_id).and(staff::id.eq(session::staff_id))))
        .left_join(tablet::table.on(tablet::school_id.eq(session::school_id)
            .and(tablet::id.nullable().eq(session::tablet_id))))
        .filter(session::school_id.eq(who.school))
        .filter(session::id.eq(who.session))
        .filter(session::staff_id.eq(who.staff))
        .select((session::ended_at, session::expires_at, staff::disabled_at, tablet::revoked_at.nullable()))
        .first(c)
        .optional())?;
    match live {
        Some((None, expires_at, None, revoked_at)) if expires_at > now => Ok(revoked_at),
        _ => Err(Error::SignedOut),
    }
}

fn load_actor(conn: &mut Conn<'_>, who: Who, now: Instant, today: Date) -> Result<Actor, Error> {
    if live(conn, who, now)?.is_some() {
        return Err(Error::TabletRevoked);
    }
    let roles = roles_on(conn, who.school, who.staff, today)?;
    Ok(Actor {
        school: who.school,
        staff: who.staff,
        session: Some(who.session),
        roles: roles.into_iter().collect(),
    })
}

/// The roles a member of staff holds on a day.
pub(super) fn roles_on(
    conn: &mut Conn<'_>,
    school: SchoolId,
    staff: StaffId,
    on: Date,
) -> Result<Vec<Role>, Error> {
    Ok(db!(*conn, c => staff_role::table
        .filter(staff_role::school_id.eq(school))
        .filter(staff_role::staff_id.eq(staff))
        .filter(held_on!(staff_role, on))
        .select(staff_role::role)
        .load(c))?)
}
