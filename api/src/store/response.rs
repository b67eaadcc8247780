//! Responses to checks: events that are only ever added.

use std::collections::BTreeSet;

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Record, resource::PupilChecks},
    check::{CorrectionReason, Heard, Outcome, Response, ResponseMode, in_force},
    id::{CheckId, CheckItemId, PupilId, ResponseId, RoundId, SchoolId, SittingId, StaffId},
    time::{Date, Instant},
};

use super::{
    Error, Permit, Tx,
    conn::{db, held_on},
    schema::{class_member, class_staff, group_member, group_staff, pupil, response},
};

/// First marks that are kept from an adult who is still to give the second, by round, check and pupil.
pub(super) type Blind = BTreeSet<(RoundId, CheckId, PupilId)>;

/// A response to write.
#[derive(Clone, Debug)]
pub struct NewResponse {
    /// The id a device gave it; the server makes one where none did.
    pub id: Option<ResponseId>,
    /// The check.
    pub check: CheckId,
    /// The item.
    pub item: CheckItemId,
    /// The day.
    pub on: Date,
    /// What came of it.
    pub outcome: Outcome,
    /// What was heard instead.
    pub heard: Option<Heard>,
    /// How the pupil answered.
    pub mode: ResponseMode,
    /// The adult who asked.
    pub taken_by: StaffId,
    /// The response it corrects.
    pub corrects: Option<ResponseId>,
    /// Why it does.
    pub reason: Option<CorrectionReason>,
    /// The sitting it was given in.
    pub sitting: Option<SittingId>,
    /// Whether the round was over when it came.
    pub late: bool,
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
    /// What was heard instead, as sounds.
    pub heard: Option<String>,
    /// How the pupil answered.
    pub mode: ResponseMode,
    /// Why it corrects another.
    pub reason: Option<CorrectionReason>,
    /// The sitting it was given in.
    pub sitting_id: Option<SittingId>,
    /// Whether the round was over when it came.
    pub late: bool,
}

/// Rows in one insert: SQLite takes a limited number of values.
const BATCH: usize = 50;

impl<'tx> Tx<'tx> {
    /// One pupil's responses within a round, corrections and corrected ones too, in order of entry.
    ///
    /// # Errors
    /// If the store fails.
    pub fn responses<A>(&mut self, permit: &Permit<'tx, A, PupilChecks>) -> Result<Vec<ResponseRow>, Error> {
        let PupilChecks { round, pupil, .. } = *permit.resource();
        self.responses_in(round, pupil)
    }

    pub(super) fn responses_in(&mut self, round: RoundId, pupil: PupilId) -> Result<Vec<ResponseRow>, Error> {
        let school = self.school();
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
        let PupilChecks { round, pupil, .. } = *permit.resource();
        self.insert_responses(round, pupil, new)
    }

    /// The pupil's last day here, if it is known.
    ///
    /// # Errors
    /// If the store fails.
    pub fn last_day<A>(&mut self, permit: &Permit<'tx, A, PupilChecks>) -> Result<Option<Date>, Error> {
        self.left_on(permit.resource().pupil)
    }

