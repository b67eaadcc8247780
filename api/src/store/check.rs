//! Checks, rounds of checks, and responses.

use std::collections::BTreeMap;

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::{Manage, Read, Record},
        resource::{Checks, PupilChecks, Round},
    },
    check::{CheckItem, CheckKind, Outcome, Response, in_force},
    id::{CheckId, CheckItemId, PupilId, ResponseId, RoundId, SchoolId, StaffId},
    time::{Date, Instant},
};
use serde_json::json;

use super::{
    Error, Permit, Tx,
    change::Scope,
    conn::db,
    pupil::PupilRow,
    schema::{
        check_definition, check_round, class_member, class_staff, group_member, group_staff, pupil, response,
        round_check,
    },
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

/// A response to write.
#[derive(Clone, Debug)]
pub struct NewResponse {
    /// The check.
    pub check: CheckId,
    /// The item.
    pub item: CheckItemId,
    /// The day.
    pub on: Date,
    /// What came of it.
    pub outcome: Outcome,
    /// The adult who asked.
    pub taken_by: StaffId,
    /// The response it corrects.
    pub corrects: Option<ResponseId>,
}

/// A response as stored.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = response, treat_none_as_default_value = false)]
pub struct ResponseRow {
    /// The school.
    pub school_id: SchoolId,
    /// Its id.
    pub id: ResponseId,
    /// The round.
    pub round_id: RoundId,
    /// The check.
    pub check_id: CheckId,
    /// The item.
    pub item_id: CheckItemId,
    /// The pupil.
    pub pupil_id: PupilId,
    /// The day.
    pub on_date: Date,
    /// What came of it.
    pub outcome: Outcome,
    /// The adult who asked.
    pub taken_by: StaffId,
    /// The adult who entered it.
    pub entered_by: StaffId,
    /// When it was entered.
    pub at: Instant,
    /// The response it corrects.
    pub corrects: Option<ResponseId>,
    /// Its version.
    pub v: i64,
}

/// How far one pupil is within a round.
#[derive(Clone, Debug)]
pub struct RoundProgress {
    /// The pupil.
    pub pupil: PupilRow,
    /// The class today, to tell namesakes apart.
    pub class: Option<String>,
    /// Items answered, one way or another, by check.
    pub answered: BTreeMap<CheckId, usize>,
}

type CheckTuple = (CheckId, String, CheckKind, serde_json::Value, i64);
type RoundTuple = (RoundId, String, Date, Date, i64);

/// Rows in one insert: SQLite takes a limited number of values.
const BATCH: usize = 50;

impl<'tx> Tx<'tx> {
    /// The school's checks by name.
    ///
    /// # Errors
    /// If the store fails.
    pub fn checks<A>(&mut self, _permit: &Permit<'tx, A, Checks>) -> Result<Vec<CheckRow>, Error> {
        self.all_checks()
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
        let (school, id, v): (SchoolId, CheckId, i64) = (self.school(), self.new_id(), self.version);
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

    /// The school's rounds, latest first.
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

    fn round_row(&mut self, id: RoundId) -> Result<RoundRow, Error> {
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
        let school = self.school();
        let row: CheckTuple = db!(self.conn, c => check_definition::table
            .find((school, check))
            .select((check_definition::id, check_definition::name, check_definition::kind, check_definition::items, check_definition::v))
            .first(c))?;
        Ok((round, check_row(row)?))
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
            db!(self.conn, c => check_definition::table.find((school, check)).select(check_definition::id).first::<CheckId>(c))?;
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

    /// One pupil's responses within a round, corrections and corrected ones too, in order of entry.
    ///
    /// # Errors
    /// If the store fails.
    pub fn responses<A>(&mut self, permit: &Permit<'tx, A, PupilChecks>) -> Result<Vec<ResponseRow>, Error> {
        let (school, PupilChecks { round, pupil }) = (self.school(), *permit.resource());
        self.about("pupil", pupil.uuid());
        Ok(db!(self.conn, c => response::table
            .filter(response::school_id.eq(school))
            .filter(response::round_id.eq(round))
            .filter(response::pupil_id.eq(pupil))
            .order((response::v, response::id))
            .select(ResponseRow::as_select())
            .load(c))?)
    }

    /// Writes responses of one pupil.
    ///
    /// # Errors
    /// [`Error::Conflict`] if a response was corrected already, [`Error::Missing`] for an
    /// adult who is not of this school's staff.
    pub fn add_responses(
        &mut self,
        permit: &Permit<'tx, Record, PupilChecks>,
        new: &[NewResponse],
    ) -> Result<Vec<ResponseRow>, Error> {
        let PupilChecks { round, pupil } = *permit.resource();
        // Ids of one moment come in any order; sorted, they keep the order of entry.
        let mut ids: Vec<ResponseId> = new.iter().map(|_| self.new_id()).collect();
        ids.sort_unstable();
        let rows: Vec<ResponseRow> = new
            .iter()
            .zip(ids)
            .map(|(one, id)| ResponseRow {
                school_id: self.school(),
                id,
                round_id: round,
                check_id: one.check,
                item_id: one.item,
                pupil_id: pupil,
                on_date: one.on,
                outcome: one.outcome,
                taken_by: one.taken_by,
                entered_by: self.actor.staff,
                at: self.now(),
                corrects: one.corrects,
                v: self.version,
            })
            .collect();
        for batch in rows.chunks(BATCH) {
            db!(self.conn, c => diesel::insert_into(response::table).values(batch).execute(c))?;
        }
        // The pupil is the subject; the responses themselves are the history.
        self.about("pupil", pupil.uuid());
        let scopes: Vec<Scope> = self.groups_today(pupil)?.into_iter().map(Scope::Group).collect();
        for row in &rows {
            self.log("response", row.id.uuid(), &scopes, super::change::ChangeKind::Put)?;
        }
        Ok(rows)
    }

    fn groups_today(&mut self, pupil: PupilId) -> Result<Vec<plumbline_core::id::GroupId>, Error> {
        let (school, today) = (self.school(), self.today());
        Ok(db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::pupil_id.eq(pupil))
            .filter(group_member::from_on.le(today))
            .filter(group_member::until_on.is_null().or(group_member::until_on.ge(today)))
            .select(group_member::group_id)
            .load(c))?)
    }

    /// How far each pupil the actor may see is within a round. Counts only: no marks.
    ///
    /// # Errors
    /// If the store fails.
    pub fn round_progress(
        &mut self,
        permit: &Permit<'tx, Read, Round>,
        everyone: bool,
    ) -> Result<Vec<RoundProgress>, Error> {
        let (school, id, today) = (self.school(), permit.resource().0, self.today());
        let pupils: Vec<PupilRow> = db!(self.conn, c => pupil::table
            .filter(pupil::school_id.eq(school))
            .filter(pupil::left_on.is_null().or(pupil::left_on.ge(today)))
            .order((pupil::search_key, pupil::id))
            .select(PupilRow::as_select())
            .load(c))?;
        let near = if everyone { None } else { Some(self.pupils_near()?) };
        let rows: Vec<ResponseRow> = db!(self.conn, c => response::table
            .filter(response::school_id.eq(school))
            .filter(response::round_id.eq(id))
            .select(ResponseRow::as_select())
            .load(c))?;
        let mut answered: BTreeMap<PupilId, BTreeMap<CheckId, usize>> = BTreeMap::new();
        for one in in_force(rows.into_iter().map(response_of).collect()) {
            if one.outcome != Outcome::NotOffered {
                *answered.entry(one.pupil).or_default().entry(one.check).or_default() += 1;
            }
        }
        let classes = self.class_names(today)?;
        Ok(pupils
            .into_iter()
            .filter(|row| near.as_ref().is_none_or(|near| near.contains(&row.id)))
            .map(|pupil| RoundProgress {
                answered: answered.remove(&pupil.id).unwrap_or_default(),
                class: classes.get(&pupil.id).cloned(),
                pupil,
            })
            .collect())
    }

    /// Pupils who are today in a class or group the actor is assigned to today.
    fn pupils_near(&mut self) -> Result<std::collections::BTreeSet<PupilId>, Error> {
        let (school, staff, on) = (self.school(), self.actor.staff, self.today());
        let by_group: Vec<PupilId> = db!(self.conn, c => group_member::table
            .inner_join(group_staff::table.on(group_staff::school_id.eq(group_member::school_id)
                .and(group_staff::group_id.eq(group_member::group_id))))
            .filter(group_member::school_id.eq(school))
            .filter(group_member::from_on.le(on))
            .filter(group_member::until_on.is_null().or(group_member::until_on.ge(on)))
            .filter(group_staff::staff_id.eq(staff))
            .filter(group_staff::from_on.le(on))
            .filter(group_staff::until_on.is_null().or(group_staff::until_on.ge(on)))
            .select(group_member::pupil_id)
            .load(c))?;
        let by_class: Vec<PupilId> = db!(self.conn, c => class_member::table
            .inner_join(class_staff::table.on(class_staff::school_id.eq(class_member::school_id)
                .and(class_staff::class_id.eq(class_member::class_id))))
            .filter(class_member::school_id.eq(school))
            .filter(class_member::from_on.le(on))
            .filter(class_member::until_on.is_null().or(class_member::until_on.ge(on)))
            .filter(class_staff::staff_id.eq(staff))
            .filter(class_staff::from_on.le(on))
            .filter(class_staff::until_on.is_null().or(class_staff::until_on.ge(on)))
            .select(class_member::pupil_id)
            .load(c))?;
        Ok(by_group.into_iter().chain(by_class).collect())
    }

    /// All responses of the school up to a day, for counting.
    pub(super) fn all_responses(&mut self, until: Date) -> Result<Vec<(RoundId, Response)>, Error> {
        let school = self.school();
        let rows: Vec<ResponseRow> = db!(self.conn, c => response::table
            .filter(response::school_id.eq(school))
            .filter(response::on_date.le(until))
            .select(ResponseRow::as_select())
            .load(c))?;
        Ok(rows.into_iter().map(|row| (row.round_id, response_of(row))).collect())
    }
}

fn check_row((id, name, kind, items, v): CheckTuple) -> Result<CheckRow, Error> {
    Ok(CheckRow { id, name, kind, items: serde_json::from_value(items)?, v })
}

/// The core's form of a stored response.
pub(crate) fn response_of(row: ResponseRow) -> Response {
    Response {
        id: row.id,
        check: row.check_id,
        item: row.item_id,
        pupil: row.pupil_id,
        on: row.on_date,
        outcome: row.outcome,
        taken_by: row.taken_by,
        entered_by: row.entered_by,
        corrects: row.corrects,
    }
}
