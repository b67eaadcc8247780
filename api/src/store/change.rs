//! The change log and the history: every save of a record goes through [`Tx::save`].

use std::collections::BTreeSet;

use diesel::{prelude::*, upsert::excluded};
use plumbline_core::{
    id::{ClassId, GroupId, Id, SchoolId, StaffId},
    time::Instant,
};
use serde::Serialize;
use uuid::Uuid;

use super::{
    Error, Tx,
    conn::{Conn, db},
    pupils::BATCH,
    schema::{change, history},
};

plumbline_core::vocabulary! {
    /// What the change log says happened to a record within a scope.
    pub enum ChangeKind {
        /// The record is in the scope, as of this version.
        Put = "put",
        /// The record has left the scope.
        Leave = "leave",
        /// The record is gone.
        Del = "del",
    }
}

/// A unit of visibility: a device holds whole scopes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Scope {
    /// What all staff of the school may hold: calendar, published sequences.
    School,
    /// A class and its pupils.
    Class(ClassId),
    /// A teaching group, its pupils, lesson records and checks.
    Group(GroupId),
}

impl Scope {
    /// Its kind and id, as the change log has them.
    pub(super) fn parts(self, school: SchoolId) -> (&'static str, Uuid) {
        match self {
            Self::School => ("school", school.uuid()),
            Self::Class(class) => ("class", class.uuid()),
            Self::Group(group) => ("group", group.uuid()),
        }
    }

    /// What the change log means by a kind and id.
    pub(super) fn of(kind: &str, id: Uuid) -> Option<Self> {
        match kind {
            "school" => Some(Self::School),
            "class" => Some(Self::Class(ClassId::from_uuid(id))),
            "group" => Some(Self::Group(GroupId::from_uuid(id))),
            _ => None,
        }
    }

    /// Its name on the wire.
    pub(super) fn text(self, school: SchoolId) -> String {
        let (kind, id) = self.parts(school);
        format!("{kind}:{id}")
    }
}

/// A record kind in the change log, history and audit.
pub(super) type RecKind = &'static str;

#[derive(Insertable)]
#[diesel(table_name = change, treat_none_as_default_value = false)]
struct ChangeRow<'a> {
    school_id: SchoolId,
    scope_kind: &'a str,
    scope_id: AnyId,
    rec_kind: &'a str,
    rec_id: AnyId,
    v: i64,
    kind: ChangeKind,
}

#[derive(Insertable)]
#[diesel(table_name = history, treat_none_as_default_value = false)]
struct HistoryRow<'a> {
    school_id: SchoolId,
    rec_kind: &'a str,
    rec_id: AnyId,
    v: i64,
    at: Instant,
    staff_id: Option<StaffId>,
    body: serde_json::Value,
    turn: i16,
}

/// An id whose kind stands in another column.
pub(super) enum AnyKind {}
pub(super) type AnyId = Id<AnyKind>;

/// Logs records of the school that are there from the start, before anybody acts.
pub(super) fn put_in_school(
    conn: &mut Conn<'_>,
    school: SchoolId,
    v: i64,
    records: &[(RecKind, Uuid)],
) -> Result<(), Error> {
    let row = |(kind, id): &(RecKind, Uuid)| ChangeRow {
        school_id: school,
        scope_kind: "school",
        scope_id: AnyId::from_uuid(school.uuid()),
        rec_kind: kind,
        rec_id: AnyId::from_uuid(*id),
        v,
        kind: ChangeKind::Put,
    };
    let rows: Vec<ChangeRow<'_>> = records.iter().map(row).collect();
    db!(*conn, c => diesel::insert_into(change::table).values(&rows).execute(c))?;
    Ok(())
}

