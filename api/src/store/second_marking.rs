//! Second marking of a sample of a round's check: who is drawn, who marks, and what is kept from whom until then.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use plumbline_core::{
    access::{
        Actor, Facts,
        act::{Manage, Read, Record},
        authorise,
        resource::{PupilChecks, Round, RoundAgreement},
    },
    check::second::{Basis, Candidate, Drawn},
    id::{CheckId, PupilId, RoundId, SchoolId, SecondMarkingId, SecondSampleId, StaffId},
    time::Instant,
};

use super::{
    CheckRow, Error, Permit, PupilRow, Tx,
    conn::db,
    exemption::exempting,
    schema::{pupil, response, second_marking, second_sample, staff},
    tx::roles_on,
};

/// Second marking of a sample of one check of one round.
#[derive(Clone, Debug, Insertable, Queryable, Selectable)]
#[diesel(table_name = second_marking, treat_none_as_default_value = false)]
pub struct SecondMarkingRow {
    /// The school.
    pub school_id: SchoolId,
    /// Its id.
    pub id: SecondMarkingId,
    /// The round.
    pub round_id: RoundId,
    /// The check.
    pub check_id: CheckId,
    /// What it was drawn by.
    pub seed: i64,
    /// How many pupils it was drawn from.
    pub drawn_from: i32,
    /// Pupils it was not drawn from: none of the adults asked may mark them a second time.
    pub without_adult: i32,
    /// Who asked for it.
    pub asked_by: StaffId,
    /// When.
    pub at: Instant,
    /// Its version.
    pub v: i64,
}

/// A pupil of the sample.
#[derive(Clone, Debug, Insertable, Queryable, Selectable)]
#[diesel(table_name = second_sample, treat_none_as_default_value = false)]
pub struct SecondSampleRow {
    /// The school.
    pub school_id: SchoolId,
    /// Its id.
    pub id: SecondSampleId,
    /// The sample.
    pub second_marking_id: SecondMarkingId,
    /// The pupil.
    pub pupil_id: PupilId,
    /// Who marks a second time.
    pub staff_id: StaffId,
    /// What the marks rest on, once given.
    pub basis: Option<Basis>,
    /// When they were given.
    pub given_at: Option<Instant>,
    /// Its version: that of the marks, once given.
    pub v: i64,
}

/// A pupil of a sample with the name and today's class.
#[derive(Clone, Debug)]
pub struct SecondSampleView {
    /// The place in the sample.
    pub row: SecondSampleRow,
    /// The pupil.
    pub pupil: PupilRow,
    /// The class today.
    pub class: Option<String>,
}

impl<'tx> Tx<'tx> {
    /// Pupils whom the round asks a check and of whom it can be marked twice, each with those of some adults who may
    /// mark it and are not who asks first. Who may, the policy says.
    ///
    /// # Errors
    /// [`Error::Missing`] for an adult who is not of this school's staff, or no longer.
    pub fn second_candidates(
        &mut self,
        permit: &Permit<'tx, Manage, Round>,
        check: &CheckRow,
        adults: &[StaffId],
    ) -> Result<Vec<Candidate>, Error> {
        let (school, id, today) = (self.school(), permit.resource().0, self.today());
        let round = self.round_row(id)?;
        let mut may: Vec<(Actor, BTreeSet<PupilId>)> = Vec::new();
        for adult in adults {
            db!(self.conn, c => staff::table
                .find((school, adult))
                .filter(staff::disabled_at.is_null())
                .select(staff::id)
                .first::<StaffId>(c))?;
            let roles = roles_on(&mut self.conn, school, *adult, today)?.into_iter().collect();
            may.push((Actor { school, staff: *adult, session: None, roles }, self.pupils_near(*adult)?));
        }
        let pupils: Vec<PupilId> = db!(self.conn, c => pupil::table
            .filter(pupil::school_id.eq(school))
            .filter(pupil::left_on.is_null().or(pupil::left_on.ge(today)))
            .order(pupil::id)
            .select(pupil::id)
            .load(c))?;
        let out_of_reach = self.not_accessible_on(&pupils, std::slice::from_ref(check), today)?;
        let (whom, exemptions) = (self.whom_on(&round, today)?, self.exemptions_in(id)?);
        let first = self.first_markers(id, check.id)?;
        let candidate = |pupil: PupilId| {
            let can = |(actor, near): &&(Actor, BTreeSet<PupilId>)| {
                let facts = Facts { exists: true, assigned: near.contains(&pupil) };
                authorise::<Record, _>(actor, PupilChecks { round: id, pupil, on: None }, facts).is_ok()
                    && !first.contains(&(pupil, actor.staff))
            };
            Candidate { pupil, adults: may.iter().filter(can).map(|(actor, _)| actor.staff).collect() }
        };
        let to_mark = |pupil: &PupilId| {
            whom.holds(&round.plan, *pupil)
                && !out_of_reach.contains(&(*pupil, check.id))
                && exempting(&exemptions, *pupil, check.id).is_none()
        };
        Ok(pupils.into_iter().filter(to_mark).map(candidate).collect())
    }

