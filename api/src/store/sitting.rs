//! Sittings: who asks which pupil which check, and who goes on with it. What was answered are responses.

use std::collections::BTreeSet;

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Record, resource::PupilSittings},
    check::ResponseMode,
    id::{CheckId, PupilId, ResponseId, RoundId, SchoolId, SittingId, StaffId},
    time::{Date, Instant},
};
use serde_json::{Value, json};

use super::{
    CheckRow, Error, NewResponse, Permit, ResponseRow, RoundRow, Tx,
    conn::db,
    schema::{response, sitting},
};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = sitting, treat_none_as_default_value = false)]
pub(super) struct SittingRow {
    school_id: SchoolId,
    id: SittingId,
    round_id: RoundId,
    pupil_id: PupilId,
    check_id: CheckId,
    begun_at: Instant,
    adults: Value,
    paused_at: Option<Instant>,
    finished_at: Option<Instant>,
    finished_by: Option<StaffId>,
    v: i64,
}

/// One adult asking one pupil one check.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sitting {
    /// Its id.
    pub id: SittingId,
    /// The round.
    pub round: RoundId,
    /// The pupil.
    pub pupil: PupilId,
    /// The check.
    pub check: CheckId,
    /// When it was begun.
    pub begun_at: Instant,
    /// Who had it, one after the other, the one who has it last.
    pub adults: Vec<StaffId>,
    /// Who has it.
    pub holder: StaffId,
    /// Since when it is paused.
    pub paused_at: Option<Instant>,
    /// When it was finished.
    pub finished_at: Option<Instant>,
    /// Who finished it.
    pub finished_by: Option<StaffId>,
}

impl Sitting {
    /// Hands it to another adult.
    pub fn hand_to(&mut self, staff: StaffId) {
        self.adults.push(staff);
        self.holder = staff;
    }
}

impl TryFrom<SittingRow> for Sitting {
    type Error = Error;
    fn try_from(row: SittingRow) -> Result<Self, Error> {
        let adults: Vec<StaffId> = serde_json::from_value(row.adults)?;
        let holder = adults.last().copied();
        Ok(Self {
            id: row.id,
            round: row.round_id,
            pupil: row.pupil_id,
            check: row.check_id,
            begun_at: row.begun_at,
            holder: holder.ok_or_else(|| Error::Damaged("a sitting nobody has".into()))?,
            adults,
            paused_at: row.paused_at,
            finished_at: row.finished_at,
            finished_by: row.finished_by,
        })
    }
}

/// A sitting with all it rests on; or what one would rest on.
#[derive(Clone, Debug)]
pub struct SittingView {
    /// The sitting, if there is one.
    pub sitting: Option<Sitting>,
    /// The round.
    pub round: RoundRow,
    /// What is asked.
    pub check: CheckRow,
    /// The pupil's responses to it in the round, in order of entry.
    pub responses: Vec<ResponseRow>,
    /// The pupil's last day here.
    pub left_on: Option<Date>,
    /// How the pupil usually answers.
    pub usual: ResponseMode,
    /// Where the actor is asked to mark this a second time: whether the marks are given.
    pub second_marks_given: Option<bool>,
    /// Whether the round asks the pupil.
    pub is_asked: bool,
}

impl<'tx> Tx<'tx> {
    /// What a sitting would rest on. The reading is of the pupil.
    ///
    /// # Errors
    /// [`Error::Missing`] if the round does not hold the check.
    pub fn before_sitting<A>(
        &mut self,
        permit: &Permit<'tx, A, PupilSittings>,
        check: CheckId,
    ) -> Result<SittingView, Error> {
        let PupilSittings { round, pupil, on } = *permit.resource();
        let (round_row, check) = self.check_in(round, check)?;
        let mut responses = self.responses_in(round, pupil)?;
        responses.retain(|row| row.check_id == check.id);
        let left_on = self.left_on(pupil)?;
        let usual = self.usual_modes(&[pupil], self.today())?.remove(&pupil).unwrap_or(ResponseMode::Spoken);
        let sample = self.samples_in(round, pupil)?.remove(&check.id);
        let mine = sample.filter(|sample| sample.staff_id == self.actor.staff);
        let second_marks_given = mine.map(|sample| sample.given_at.is_some());
        let is_asked = self.asks(&round_row, pupil, on)?;
        Ok(SittingView {
            sitting: None,
            round: round_row,
            check,
            responses,
            left_on,
            usual,
            second_marks_given,
            is_asked,
        })
    }

    /// A sitting of the pupil in the round.
    ///
    /// # Errors
    /// [`Error::Missing`] if there is none of this id.
    pub fn sitting<A>(
        &mut self,
        permit: &Permit<'tx, A, PupilSittings>,
        id: SittingId,
    ) -> Result<SittingView, Error> {
        let PupilSittings { round, pupil, .. } = *permit.resource();
        let found = self.sitting_found(id)?.filter(|one| (one.round, one.pupil) == (round, pupil));
        let sitting = found.ok_or(Error::Missing)?;
        let view = self.before_sitting(permit, sitting.check)?;
        Ok(SittingView { sitting: Some(sitting), ..view })
    }