impl Tx<'_> {
    /// Notes that a record was saved: in the change log of its scopes and in the history.
    pub(super) fn save(
        &mut self,
        kind: RecKind,
        id: Uuid,
        scopes: &[Scope],
        body: &impl Serialize,
    ) -> Result<(), Error> {
        self.save_many(kind, &[(id, scopes.to_vec(), serde_json::to_value(body)?)])
    }

    /// The same of several records, each once.
    pub(super) fn save_many(
        &mut self,
        kind: RecKind,
        records: &[(Uuid, Vec<Scope>, serde_json::Value)],
    ) -> Result<(), Error> {
        let scoped = |(id, scopes, _): &(Uuid, Vec<Scope>, _)| {
            let id = *id;
            scopes.clone().into_iter().map(move |scope| (id, scope))
        };
        if let Some((first, ..)) = records.first() {
            self.about(kind, *first);
        }
        self.log_many(kind, &records.iter().flat_map(scoped).collect::<Vec<_>>(), ChangeKind::Put)?;
        self.keep(kind, records)
    }

    /// Notes that a record is gone, for those who had it in their scopes; the history says so too.
    pub(super) fn save_gone(&mut self, kind: RecKind, id: Uuid, scopes: &[Scope]) -> Result<(), Error> {
        self.save(kind, id, &[], &serde_json::Value::Null)?;
        self.log(kind, id, scopes, ChangeKind::Del)
    }

    /// Notes a change of a record within scopes.
    pub(super) fn log(
        &mut self,
        kind: RecKind,
        id: Uuid,
        scopes: &[Scope],
        what: ChangeKind,
    ) -> Result<(), Error> {
        self.about(kind, id);
        self.log_many(kind, &scopes.iter().map(|scope| (id, *scope)).collect::<Vec<_>>(), what)
    }

    /// The same of several records.
    pub(super) fn log_many(
        &mut self,
        kind: RecKind,
        records: &[(Uuid, Scope)],
        what: ChangeKind,
    ) -> Result<(), Error> {
        let row = |(id, scope): &(Uuid, Scope)| {
            let (scope_kind, scope_id) = scope.parts(self.school());
            ChangeRow {
                school_id: self.school(),
                scope_kind,
                scope_id: AnyId::from_uuid(scope_id),
                rec_kind: kind,
                rec_id: AnyId::from_uuid(*id),
                v: self.version,
                kind: what,
            }
        };
        // A statement takes no row twice.
        let records: BTreeSet<(Uuid, Scope)> = records.iter().copied().collect();
        let rows: Vec<ChangeRow<'_>> = records.iter().map(row).collect();
        for batch in rows.chunks(BATCH) {
            db!(self.conn, c => diesel::insert_into(change::table)
                .values(batch)
                .on_conflict((change::school_id, change::scope_kind, change::scope_id, change::rec_kind, change::rec_id))
                .do_update()
                .set((change::v.eq(excluded(change::v)), change::kind.eq(excluded(change::kind))))
                .execute(c))?;
        }
        Ok(())
    }

    /// Adds what records say now to their history.
    fn keep(
        &mut self,
        kind: RecKind,
        records: &[(Uuid, Vec<Scope>, serde_json::Value)],
    ) -> Result<(), Error> {
        let row = |(id, _, body): &(Uuid, Vec<Scope>, serde_json::Value)| HistoryRow {
            school_id: self.school(),
            rec_kind: kind,
            rec_id: AnyId::from_uuid(*id),
            v: self.version,
            at: self.now(),
            staff_id: Some(self.actor.staff),
            body: body.clone(),
            turn: self.turn,
        };
        let rows: Vec<HistoryRow<'_>> = records.iter().map(row).collect();
        // A record saved twice by one thing that is done keeps its last word.
        for batch in rows.chunks(BATCH) {
            db!(self.conn, c => diesel::insert_into(history::table)
                .values(batch)
                .on_conflict((history::school_id, history::rec_kind, history::rec_id, history::v, history::turn))
                .do_update()
                .set(history::body.eq(excluded(history::body)))
                .execute(c))?;
        }
        Ok(())
    }
}

/// What a record said after one of its changes.
#[derive(Clone, Debug, Queryable)]
pub struct HistoryLine {
    /// The version of the change.
    pub v: i64,
    /// When.
    pub at: Instant,
    /// Who; none once erased.
    pub staff_id: Option<StaffId>,
    /// What it said; null where it was deleted.
    pub body: serde_json::Value,
}

impl Tx<'_> {
    /// Everything a record has said, earliest first.
    pub(super) fn history_of(&mut self, kind: RecKind, id: Uuid) -> Result<Vec<HistoryLine>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => history::table
            .filter(history::school_id.eq(school))
            .filter(history::rec_kind.eq(kind))
            .filter(history::rec_id.eq(AnyId::from_uuid(id)))
            .order((history::v, history::turn))
            .select((history::v, history::at, history::staff_id, history::body))
            .load(c))?)
    }
}