    pub(super) fn left_on(&mut self, id: PupilId) -> Result<Option<Date>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => pupil::table.find((school, id)).select(pupil::left_on).first(c))?)
    }

    pub(super) fn insert_responses(
        &mut self,
        round: RoundId,
        pupil: PupilId,
        new: &[NewResponse],
    ) -> Result<Vec<ResponseRow>, Error> {
        // Ids of one moment come in any order; sorted, they keep the order of entry.
        let mut ids: Vec<ResponseId> = new.iter().map(|_| self.new_id()).collect();
        ids.sort_unstable();
        let rows: Vec<ResponseRow> = new
            .iter()
            .zip(ids)
            .map(|(one, made)| ResponseRow {
                school_id: self.school(),
                id: one.id.unwrap_or(made),
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
                heard: one.heard.as_ref().map(ToString::to_string),
                mode: one.mode,
                reason: one.reason,
                sitting_id: one.sitting,
                late: one.late,
            })
            .collect();
        for batch in rows.chunks(BATCH) {
            db!(self.conn, c => diesel::insert_into(response::table).values(batch).execute(c))?;
        }
        // The pupil is the subject; the responses themselves are the history.
        self.about("pupil", pupil.uuid());
        let scopes = self.scopes_of(pupil)?;
        let in_scope = |row: &ResponseRow| {
            let id = row.id.uuid();
            scopes.iter().map(move |scope| (id, *scope))
        };
        let records: Vec<_> = rows.iter().flat_map(in_scope).collect();
        self.log_many("response", &records, super::change::ChangeKind::Put)?;
        Ok(rows)
    }

    /// The responses of some pupils that count, each pupil's in order of entry, but for what the actor is blind to.
    pub(super) fn counting_responses(
        &mut self,
        pupils: &[PupilId],
        blind: &Blind,
    ) -> Result<Vec<Response>, Error> {
        let school = self.school();
        let mut found: Vec<Response> = Vec::new();
        for pupils in pupils.chunks(super::pupils::BATCH) {
            let rows: Vec<ResponseRow> = db!(self.conn, c => response::table
                .filter(response::school_id.eq(school))
                .filter(response::pupil_id.eq_any(pupils))
                .order((response::v, response::id))
                .select(ResponseRow::as_select())
                .load(c))?;
            let told = |row: &ResponseRow| !blind.contains(&(row.round_id, row.check_id, row.pupil_id));
            found.extend(rows.into_iter().filter(told).map(response_of));
        }
        Ok(in_force(found))
    }

    /// Notes that answers to a check are told to others than before: a second marker is asked, or has given marks.
    pub(super) fn told_to_others(
        &mut self,
        round: RoundId,
        check: CheckId,
        pupils: &[PupilId],
    ) -> Result<(), Error> {
        let school = self.school();
        for pupil in pupils {
            let ids: Vec<ResponseId> = db!(self.conn, c => response::table
                .filter(response::school_id.eq(school))
                .filter(response::round_id.eq(round))
                .filter(response::check_id.eq(check))
                .filter(response::pupil_id.eq(pupil))
                .select(response::id)
                .load(c))?;
            let scopes = self.scopes_of(*pupil)?;
            let placed = |id: &ResponseId| {
                let id = id.uuid();
                scopes.iter().map(move |scope| (id, *scope))
            };
            let records: Vec<_> = ids.iter().flat_map(placed).collect();
            self.log_many("response", &records, super::change::ChangeKind::Put)?;
        }
        Ok(())
    }

    pub(super) fn groups_today(&mut self, pupil: PupilId) -> Result<Vec<plumbline_core::id::GroupId>, Error> {
        let (school, today) = (self.school(), self.today());
        Ok(db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::pupil_id.eq(pupil))
            .filter(held_on!(group_member, today))
            .select(group_member::group_id)
            .load(c))?)
    }

    /// Pupils who are today in a class or group an adult is assigned to today.
    pub(super) fn pupils_near(&mut self, staff: StaffId) -> Result<BTreeSet<PupilId>, Error> {
        let (school, on) = (self.school(), self.today());
        let by_group: Vec<PupilId> = db!(self.conn, c => group_member::table
            .inner_join(group_staff::table.on(group_staff::school_id.eq(group_member::school_id)
                .and(group_staff::group_id.eq(group_member::group_id))))
            .filter(group_member::school_id.eq(school))
            .filter(held_on!(group_member, on))
            .filter(group_staff::staff_id.eq(staff))
            .filter(held_on!(group_staff, on))
            .select(group_member::pupil_id)
            .load(c))?;
        let by_class: Vec<PupilId> = db!(self.conn, c => class_member::table
            .inner_join(class_staff::table.on(class_staff::school_id.eq(class_member::school_id)
                .and(class_staff::class_id.eq(class_member::class_id))))
            .filter(class_member::school_id.eq(school))
            .filter(held_on!(class_member, on))
            .filter(class_staff::staff_id.eq(staff))
            .filter(held_on!(class_staff, on))
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

/// The core's form of a stored response.
pub(crate) fn response_of(row: ResponseRow) -> Response {
    Response {
        id: row.id,
        check: row.check_id,
        item: row.item_id,
        pupil: row.pupil_id,
        on: row.on_date,
        outcome: row.outcome,
        heard: row.heard.and_then(|sounds| Heard::new(&sounds).ok()),
        mode: row.mode,
        taken_by: row.taken_by,
        entered_by: row.entered_by,
        corrects: row.corrects,
    }
}
