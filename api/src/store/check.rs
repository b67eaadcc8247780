//! Checks and rounds of checks.

use std::collections::BTreeMap;

use diesel::{
    dsl::{exists, not},
    prelude::*,
};
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::{Checks, PupilChecks, Round},
    },
    check::{CheckItem, CheckKind},
    id::{CheckId, CheckItemId, ItemId, RoundId, SchoolId},
    time::Date,
};
use serde_json::json;

use super::{
    Error, Permit, Tx,
    change::Scope,
    conn::db,
    schema::{check_definition, check_round, placement, round_check},
};

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

/// A round of checks.
#[derive(Clone, Debug)]
pub struct RoundRow {
    /// Its id.
    pub id: RoundId,
    /// Its name.
    pub name: String,
    /// First day.
    pub opens_on: Date,
    /// Last day.
    pub closes_on: Date,
    /// Its checks.
    pub checks: Vec<CheckId>,
    /// Its version.
    pub v: i64,
}

type CheckTuple = (CheckId, String, CheckKind, serde_json::Value, i64);
type RoundTuple = (RoundId, String, Date, Date, i64);

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

    /// The school's rounds, latest first. A placement is none.
    ///
    /// # Errors
    /// If the store fails.
    pub fn rounds(&mut self, _permit: &Permit<'tx, Read, Checks>) -> Result<Vec<RoundRow>, Error> {
        self.all_rounds()
    }

    pub(super) fn all_rounds(&mut self) -> Result<Vec<RoundRow>, Error> {
        let school = self.school();
        let rows: Vec<RoundTuple> = db!(self.conn, c => check_round::table
            .filter(check_round::school_id.eq(school))
            .filter(not(exists(placement::table
                .filter(placement::school_id.eq(check_round::school_id))
                .filter(placement::id.eq(check_round::id)))))
            .order((check_round::opens_on.desc(), check_round::id))
            .select((check_round::id, check_round::name, check_round::opens_on, check_round::closes_on, check_round::v))
            .load(c))?;
        rows.into_iter().map(|row| self.with_checks(row)).collect()
    }

    fn with_checks(&mut self, (id, name, opens_on, closes_on, v): RoundTuple) -> Result<RoundRow, Error> {
        let school = self.school();
        let checks = db!(self.conn, c => round_check::table
            .filter(round_check::school_id.eq(school))
            .filter(round_check::round_id.eq(id))
            .order(round_check::check_id)
            .select(round_check::check_id)
            .load(c))?;
        Ok(RoundRow { id, name, opens_on, closes_on, checks, v })
    }

    /// One round.
    ///
    /// # Errors
    /// If the store fails.
    pub fn round<A>(&mut self, permit: &Permit<'tx, A, Round>) -> Result<RoundRow, Error> {
        self.round_row(permit.resource().0)
    }

    pub(super) fn round_row(&mut self, id: RoundId) -> Result<RoundRow, Error> {
        let school = self.school();
        let row: RoundTuple = db!(self.conn, c => check_round::table
            .find((school, id))
            .select((check_round::id, check_round::name, check_round::opens_on, check_round::closes_on, check_round::v))
            .first(c))?;
        self.with_checks(row)
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
        let round = self.round_row(permit.resource().round)?;
        if !round.checks.contains(&check) {
            return Err(Error::Missing);
        }
        let row = self.check_found(check)?.ok_or(Error::Missing)?;
        Ok((round, row))
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

    /// Adds a round.
    ///
    /// # Errors
    /// [`Error::Missing`] for an unknown check.
    pub fn add_round(
        &mut self,
        _permit: &Permit<'tx, Manage, Checks>,
        name: &str,
        opens_on: Date,
        closes_on: Date,
        checks: &[CheckId],
    ) -> Result<RoundRow, Error> {
        let school = self.school();
        for check in checks {
            db!(self.conn, c => check_definition::table
                .find((school, check))
                .filter(check_definition::kind.ne(CheckKind::Placement))
                .select(check_definition::id)
                .first::<CheckId>(c))?;
        }
        self.insert_round(name, opens_on, closes_on, checks)
    }

    pub(super) fn insert_round(
        &mut self,
        name: &str,
        opens_on: Date,
        closes_on: Date,
        checks: &[CheckId],
    ) -> Result<RoundRow, Error> {
        let (school, id, v): (SchoolId, RoundId, i64) = (self.school(), self.new_id(), self.version);
        db!(self.conn, c => diesel::insert_into(check_round::table)
            .values((
                check_round::school_id.eq(school),
                check_round::id.eq(id),
                check_round::name.eq(name),
                check_round::opens_on.eq(opens_on),
                check_round::closes_on.eq(closes_on),
                check_round::v.eq(v),
            ))
            .execute(c))?;
        for check in checks {
            db!(self.conn, c => diesel::insert_into(round_check::table)
                .values((
                    round_check::school_id.eq(school),
                    round_check::round_id.eq(id),
                    round_check::check_id.eq(check),
                ))
                .execute(c))?;
        }
        let body = json!({"name": name, "opens_on": opens_on, "closes_on": closes_on, "checks": checks});
        self.save("check_round", id.uuid(), &[Scope::School], &body)?;
        self.round_row(id)
    }
}

fn check_row((id, name, kind, items, v): CheckTuple) -> Result<CheckRow, Error> {
    Ok(CheckRow { id, name, kind, items: serde_json::from_value(items)?, v })
}
