//! A page of what changed in the scopes a reader holds.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Read, resource::Replica},
    id::{ClassId, GroupId, Id},
    sync::{Advance, Cursor, Place, Rec, advance, plan},
};
use uuid::Uuid;

use super::RecordKind;
use crate::store::{
    Error, Permit, Tx,
    change::{AnyId, ChangeKind, Scope},
    conn::{db, held_on},
    schema::{change, class_staff, group_staff, school},
};

/// A change of a record in a scope.
#[derive(Clone, Debug)]
pub struct PulledRow {
    /// The scope, as text.
    pub scope: String,
    /// The kind of record.
    pub kind: RecordKind,
    /// The record.
    pub id: Uuid,
    /// The version of the change.
    pub v: i64,
    /// What happened.
    pub is: ChangeKind,
}

/// A page. Made by [`Tx::pull`] alone: who holds one may load what its rows name.
#[derive(Clone, Debug)]
pub struct Pulled {
    rows: Vec<PulledRow>,
    /// Every scope the reader holds today.
    pub scopes: Vec<String>,
    /// Scopes the device has and may no longer.
    pub drop: Vec<String>,
    /// Scopes it reads anew.
    pub reset: Vec<String>,
    /// Where the next pull goes on.
    pub cursors: BTreeMap<String, String>,
    /// Whether there are more by now.
    pub more: bool,
}

impl Pulled {
    /// The changes, in the order of the feed scope by scope.
    pub fn rows(&self) -> &[PulledRow] {
        &self.rows
    }

    /// The records of a kind that are in a scope.
    pub(super) fn ids(&self, kind: RecordKind) -> Vec<AnyId> {
        let there = self.rows.iter().filter(|row| row.kind == kind && row.is == ChangeKind::Put);
        let mut ids: Vec<AnyId> = there.map(|row| AnyId::from_uuid(row.id)).collect();
        ids.sort_unstable();
        ids.dedup();
        ids
    }

    /// The same as ids of that kind of record.
    pub(super) fn of<K>(&self, kind: RecordKind) -> Vec<Id<K>> {
        self.ids(kind).into_iter().map(|id| Id::from_uuid(id.uuid())).collect()
    }
}

