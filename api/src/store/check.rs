//! Checks.

use std::collections::BTreeMap;

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::Manage,
        resource::{Checks, PupilChecks},
    },
    check::{CheckItem, CheckKind},
    id::{CheckId, CheckItemId, ItemId, RoundId, SchoolId},
};
use serde_json::json;

use super::{Error, Permit, RoundRow, Tx, change::Scope, conn::db, schema::check_definition};

/// A check.
#[derive(Clone, Debug)]
pub struct CheckRow {
    /// Its id.
    pub id: CheckId,
    /// Its name.
    pub name: String,
    /// What it asks for.
    pub kind: CheckKind,
    /// Its items, in order.
    pub items: Vec<CheckItem>,
    /// Its version.
    pub v: i64,
}

type CheckTuple = (CheckId, String, CheckKind, serde_json::Value, i64);

impl<'tx> Tx<'tx> {
    /// The school's checks by name, but for those that placements are made of.
    ///
    /// # Errors
    /// If the store fails.
    pub fn checks<A>(&mut self, _permit: &Permit<'tx, A, Checks>) -> Result<Vec<CheckRow>, Error> {
        Ok(self.all_checks()?.into_iter().filter(|check| check.kind != CheckKind::Placement).collect())
    }

    pub(super) fn all_checks(&mut self) -> Result<Vec<CheckRow>, Error> {
        let school = self.school();
        let rows: Vec<CheckTuple> = db!(self.conn, c => check_definition::table
            .filter(check_definition::school_id.eq(school))
            .order((check_definition::name, check_definition::id))
            .select((check_definition::id, check_definition::name, check_definition::kind, check_definition::items, check_definition::v))
            .load(c))?;
        rows.into_iter().map(check_row).collect()
    }

    /// The correspondence each item asks for, of those that ask for one.
    pub(super) fn gpcs_asked(&mut self) -> Result<BTreeMap<CheckItemId, ItemId>, Error> {
        let items = self.all_checks()?.into_iter().flat_map(|check| check.items);
        Ok(items.filter_map(|item| Some((item.id, item.gpc_id?))).collect())
    }

    /// Adds a check. It never changes afterwards: another wording is another check.
    ///
    /// # Errors
    /// If the store fails.
    pub fn add_check(
        &mut self,
        _permit: &Permit<'tx, Manage, Checks>,
        name: &str,
        kind: CheckKind,
        items: Vec<CheckItem>,
    ) -> Result<CheckRow, Error> {
        let id = self.new_id();
        self.insert_check(id, name, kind, items)
    }

    pub(super) fn insert_check(
        &mut self,
        id: CheckId,
        name: &str,
        kind: CheckKind,
        items: Vec<CheckItem>,
    ) -> Result<CheckRow, Error> {
        let (school, v): (SchoolId, i64) = (self.school(), self.version);
        let items_json = serde_json::to_value(&items)?;
        db!(self.conn, c => diesel::insert_into(check_definition::table)
            .values((
                check_definition::school_id.eq(school),
                check_definition::id.eq(id),
                check_definition::name.eq(name),
                check_definition::kind.eq(kind),
                check_definition::items.eq(&items_json),
                check_definition::v.eq(v),
            ))
            .execute(c))?;
        self.save(
            "check",
            id.uuid(),
            &[Scope::School],
            &json!({"name": name, "kind": kind, "items": items_json}),
        )?;
        Ok(CheckRow { id, name: name.to_owned(), kind, items, v })
    }

    /// The round and check a pupil is to answer.
    ///
    /// # Errors
    /// [`Error::Missing`] if the round does not hold the check.
    pub fn round_check<A>(
        &mut self,
        permit: &Permit<'tx, A, PupilChecks>,
        check: CheckId,
    ) -> Result<(RoundRow, CheckRow), Error> {
        self.check_in(permit.resource().round, check)
    }

    pub(super) fn check_in(&mut self, round: RoundId, check: CheckId) -> Result<(RoundRow, CheckRow), Error> {
        let round = self.round_row(round)?;
        if !round.checks.contains(&check) {
            return Err(Error::Missing);
        }
        let row = self.check_found(check)?.ok_or(Error::Missing)?;
        Ok((round, row))
    }

    /// The checks with these ids, in their order.
    pub(super) fn checks_found(&mut self, ids: &[CheckId]) -> Result<Vec<CheckRow>, Error> {
        let school = self.school();
        let rows: Vec<CheckTuple> = db!(self.conn, c => check_definition::table
            .filter(check_definition::school_id.eq(school))
            .filter(check_definition::id.eq_any(ids))
            .order(check_definition::id)
            .select((check_definition::id, check_definition::name, check_definition::kind, check_definition::items, check_definition::v))
            .load(c))?;
        rows.into_iter().map(check_row).collect()
    }

    pub(super) fn check_found(&mut self, id: CheckId) -> Result<Option<CheckRow>, Error> {
        let school = self.school();
        let row: Option<CheckTuple> = db!(self.conn, c => check_definition::table
            .find((school, id))
            .select((check_definition::id, check_definition::name, check_definition::kind, check_definition::items, check_definition::v))
            .first(c)
            .optional())?;
        row.map(check_row).transpose()
    }
}

fn check_row((id, name, kind, items, v): CheckTuple) -> Result<CheckRow, Error> {
    Ok(CheckRow { id, name, kind, items: serde_json::from_value(items)?, v })
}