    /// Who asked, entered or began a check of a round, of which pupil.
    fn first_markers(
        &mut self,
        round: RoundId,
        check: CheckId,
    ) -> Result<BTreeSet<(PupilId, StaffId)>, Error> {
        let school = self.school();
        let rows: Vec<(PupilId, StaffId, StaffId)> = db!(self.conn, c => response::table
            .filter(response::school_id.eq(school))
            .filter(response::round_id.eq(round))
            .filter(response::check_id.eq(check))
            .select((response::pupil_id, response::taken_by, response::entered_by))
            .load(c))?;
        let marked = rows.into_iter().flat_map(|(pupil, taken, entered)| [(pupil, taken), (pupil, entered)]);
        let begun = self.sittings_in(round)?.into_iter().filter(|one| one.check == check);
        let begun = begun.flat_map(|one| one.adults.into_iter().map(move |adult| (one.pupil, adult)));
        Ok(marked.chain(begun).collect())
    }

    /// Keeps a sample that was drawn.
    ///
    /// # Errors
    /// [`Error::Conflict`] if the round's check has one.
    pub fn add_second_marking(
        &mut self,
        permit: &Permit<'tx, Manage, Round>,
        check: CheckId,
        seed: u32,
        drawn_from: usize,
        drawn: &Drawn,
    ) -> Result<SecondMarkingRow, Error> {
        let (school, round) = (self.school(), permit.resource().0);
        if self.marking_of(round, check)?.is_some() {
            return Err(Error::Conflict);
        }
        let row = SecondMarkingRow {
            school_id: school,
            id: self.new_id(),
            round_id: round,
            check_id: check,
            seed: seed.into(),
            drawn_from: i32::try_from(drawn_from).unwrap_or(i32::MAX),
            without_adult: i32::try_from(drawn.without_adult).unwrap_or(i32::MAX),
            asked_by: self.actor.staff,
            at: self.now(),
            v: self.version,
        };
        db!(self.conn, c => diesel::insert_into(second_marking::table).values(&row).execute(c))?;
        // Ids of one moment come in any order; sorted, they keep the order drawn.
        let mut ids: Vec<SecondSampleId> = drawn.pupils.iter().map(|_| self.new_id()).collect();
        ids.sort_unstable();
        let places = drawn.pupils.iter().zip(ids).map(|((pupil, adult), id)| SecondSampleRow {
            school_id: school,
            id,
            second_marking_id: row.id,
            pupil_id: *pupil,
            staff_id: *adult,
            basis: None,
            given_at: None,
            v: row.v,
        });
        let places: Vec<SecondSampleRow> = places.collect();
        db!(self.conn, c => diesel::insert_into(second_sample::table).values(&places).execute(c))?;
        let pupils: Vec<PupilId> = places.iter().map(|place| place.pupil_id).collect();
        self.told_to_others(round, check, &pupils)?;
        self.about("second_marking", row.id.uuid());
        Ok(row)
    }