impl<'tx> Tx<'tx> {
    /// The changes of the scopes the actor holds, after the cursors sent, at most `limit` of them.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pull(
        &mut self,
        permit: &Permit<'tx, Read, Replica>,
        told: &BTreeMap<String, Cursor>,
        limit: usize,
    ) -> Result<Pulled, Error> {
        let (id, head) = (self.school(), self.version);
        let floor: i64 = db!(self.conn, c => school::table.find(id).select(school::floor).first(c))?;
        let held = self.scopes_held()?;
        let views = held.iter().map(|(name, (_, kinds))| (name.clone(), RecordKind::bits(kinds))).collect();
        let plan = plan(&views, told, head, floor);
        let news = self.scopes_with_news(&held, &plan.from)?;
        let (mut rows, mut cursors, mut more) = (Vec::new(), BTreeMap::new(), false);
        for (name, from) in &plan.from {
            let Some((scope, kinds)) = held.get(name) else { continue };
            let left = limit.saturating_sub(rows.len());
            let mut found = match news.contains(scope) {
                true => self.changes_after(name, *scope, kinds, from, left + 1)?,
                false => Vec::new(),
            };
            let Advance { taken, cursor, more: others } =
                advance(from, &found.iter().map(place).collect::<Vec<_>>(), left, head);
            found.truncate(taken);
            rows.extend(found);
            cursors.insert(name.clone(), cursor.to_string());
            more |= others;
        }
        if rows.iter().any(|row: &PulledRow| row.kind.is_of_pupils()) {
            self.about("replica", permit.resource().0.uuid());
        }
        let (drop, reset) = (plan.drop.into_iter().collect(), plan.reset.into_iter().collect());
        Ok(Pulled { rows, scopes: held.into_keys().collect(), drop, reset, cursors, more })
    }

    /// The scopes the actor holds today, by their text, each with the kinds of record it shows.
    fn scopes_held(&mut self) -> Result<BTreeMap<String, (Scope, Vec<RecordKind>)>, Error> {
        let (school, staff, today) = (self.school(), self.actor.staff, self.today());
        let classes: Vec<ClassId> = db!(self.conn, c => class_staff::table
            .filter(class_staff::school_id.eq(school))
            .filter(class_staff::staff_id.eq(staff))
            .filter(held_on!(class_staff, today))
            .select(class_staff::class_id)
            .load(c))?;
        let groups: Vec<GroupId> = db!(self.conn, c => group_staff::table
            .filter(group_staff::school_id.eq(school))
            .filter(group_staff::staff_id.eq(staff))
            .filter(held_on!(group_staff, today))
            .select(group_staff::group_id)
            .load(c))?;
        let scopes = std::iter::once(Scope::School)
            .chain(classes.into_iter().map(Scope::Class))
            .chain(groups.into_iter().map(Scope::Group));
        let mut held = BTreeMap::new();
        for scope in scopes {
            let kinds = self.shown(scope);
            if !kinds.is_empty() {
                held.insert(scope.text(school), (scope, kinds));
            }
        }
        Ok(held)
    }

    /// The scopes in which something may have changed since; asked of all of them at once, as in most pulls that is
    /// none.
    fn scopes_with_news(
        &mut self,
        held: &BTreeMap<String, (Scope, Vec<RecordKind>)>,
        from: &BTreeMap<String, Cursor>,
    ) -> Result<BTreeSet<Scope>, Error> {
        let school = self.school();
        let (read, begun): (Vec<_>, Vec<_>) = from
            .iter()
            .filter_map(|(name, cursor)| Some((held.get(name)?.0, &cursor.at)))
            .partition(|(_, at)| at.rec == Rec::End);
        let mut news: BTreeSet<Scope> = begun.into_iter().map(|(scope, _)| scope).collect();
        if read.is_empty() {
            return Ok(news);
        }
        let rows: Vec<(String, AnyId)> = db!(self.conn, c => {
            let mut query =
                change::table.select((change::scope_kind, change::scope_id)).distinct().into_boxed();
            for (scope, at) in &read {
                let (kind, id) = scope.parts(school);
                query = query.or_filter(
                    change::school_id
                        .eq(school)
                        .and(change::scope_kind.eq(kind))
                        .and(change::scope_id.eq(AnyId::from_uuid(id)))
                        .and(change::v.gt(at.v)),
                );
            }
            query.load(c)
        })?;
        news.extend(rows.into_iter().filter_map(|(kind, id)| Scope::of(&kind, id.uuid())));
        Ok(news)
    }

    fn changes_after(
        &mut self,
        name: &str,
        scope: Scope,
        kinds: &[RecordKind],
        from: &Cursor,
        limit: usize,
    ) -> Result<Vec<PulledRow>, Error> {
        let school = self.school();
        let (scope_kind, scope_id) = scope.parts(school);
        let (words, v) = (kinds.iter().map(|kind| kind.as_str()).collect::<Vec<_>>(), from.at.v);
        let limit = i64::try_from(limit).unwrap_or(i64::MAX);
        let rows: Vec<(String, AnyId, i64, ChangeKind)> = db!(self.conn, c => {
            let query = change::table
                .filter(change::school_id.eq(school))
                .filter(change::scope_kind.eq(scope_kind))
                .filter(change::scope_id.eq(AnyId::from_uuid(scope_id)))
                .filter(change::rec_kind.eq_any(&words))
                .filter(change::v.ge(v))
                .order((change::v, change::rec_id, change::rec_kind))
                .limit(limit)
                .select((change::rec_kind, change::rec_id, change::v, change::kind))
                .into_boxed();
            match &from.at.rec {
                Rec::End => query.filter(change::v.gt(v)).load(c),
                Rec::At(id, kind) => {
                    let id = AnyId::from_uuid(*id);
                    let later = change::rec_id.gt(id).or(change::rec_id.eq(id).and(change::rec_kind.gt(kind)));
                    query.filter(change::v.gt(v).or(later)).load(c)
                }
            }
        })?;
        let row = |(kind, id, v, is): (String, AnyId, i64, ChangeKind)| {
            let kind = RecordKind::parse(&kind)?;
            Some(PulledRow { scope: name.to_owned(), kind, id: id.uuid(), v, is })
        };
        Ok(rows.into_iter().filter_map(row).collect())
    }
}

fn place(row: &PulledRow) -> Place {
    Place { v: row.v, rec: Rec::At(row.id, row.kind.as_str().to_owned()) }
}
