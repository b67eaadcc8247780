//! Answers carried in: what pupils were checked on before the records here begin.

use std::collections::BTreeMap;

use diesel::{prelude::*, upsert::excluded};
use plumbline_core::{
    access::{act::Record, resource::GroupPast},
    check::{CarriedAnswers, CarriedChange, KnownPupil, carried_check_id},
    id::{CarriedCheckId, PupilId, SchoolId, StaffId},
    time::{Date, Instant},
};
use serde_json::{Value, json};

use super::{Error, MemberRow, Permit, Tx, change::Scope, conn::db, schema::carried_check};

/// Answers of one pupil on one day, as stored.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = carried_check, treat_none_as_default_value = false)]
pub struct CarriedCheckRow {
    /// The school.
    pub school_id: SchoolId,
    /// Follows from pupil and day.
    pub id: CarriedCheckId,
    /// The pupil.
    pub pupil_id: PupilId,
    /// The day.
    pub on_date: Date,
    /// Outcomes by the id of the GPC.
    pub answers: Value,
    /// Who entered it last.
    pub entered_by: StaffId,
    /// When.
    pub at: Instant,
    /// Its version.
    pub v: i64,
}

impl CarriedCheckRow {
    /// The answers by GPC.
    ///
    /// # Errors
    /// If the row is damaged.
    pub fn by_gpc(&self) -> Result<CarriedAnswers, Error> {
        Ok(serde_json::from_value(self.answers.clone())?)
    }
}

impl<'tx> Tx<'tx> {
    /// A group's pupils today, by name.
    ///
    /// # Errors
    /// If the store fails.
    pub fn past_members<A>(&mut self, permit: &Permit<'tx, A, GroupPast>) -> Result<Vec<MemberRow>, Error> {
        let (group, today) = (permit.resource().0, self.today());
        self.members_of(group, today)
    }

    /// The group's pupils today, as a file may name them.
    ///
    /// # Errors
    /// If the store fails.
    pub fn known_members<A>(
        &mut self,
        permit: &Permit<'tx, A, GroupPast>,
    ) -> Result<BTreeMap<PupilId, KnownPupil>, Error> {
        let mut upns = self.upns()?;
        let known = |row: MemberRow| {
            let known = KnownPupil {
                reference: row.pupil.pupil_ref,
                upn: upns.remove(&row.pupil.id),
                given_name: row.pupil.given_name,
                family_name: row.pupil.family_name,
                preferred_name: row.pupil.preferred_name,
                born: row.pupil.date_of_birth,
            };
            (row.pupil.id, known)
        };
        Ok(self.past_members(permit)?.into_iter().map(known).collect())
    }

    /// Answers carried in for a group's pupils of today, by day. The group is the subject.
    ///
    /// # Errors
    /// If the store fails.
    pub fn carried_checks<A>(
        &mut self,
        permit: &Permit<'tx, A, GroupPast>,
    ) -> Result<Vec<CarriedCheckRow>, Error> {
        self.about("group", permit.resource().0.uuid());
        let members: Vec<PupilId> =
            self.past_members(permit)?.into_iter().map(|member| member.pupil.id).collect();
        self.carried_of(&members, None)
    }

    /// Rows of some pupils, by day; only of one day or of a span where given, both included.
    pub(super) fn carried_of(
        &mut self,
        pupils: &[PupilId],
        days: Option<(Date, Date)>,
    ) -> Result<Vec<CarriedCheckRow>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => {
            let query = carried_check::table
                .filter(carried_check::school_id.eq(school))
                .filter(carried_check::pupil_id.eq_any(pupils))
                .order((carried_check::on_date, carried_check::pupil_id))
                .select(CarriedCheckRow::as_select())
                .into_boxed();
            match days {
                Some((since, until)) => query.filter(carried_check::on_date.between(since, until)).load(c),
                None => query.load(c),
            }
        })?)
    }

    /// All of the school up to a day, for counting.
    pub(super) fn all_carried(&mut self, until: Date) -> Result<Vec<CarriedCheckRow>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => carried_check::table
            .filter(carried_check::school_id.eq(school))
            .filter(carried_check::on_date.le(until))
            .select(CarriedCheckRow::as_select())
            .load(c))?)
    }

    /// What was carried in for a day, by pupil.
    ///
    /// # Errors
    /// If the store fails.
    pub fn carried_on<A>(
        &mut self,
        permit: &Permit<'tx, A, GroupPast>,
        on: Date,
    ) -> Result<BTreeMap<PupilId, CarriedAnswers>, Error> {
        let members: Vec<PupilId> =
            self.past_members(permit)?.into_iter().map(|member| member.pupil.id).collect();
        let rows = self.carried_of(&members, Some((on, on)))?;
        rows.into_iter().map(|row| Ok((row.pupil_id, row.by_gpc()?))).collect()
    }

    /// Writes what changes of a day's answers; what does not change is left alone.
    ///
    /// # Errors
    /// If the store fails.
    pub fn save_carried(
        &mut self,
        permit: &Permit<'tx, Record, GroupPast>,
        on: Date,
        changes: &[CarriedChange],
    ) -> Result<(), Error> {
        let school = self.school();
        self.about("group", permit.resource().0.uuid());
        for change in changes.iter().filter(|change| change.changes()) {
            let pupil = change.pupil;
            let id = carried_check_id(pupil, on);
            let scopes: Vec<Scope> = self.groups_today(pupil)?.into_iter().map(Scope::Group).collect();
            if change.then.is_empty() {
                db!(self.conn, c => diesel::delete(carried_check::table.find((school, id))).execute(c))?;
                self.save_gone("carried_check", id.uuid(), &scopes)?;
                continue;
            }
            let row = CarriedCheckRow {
                school_id: school,
                id,
                pupil_id: pupil,
                on_date: on,
                answers: serde_json::to_value(&change.then)?,
                entered_by: self.actor.staff,
                at: self.now(),
                v: self.version,
            };
            db!(self.conn, c => diesel::insert_into(carried_check::table)
                .values(&row)
                .on_conflict((carried_check::school_id, carried_check::id))
                .do_update()
                .set((
                    carried_check::answers.eq(excluded(carried_check::answers)),
                    carried_check::entered_by.eq(excluded(carried_check::entered_by)),
                    carried_check::at.eq(excluded(carried_check::at)),
                    carried_check::v.eq(excluded(carried_check::v)),
                ))
                .execute(c))?;
            let body = json!({"pupil_id": pupil, "on": on, "answers": row.answers});
            self.save("carried_check", id.uuid(), &scopes, &body)?;
        }
        Ok(())
    }
}