    fn sitting_found(&mut self, id: SittingId) -> Result<Option<Sitting>, Error> {
        let school = self.school();
        let row: Option<SittingRow> = db!(self.conn, c => sitting::table
            .find((school, id))
            .select(SittingRow::as_select())
            .first(c)
            .optional())?;
        row.map(Sitting::try_from).transpose()
    }

    /// Whatever sitting of the school has this id: of the pupil, or of another.
    ///
    /// # Errors
    /// If the store fails.
    pub fn sitting_of_id(
        &mut self,
        _permit: &Permit<'tx, Record, PupilSittings>,
        id: SittingId,
    ) -> Result<Option<Sitting>, Error> {
        self.sitting_found(id)
    }

    /// The sitting of the pupil with this check that goes on in the round.
    ///
    /// # Errors
    /// If the store fails.
    pub fn open_sitting(
        &mut self,
        permit: &Permit<'tx, Record, PupilSittings>,
        check: CheckId,
    ) -> Result<Option<Sitting>, Error> {
        let (school, PupilSittings { round, pupil, .. }) = (self.school(), *permit.resource());
        let row: Option<SittingRow> = db!(self.conn, c => sitting::table
            .filter(sitting::school_id.eq(school))
            .filter(sitting::round_id.eq(round))
            .filter(sitting::pupil_id.eq(pupil))
            .filter(sitting::check_id.eq(check))
            .filter(sitting::finished_at.is_null())
            .order((sitting::begun_at, sitting::id))
            .select(SittingRow::as_select())
            .first(c)
            .optional())?;
        row.map(Sitting::try_from).transpose()
    }

    /// The sittings of a round, in the order they were begun.
    pub(super) fn sittings_in(&mut self, round: RoundId) -> Result<Vec<Sitting>, Error> {
        let school = self.school();
        let rows: Vec<SittingRow> = db!(self.conn, c => sitting::table
            .filter(sitting::school_id.eq(school))
            .filter(sitting::round_id.eq(round))
            .order((sitting::begun_at, sitting::id))
            .select(SittingRow::as_select())
            .load(c))?;
        rows.into_iter().map(Sitting::try_from).collect()
    }

    /// Begins a sitting, under the id a device gave it or one of the server's.
    ///
    /// # Errors
    /// If the store fails.
    pub fn begin_sitting(
        &mut self,
        permit: &Permit<'tx, Record, PupilSittings>,
        id: Option<SittingId>,
        check: CheckId,
    ) -> Result<Sitting, Error> {
        let (school, PupilSittings { round, pupil, .. }) = (self.school(), *permit.resource());
        let row = SittingRow {
            school_id: school,
            id: id.unwrap_or_else(|| self.new_id()),
            round_id: round,
            pupil_id: pupil,
            check_id: check,
            begun_at: self.now(),
            adults: json!([self.actor.staff]),
            paused_at: None,
            finished_at: None,
            finished_by: None,
            v: self.version,
        };
        db!(self.conn, c => diesel::insert_into(sitting::table).values(&row).execute(c))?;
        let begun = Sitting::try_from(row)?;
        self.log_sitting(&begun)?;
        Ok(begun)
    }

    /// Keeps who has a sitting, and whether it is paused or finished.
    ///
    /// # Errors
    /// If the store fails.
    pub fn save_sitting(
        &mut self,
        _permit: &Permit<'tx, Record, PupilSittings>,
        one: &Sitting,
    ) -> Result<(), Error> {
        let (school, v, adults) = (self.school(), self.version, json!(one.adults));
        db!(self.conn, c => diesel::update(sitting::table.find((school, one.id)))
            .set((
                sitting::adults.eq(&adults),
                sitting::paused_at.eq(one.paused_at),
                sitting::finished_at.eq(one.finished_at),
                sitting::finished_by.eq(one.finished_by),
                sitting::v.eq(v),
            ))
            .execute(c))?;
        self.log_sitting(one)
    }

    fn log_sitting(&mut self, one: &Sitting) -> Result<(), Error> {
        self.about("pupil", one.pupil.uuid());
        let scopes = self.scopes_of(one.pupil)?;
        let body = json!({"round_id": one.round, "pupil_id": one.pupil, "check_id": one.check,
            "adults": one.adults, "paused": one.paused_at.is_some(), "finished_by": one.finished_by});
        self.save("sitting", one.id.uuid(), &scopes, &body)
    }

    /// Writes down answers given in a sitting.
    ///
    /// # Errors
    /// [`Error::Conflict`] if an id is taken or a response was corrected already.
    pub fn answer_sitting(
        &mut self,
        permit: &Permit<'tx, Record, PupilSittings>,
        new: &[NewResponse],
    ) -> Result<Vec<ResponseRow>, Error> {
        let PupilSittings { round, pupil, .. } = *permit.resource();
        self.insert_responses(round, pupil, new)
    }

    /// Which of some ids belong to responses of the school, of whichever pupil.
    ///
    /// # Errors
    /// If the store fails.
    pub fn response_ids(
        &mut self,
        _permit: &Permit<'tx, Record, PupilSittings>,
        ids: &[ResponseId],
    ) -> Result<BTreeSet<ResponseId>, Error> {
        let school = self.school();
        let found: Vec<ResponseId> = db!(self.conn, c => response::table
            .filter(response::school_id.eq(school))
            .filter(response::id.eq_any(ids))
            .select(response::id)
            .load(c))?;
        Ok(found.into_iter().collect())
    }
}
