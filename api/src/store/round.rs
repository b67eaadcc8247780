//! Rounds of checks.

use std::collections::{BTreeMap, BTreeSet};

use diesel::{
    dsl::{count_star, exists, not},
    prelude::*,
};
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::{Checks, Round},
    },
    check::{CheckKind, Dates, RoundPlan},
    id::{CheckId, ClassId, GroupId, PupilId, RoundId, StaffId},
    time::Date,
};
use serde_json::{Value, json};

use super::{
    Error, Permit, Tx,
    change::Scope,
    conn::db,
    schema::{
        check_definition, check_round, class, placement, pupil, response, round_check, staff, teaching_group,
    },
    tx::days_after,
};

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
    /// Whom it is for and who checks whom, by the records there are now.
    pub plan: RoundPlan,
    /// The day on which its days were last said, where that is known.
    pub said_on: Option<Date>,
    /// Its version.
    pub v: i64,
}

impl RoundRow {
    /// The last day on which answers given in the round are taken: so many days after it closed, or after its
    /// days were said, where that was later.
    pub fn taken_until(&self, late_days: u32) -> Date {
        days_after(self.said_on.map_or(self.closes_on, |said| said.max(self.closes_on)), late_days)
    }
}

type RoundTuple = (RoundId, String, Date, Date, Value, Option<Date>, i64);

/// The columns of a round.
macro_rules! columns {
    () => {
        (
            check_round::id,
            check_round::name,
            check_round::opens_on,
            check_round::closes_on,
            check_round::plan,
            check_round::said_on,
            check_round::v,
        )
    };
}