    pub(super) fn marking_of(
        &mut self,
        round: RoundId,
        check: CheckId,
    ) -> Result<Option<SecondMarkingRow>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => second_marking::table
            .filter(second_marking::school_id.eq(school))
            .filter(second_marking::round_id.eq(round))
            .filter(second_marking::check_id.eq(check))
            .select(SecondMarkingRow::as_select())
            .first(c)
            .optional())?)
    }

    /// The round's samples in the order asked for, each with its pupils: all of them to whoever may ask how far
    /// markers agree, and to others those they are to mark themselves.
    ///
    /// # Errors
    /// If the store fails.
    pub fn second_markings(
        &mut self,
        permit: &Permit<'tx, Read, Round>,
    ) -> Result<Vec<(SecondMarkingRow, Vec<SecondSampleView>)>, Error> {
        let (school, round, me) = (self.school(), permit.resource().0, self.actor.staff);
        let all = self.permit_if_allowed::<Read, _>(RoundAgreement(round))?.is_some();
        let markings: Vec<SecondMarkingRow> = db!(self.conn, c => second_marking::table
            .filter(second_marking::school_id.eq(school))
            .filter(second_marking::round_id.eq(round))
            .order((second_marking::at, second_marking::id))
            .select(SecondMarkingRow::as_select())
            .load(c))?;
        let places: Vec<(SecondSampleRow, PupilRow)> = db!(self.conn, c => second_sample::table
            .inner_join(pupil::table.on(pupil::school_id.eq(second_sample::school_id)
                .and(pupil::id.eq(second_sample::pupil_id))))
            .filter(second_sample::school_id.eq(school))
            .filter(second_sample::second_marking_id.eq_any(markings.iter().map(|row| row.id)))
            .order(second_sample::id)
            .select((SecondSampleRow::as_select(), PupilRow::as_select()))
            .load(c))?;
        let classes = self.class_names(self.today())?;
        let mut of: BTreeMap<SecondMarkingId, Vec<SecondSampleView>> = BTreeMap::new();
        for (row, pupil) in places.into_iter().filter(|(row, _)| all || row.staff_id == me) {
            let class = classes.get(&pupil.id).cloned();
            of.entry(row.second_marking_id).or_default().push(SecondSampleView { row, pupil, class });
        }
        let with_pupils = markings.into_iter().map(|row| {
            let pupils = of.remove(&row.id).unwrap_or_default();
            (row, pupils)
        });
        Ok(with_pupils.filter(|(_, pupils)| all || !pupils.is_empty()).collect())
    }

    /// The pupil's place in the sample of a check of the round, if it was drawn. Of a record made of two it is the
    /// one already marked.
    ///
    /// # Errors
    /// If the store fails.
    pub fn second_sample<A>(
        &mut self,
        permit: &Permit<'tx, A, PupilChecks>,
        check: CheckId,
    ) -> Result<Option<SecondSampleRow>, Error> {
        let PupilChecks { round, pupil, .. } = *permit.resource();
        Ok(self.samples_in(round, pupil)?.remove(&check))
    }

    /// The pupil's places in the samples of a round, by check.
    pub(super) fn samples_in(
        &mut self,
        round: RoundId,
        pupil: PupilId,
    ) -> Result<BTreeMap<CheckId, SecondSampleRow>, Error> {
        let school = self.school();
        self.about("pupil", pupil.uuid());
        let mut rows: Vec<(CheckId, SecondSampleRow)> = db!(self.conn, c => second_sample::table
            .inner_join(second_marking::table.on(second_marking::school_id.eq(second_sample::school_id)
                .and(second_marking::id.eq(second_sample::second_marking_id))))
            .filter(second_sample::school_id.eq(school))
            .filter(second_sample::pupil_id.eq(pupil))
            .filter(second_marking::round_id.eq(round))
            .order(second_sample::id.desc())
            .select((second_marking::check_id, SecondSampleRow::as_select()))
            .load(c))?;
        rows.sort_by_key(|(_, row)| row.given_at.is_some());
        Ok(rows.into_iter().collect())
    }

    /// Checks of the round that the actor is asked to mark a second time of this pupil and has not marked yet:
    /// nothing of the first marks may be told.
    ///
    /// # Errors
    /// If the store fails.
    pub fn blind_to<A>(&mut self, permit: &Permit<'tx, A, PupilChecks>) -> Result<BTreeSet<CheckId>, Error> {
        let me = self.actor.staff;
        let PupilChecks { round, pupil, .. } = *permit.resource();
        let samples = self.samples_in(round, pupil)?.into_iter();
        let blind = samples.filter(|(_, row)| row.staff_id == me && row.given_at.is_none());
        Ok(blind.map(|(check, _)| check).collect())
    }
}
