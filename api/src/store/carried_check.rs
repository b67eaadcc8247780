//! Answers carried in: what pupils were checked on before the records here begin.

use std::collections::{BTreeMap, BTreeSet};

use diesel::{prelude::*, upsert::excluded};
use plumbline_core::{
    access::{
        act::{Manage, Record},
        resource::{GroupPast, PupilTransfer},
    },
    check::{CarriedAnswers, CarriedChange, KnownPupil, carried_check_id},
    id::{CarriedCheckId, ItemId, PupilId, SchoolId, StaffId},
    roster::Upn,
    time::{Date, Instant},
};
use serde_json::{Value, json};

use super::{
    Error, MemberRow, Permit, PupilView, Tx, change::Scope, conn::db, pupil::PupilRow, response::Blind,
    schema::carried_check,
};

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
    /// The ids of the GPCs whose answers another school's file brought.
    pub transferred: Value,
}

impl CarriedCheckRow {
    /// The answers by GPC.
    ///
    /// # Errors
    /// If the row is damaged.
    pub fn by_gpc(&self) -> Result<CarriedAnswers, Error> {
        Ok(serde_json::from_value(self.answers.clone())?)
    }

    /// The GPCs whose answers another school's file brought.
    ///
    /// # Errors
    /// If the row is damaged.
    pub(super) fn brought(&self) -> Result<BTreeSet<ItemId>, Error> {
        Ok(serde_json::from_value(self.transferred.clone())?)
    }
}

/// Who says what is carried in.
#[derive(Clone, Copy, PartialEq, Eq)]
enum By {
    Hand,
    File,
}

/// What the school knows of a pupil of whom another school's file comes.
#[derive(Debug)]
pub struct Receiver {
    /// The pupil.
    pub pupil: KnownPupil,
    /// Every unique pupil number the pupil had.
    pub upns: Vec<Upn>,
    /// Days on which a check of this school asked the pupil a GPC.
    pub asked_here: BTreeSet<(Date, ItemId)>,
    /// Answers that are carried in, by day.
    pub carried: BTreeMap<Date, CarriedAnswers>,
    /// The GPCs of those that another school's file brought.
    pub transferred: BTreeMap<Date, BTreeSet<ItemId>>,
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
            let upn = upns.remove(&row.pupil.id);
            (row.pupil.id, known(row.pupil, upn))
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
        self.about("group", permit.resource().0.uuid());
        for change in changes.iter().filter(|change| change.changes()) {
            let scopes = self.scopes_today(change.pupil)?;
            self.write_carried(on, change, &scopes, By::Hand)?;
        }
        Ok(())
    }

    /// What another school's file of a pupil, who is the subject, is held against.
    ///
    /// # Errors
    /// If the store fails.
    pub fn receiver(&mut self, permit: &Permit<'tx, Manage, PupilTransfer>) -> Result<Receiver, Error> {
        let pupil = permit.resource().0;
        self.about("pupil", pupil.uuid());
        let PupilView { row, upn, .. } = self.views_of(&[pupil])?.remove(&pupil).ok_or(Error::Missing)?;
        let (mut carried, mut transferred) = (BTreeMap::new(), BTreeMap::new());
        for row in self.carried_of(&[pupil], None)? {
            carried.insert(row.on_date, row.by_gpc()?);
            transferred.insert(row.on_date, row.brought()?);
        }
        let gpcs = self.gpcs_asked()?;
        let asked = self.counting_responses(&[pupil], &Blind::new())?.into_iter();
        Ok(Receiver {
            upns: self.all_upns_of(pupil)?.into_iter().map(|(upn, ..)| upn).collect(),
            asked_here: asked.filter_map(|one| Some((one.on, *gpcs.get(&one.item)?))).collect(),
            carried,
            transferred,
            pupil: known(row, upn),
        })
    }

    /// Whether a unique pupil number is another pupil's here.
    ///
    /// # Errors
    /// If the store fails.
    pub fn is_anothers(
        &mut self,
        permit: &Permit<'tx, Manage, PupilTransfer>,
        upn: &Upn,
    ) -> Result<bool, Error> {
        let pupil = permit.resource().0;
        Ok(self.upns()?.iter().any(|(id, one)| *id != pupil && one == upn))
    }

    /// Writes what another school's file changes of the pupil's answers, by day.
    ///
    /// # Errors
    /// [`Error::Missing`] if one is of another pupil.
    pub fn save_transferred(
        &mut self,
        permit: &Permit<'tx, Manage, PupilTransfer>,
        changes: &[(Date, CarriedChange)],
    ) -> Result<(), Error> {
        let pupil = permit.resource().0;
        if changes.iter().any(|(_, change)| change.pupil != pupil) {
            return Err(Error::Missing);
        }
        let scopes = self.scopes_today(pupil)?;
        for (on, change) in changes.iter().filter(|(_, change)| change.changes()) {
            self.write_carried(*on, change, &scopes, By::File)?;
        }
        Ok(())
    }

    /// The groups a pupil is in today, as scopes.
    pub(super) fn scopes_today(&mut self, pupil: PupilId) -> Result<Vec<Scope>, Error> {
        Ok(self.groups_today(pupil)?.into_iter().map(Scope::Group).collect())
    }

    fn write_carried(
        &mut self,
        on: Date,
        change: &CarriedChange,
        scopes: &[Scope],
        by: By,
    ) -> Result<(), Error> {
        let (school, pupil) = (self.school(), change.pupil);
        let id = carried_check_id(pupil, on);
        if change.then.is_empty() {
            db!(self.conn, c => diesel::delete(carried_check::table.find((school, id))).execute(c))?;
            return self.save_gone("carried_check", id.uuid(), scopes);
        }
        let old = self.carried_of(&[pupil], Some((on, on)))?.into_iter().next();
        let (answers, mut brought) = match &old {
            Some(old) => (old.by_gpc()?, old.brought()?),
            None => Default::default(),
        };
        let stays = |item: &ItemId| answers.get(item) == change.then.get(item);
        brought.retain(stays);
        if by == By::File {
            brought.extend(change.then.keys().filter(|item| !stays(item)));
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
            transferred: serde_json::to_value(&brought)?,
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
                    carried_check::transferred.eq(excluded(carried_check::transferred)),
                ))
                .execute(c))?;
        let body = json!({"pupil_id": pupil, "on": on, "answers": row.answers});
        self.save("carried_check", id.uuid(), scopes, &body)
    }
}

/// A pupil as a file may name it.
fn known(row: PupilRow, upn: Option<Upn>) -> KnownPupil {
    KnownPupil {
        reference: row.pupil_ref,
        upn,
        given_name: row.given_name,
        family_name: row.family_name,
        preferred_name: row.preferred_name,
        born: row.date_of_birth,
    }
}