impl<'tx> Tx<'tx> {
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
            .select(columns!())
            .load(c))?;
        self.planned(rows)
    }

    /// The rounds that are open today, with whom an adult is to check in them said.
    ///
    /// # Errors
    /// If the store fails.
    pub fn open_rounds(&mut self, _permit: &Permit<'tx, Read, Checks>) -> Result<Vec<RoundRow>, Error> {
        let (school, today) = (self.school(), self.today());
        let rows: Vec<RoundTuple> = db!(self.conn, c => check_round::table
            .filter(check_round::school_id.eq(school))
            .filter(check_round::opens_on.le(today))
            .filter(check_round::closes_on.ge(today))
            .order((check_round::closes_on, check_round::id))
            .select(columns!())
            .load(c))?;
        let rows = self.planned(rows)?;
        Ok(rows.into_iter().filter(|round| !round.plan.checkers.is_empty()).collect())
    }

    fn planned(&mut self, rows: Vec<RoundTuple>) -> Result<Vec<RoundRow>, Error> {
        let school = self.school();
        let ids: Vec<RoundId> = rows.iter().map(|row| row.0).collect();
        let held: Vec<(RoundId, CheckId)> = db!(self.conn, c => round_check::table
            .filter(round_check::school_id.eq(school))
            .filter(round_check::round_id.eq_any(&ids))
            .order((round_check::round_id, round_check::check_id))
            .select((round_check::round_id, round_check::check_id))
            .load(c))?;
        let mut checks: BTreeMap<RoundId, Vec<CheckId>> = BTreeMap::new();
        for (round, check) in held {
            checks.entry(round).or_default().push(check);
        }
        let row = |(id, name, opens_on, closes_on, plan, said_on, v): RoundTuple| {
            let (plan, checks) = (serde_json::from_value(plan)?, checks.remove(&id).unwrap_or_default());
            Ok(RoundRow { id, name, opens_on, closes_on, checks, plan, said_on, v })
        };
        let mut rounds: Vec<RoundRow> = rows.into_iter().map(row).collect::<Result<_, Error>>()?;
        if rounds.iter().any(|round| round.plan.names_pupils()) {
            let merged = self.merged_records()?;
            rounds.iter_mut().for_each(|round| round.plan.rename(|pupil| merged.now(pupil)));
        }
        Ok(rounds)
    }

    /// One round.
    ///
    /// # Errors
    /// If the store fails.
    pub fn round<A>(&mut self, permit: &Permit<'tx, A, Round>) -> Result<RoundRow, Error> {
        self.round_row(permit.resource().0)
    }

    /// Says in the audit log that a reading of names was for a round.
    pub fn note_log_sheet(&mut self, permit: &Permit<'tx, Read, Round>) {
        self.about("check_round", permit.resource().0.uuid());
    }

    pub(super) fn round_row(&mut self, id: RoundId) -> Result<RoundRow, Error> {
        let school = self.school();
        let row: RoundTuple = db!(self.conn, c => check_round::table
            .find((school, id))
            .select(columns!())
            .first(c))?;
        self.planned(vec![row])?.pop().ok_or(Error::Missing)
    }

    /// Adds a round.
    ///
    /// # Errors
    /// [`Error::Missing`] for an unknown check.
    pub fn add_round(
        &mut self,
        _permit: &Permit<'tx, Manage, Checks>,
        name: &str,
        dates: Dates,
        checks: &[CheckId],
        plan: &RoundPlan,
    ) -> Result<RoundRow, Error> {
        let school = self.school();
        for check in checks {
            db!(self.conn, c => check_definition::table
                .find((school, check))
                .filter(check_definition::kind.ne(CheckKind::Placement))
                .select(check_definition::id)
                .first::<CheckId>(c))?;
        }
        self.insert_round(None, name, dates, checks, plan)
    }

    pub(super) fn insert_round(
        &mut self,
        id: Option<RoundId>,
        name: &str,
        dates: Dates,
        checks: &[CheckId],
        plan: &RoundPlan,
    ) -> Result<RoundRow, Error> {
        let (school, v) = (self.school(), self.version);
        let id = id.unwrap_or_else(|| self.new_id());
        let (today, json_plan) = (self.today(), serde_json::to_value(plan)?);
        db!(self.conn, c => diesel::insert_into(check_round::table)
            .values((
                check_round::school_id.eq(school),
                check_round::id.eq(id),
                check_round::name.eq(name),
                check_round::opens_on.eq(dates.opens_on),
                check_round::closes_on.eq(dates.closes_on),
                check_round::plan.eq(&json_plan),
                check_round::said_on.eq(Some(today)),
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
        self.save_round(id)
    }

    /// Changes a round. Days said anew count as said today.
    ///
    /// # Errors
    /// If the store fails.
    pub fn update_round(
        &mut self,
        permit: &Permit<'tx, Manage, Round>,
        name: &str,
        dates: Dates,
        plan: &RoundPlan,
    ) -> Result<RoundRow, Error> {
        let (school, id, v) = (self.school(), permit.resource().0, self.version);
        let before = self.round_row(id)?;
        let same = (before.opens_on, before.closes_on) == (dates.opens_on, dates.closes_on);
        let said_on = if same { before.said_on } else { Some(self.today()) };
        let plan = serde_json::to_value(plan)?;
        db!(self.conn, c => diesel::update(check_round::table.find((school, id)))
            .set((
                check_round::name.eq(name),
                check_round::opens_on.eq(dates.opens_on),
                check_round::closes_on.eq(dates.closes_on),
                check_round::plan.eq(&plan),
                check_round::said_on.eq(said_on),
                check_round::v.eq(v),
            ))
            .execute(c))?;
        self.save_round(id)
    }

    fn save_round(&mut self, id: RoundId) -> Result<RoundRow, Error> {
        let row = self.round_row(id)?;
        let body = json!({"name": row.name, "opens_on": row.opens_on, "closes_on": row.closes_on,
                          "checks": row.checks, "plan": row.plan});
        self.save("check_round", id.uuid(), &[Scope::School], &body)?;
        Ok(row)
    }

    /// How many answers of a round were given on which day; what was corrected counts once.
    ///
    /// # Errors
    /// If the store fails.
    pub fn answer_days<A>(&mut self, permit: &Permit<'tx, A, Round>) -> Result<Vec<(Date, usize)>, Error> {
        let (school, id) = (self.school(), permit.resource().0);
        let rows: Vec<(Date, i64)> = db!(self.conn, c => response::table
            .filter(response::school_id.eq(school))
            .filter(response::round_id.eq(id))
            .filter(response::corrects.is_null())
            .group_by(response::on_date)
            .select((response::on_date, count_star()))
            .load(c))?;
        Ok(rows.into_iter().map(|(day, count)| (day, usize::try_from(count).unwrap_or(0))).collect())
    }

    /// The first place of a plan that names nobody of this school; none where all are known.
    ///
    /// # Errors
    /// If the store fails.
    pub fn unknown_in_plan<A, R>(
        &mut self,
        _permit: &Permit<'tx, A, R>,
        plan: &RoundPlan,
    ) -> Result<Option<String>, Error> {
        let school = self.school();
        let (whom, checkers) = (plan.whom.clone().unwrap_or_default(), &plan.checkers);
        macro_rules! known {
            ($table:ident, $ids:expr) => {{
                let ids: Vec<_> = $ids.collect();
                let found: Vec<_> = db!(self.conn, c => $table::table
                    .filter($table::school_id.eq(school))
                    .filter($table::id.eq_any(&ids))
                    .select($table::id)
                    .load(c))?;
                found.into_iter().collect::<BTreeSet<_>>()
            }};
        }
        let of_class = checkers.iter().filter_map(|one| one.class_id);
        let of_group = checkers.iter().filter_map(|one| one.group_id);
        let of_pupil = checkers.iter().filter_map(|one| one.pupil_id);
        let classes: BTreeSet<ClassId> = known!(class, whom.class_ids.iter().copied().chain(of_class));
        let groups: BTreeSet<GroupId> =
            known!(teaching_group, whom.group_ids.iter().copied().chain(of_group));
        let pupils: BTreeSet<PupilId> = known!(pupil, whom.pupil_ids.iter().copied().chain(of_pupil));
        let staff: BTreeSet<StaffId> = known!(staff, checkers.iter().map(|one| one.staff_id));
        let at = |list: &str, n: Option<usize>| n.map(|n| format!("whom.{list}[{n}]"));
        let first = at("class_ids", whom.class_ids.iter().position(|id| !classes.contains(id)))
            .or_else(|| at("group_ids", whom.group_ids.iter().position(|id| !groups.contains(id))))
            .or_else(|| at("pupil_ids", whom.pupil_ids.iter().position(|id| !pupils.contains(id))));
        let of_line = checkers.iter().enumerate().find_map(|(n, one)| {
            let faults = [
                ("staff_id", !staff.contains(&one.staff_id)),
                ("class_id", one.class_id.is_some_and(|id| !classes.contains(&id))),
                ("group_id", one.group_id.is_some_and(|id| !groups.contains(&id))),
                ("pupil_id", one.pupil_id.is_some_and(|id| !pupils.contains(&id))),
            ];
            let fault = faults.into_iter().find(|(_, unknown)| *unknown)?;
            Some(format!("checkers[{n}].{}", fault.0))
        });
        Ok(first.or(of_line))
    }
}
