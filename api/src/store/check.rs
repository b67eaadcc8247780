//! Checks.

use std::collections::BTreeMap;

use diesel::{dsl::max, prelude::*};
use plumbline_core::{
    access::{
        act::Manage,
        resource::{Checks, PupilChecks},
    },
    check::{CheckItem, CheckKind, build::Recipe},
    id::{CheckId, CheckItemId, ItemId, RoundId},
};
use serde::{Deserialize, Serialize};
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
    /// What all versions of it have in common: the id of the first.
    pub series: CheckId,
    /// Which version of the series it is, counted from 1.
    pub version: i32,
    /// How it was built, if the engine did.
    pub built: Option<CheckOrigin>,
    /// The version of its row.
    pub v: i64,
}

/// How a check was built.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CheckOrigin {
    /// What it was built from.
    pub recipe: Recipe,
    /// Whether an adult changed the items that were built.
    pub edited: bool,
}

/// A check to add.
#[derive(Clone, Debug)]
pub struct NewCheckRow {
    /// Its name.
    pub name: String,
    /// What it asks for.
    pub kind: CheckKind,
    /// Its items, in order.
    pub items: Vec<CheckItem>,
    /// Any version of the series whose next version it is.
    pub follows: Option<CheckId>,
    /// How it was built.
    pub built: Option<CheckOrigin>,
}

/// A check as its columns.
#[derive(Queryable, Selectable)]
#[diesel(table_name = check_definition)]
struct CheckColumns {
    id: CheckId,
    name: String,
    kind: CheckKind,
    items: serde_json::Value,
    v: i64,
    series_id: Option<CheckId>,
    version: i32,
    built: Option<serde_json::Value>,
}

impl<'tx> Tx<'tx> {
    /// The school's checks by name, all versions of each, but for those that placements are made of.
    ///
    /// # Errors
    /// If the store fails.
    pub fn checks<A>(&mut self, _permit: &Permit<'tx, A, Checks>) -> Result<Vec<CheckRow>, Error> {
        Ok(self.all_checks()?.into_iter().filter(|check| check.kind != CheckKind::Placement).collect())
    }

    pub(super) fn all_checks(&mut self) -> Result<Vec<CheckRow>, Error> {
        let school = self.school();
        let rows: Vec<CheckColumns> = db!(self.conn, c => check_definition::table
            .filter(check_definition::school_id.eq(school))
            .order((check_definition::name, check_definition::id))
            .select(CheckColumns::as_select())
            .load(c))?;
        rows.into_iter().map(check_row).collect()
    }

    /// One check, whichever version.
    ///
    /// # Errors
    /// [`Error::Missing`] for an unknown one, and for one that placements are made of.
    pub fn check<A>(&mut self, _permit: &Permit<'tx, A, Checks>, id: CheckId) -> Result<CheckRow, Error> {
        let row = self.check_found(id)?.filter(|row| row.kind != CheckKind::Placement);
        row.ok_or(Error::Missing)
    }

    /// The correspondence each item asks for, of those that ask for one.
    pub(super) fn gpcs_asked(&mut self) -> Result<BTreeMap<CheckItemId, ItemId>, Error> {
        let items = self.all_checks()?.into_iter().flat_map(|check| check.items);
        Ok(items.filter_map(|item| Some((item.id, item.gpc_id?))).collect())
    }

    /// Adds a check. It never changes afterwards: another wording is the next version of its series.
    ///
    /// # Errors
    /// [`Error::Missing`] if it follows an unknown check, [`Error::Conflict`] if it follows one of another kind.
    pub fn add_check(
        &mut self,
        _permit: &Permit<'tx, Manage, Checks>,
        new: NewCheckRow,
    ) -> Result<CheckRow, Error> {
        let id = self.new_id();
        let (series, version) = match new.follows {
            Some(earlier) => self.next_version(earlier, new.kind)?,
            None => (id, 1),
        };
        self.insert_check(CheckRow {
            id,
            name: new.name,
            kind: new.kind,
            items: new.items,
            series,
            version,
            built: new.built,
            v: self.version,
        })
    }

    fn next_version(&mut self, earlier: CheckId, kind: CheckKind) -> Result<(CheckId, i32), Error> {
        let row = self.check_found(earlier)?.ok_or(Error::Missing)?;
        if row.kind != kind {
            return Err(Error::Conflict);
        }
        let school = self.school();
        let latest: Option<i32> = db!(self.conn, c => check_definition::table
            .filter(check_definition::school_id.eq(school))
            .filter(check_definition::series_id.eq(row.series))
            .select(max(check_definition::version))
            .first(c))?;
        Ok((row.series, latest.unwrap_or(1) + 1))
    }

    pub(super) fn insert_check(&mut self, row: CheckRow) -> Result<CheckRow, Error> {
        let school = self.school();
        let items = serde_json::to_value(&row.items)?;
        let built = row.built.as_ref().map(serde_json::to_value).transpose()?;
        let series = Some(row.series).filter(|series| *series != row.id);
        db!(self.conn, c => diesel::insert_into(check_definition::table)
            .values((
                check_definition::school_id.eq(school),
                check_definition::id.eq(row.id),
                check_definition::name.eq(&row.name),
                check_definition::kind.eq(row.kind),
                check_definition::items.eq(&items),
                check_definition::v.eq(row.v),
                check_definition::series_id.eq(series),
                check_definition::version.eq(row.version),
                check_definition::built.eq(&built),
            ))
            .execute(c))?;
        let body = json!({"name": row.name, "kind": row.kind, "items": items,
                          "series_id": row.series, "version": row.version, "built": built});
        self.save("check", row.id.uuid(), &[Scope::School], &body)?;
        Ok(row)
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
        let rows: Vec<CheckColumns> = db!(self.conn, c => check_definition::table
            .filter(check_definition::school_id.eq(school))
            .filter(check_definition::id.eq_any(ids))
            .order(check_definition::id)
            .select(CheckColumns::as_select())
            .load(c))?;
        rows.into_iter().map(check_row).collect()
    }

    pub(super) fn check_found(&mut self, id: CheckId) -> Result<Option<CheckRow>, Error> {
        let school = self.school();
        let row: Option<CheckColumns> = db!(self.conn, c => check_definition::table
            .find((school, id))
            .select(CheckColumns::as_select())
            .first(c)
            .optional())?;
        row.map(check_row).transpose()
    }
}

fn check_row(row: CheckColumns) -> Result<CheckRow, Error> {
    Ok(CheckRow {
        id: row.id,
        name: row.name,
        kind: row.kind,
        items: serde_json::from_value(row.items)?,
        series: row.series_id.unwrap_or(row.id),
        version: row.version,
        built: row.built.map(serde_json::from_value).transpose()?,
        v: row.v,
    })
}
