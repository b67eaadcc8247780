//! Pupils who are not asked in a round, or not one of its checks, and why.

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Record, resource::PupilExemptions},
    id::{CheckId, ExemptionId, PupilId, RoundId, SchoolId, StaffId},
    time::{Date, Instant},
};
use serde_json::json;

use super::{Error, Permit, Tx, conn::db, schema::exemption};

/// That a pupil is not asked.
#[derive(Clone, Debug, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = exemption, treat_none_as_default_value = false)]
pub struct ExemptionRow {
    /// The school.
    pub school_id: SchoolId,
    /// Its id.
    pub id: ExemptionId,
    /// The round.
    pub round_id: RoundId,
    /// The pupil.
    pub pupil_id: PupilId,
    /// The check; none for every check of the round.
    pub check_id: Option<CheckId>,
    /// Why: a code of the rule pack.
    pub reason: String,
    /// When to look at it again.
    pub review_on: Date,
    /// Who said so.
    pub said_by: StaffId,
    /// When.
    pub said_at: Instant,
    /// Who ended it, or said it anew.
    pub ended_by: Option<StaffId>,
    /// When.
    pub ended_at: Option<Instant>,
    /// Its version.
    pub v: i64,
}

/// What exempts a pupil from a check, of what holds in a round: what was said last of the check, else of all of them.
pub(super) fn exempting(rows: &[ExemptionRow], pupil: PupilId, check: CheckId) -> Option<&ExemptionRow> {
    let said = || rows.iter().rev().filter(|row| row.pupil_id == pupil);
    said().find(|row| row.check_id == Some(check)).or_else(|| said().find(|row| row.check_id.is_none()))
}

impl<'tx> Tx<'tx> {
    /// Says that a pupil is not asked. What was said before of the same check ends, and stays on record.
    ///
    /// # Errors
    /// [`Error::Missing`] if the round does not hold the check.
    pub fn exempt(
        &mut self,
        permit: &Permit<'tx, Record, PupilExemptions>,
        check: Option<CheckId>,
        reason: &str,
        review_on: Date,
    ) -> Result<ExemptionRow, Error> {
        let PupilExemptions { round, pupil } = *permit.resource();
        if let Some(check) = check {
            self.check_in(round, check)?;
        }
        let before = self.exemptions(permit)?;
        for row in before.into_iter().filter(|row| row.check_id == check && row.ended_at.is_none()) {
            self.close_exemption(row)?;
        }
        let row = ExemptionRow {
            school_id: self.school(),
            id: self.new_id(),
            round_id: round,
            pupil_id: pupil,
            check_id: check,
            reason: reason.to_owned(),
            review_on,
            said_by: self.actor.staff,
            said_at: self.now(),
            ended_by: None,
            ended_at: None,
            v: self.version,
        };
        db!(self.conn, c => diesel::insert_into(exemption::table).values(&row).execute(c))?;
        self.save_exemption(&row)?;
        Ok(row)
    }

    /// What was said of a pupil in a round, ended or not, the latest last. The reading is of the pupil.
    ///
    /// # Errors
    /// If the store fails.
    pub fn exemptions<A>(
        &mut self,
        permit: &Permit<'tx, A, PupilExemptions>,
    ) -> Result<Vec<ExemptionRow>, Error> {
        let (school, PupilExemptions { round, pupil }) = (self.school(), *permit.resource());
        self.about("pupil", pupil.uuid());
        Ok(db!(self.conn, c => exemption::table
            .filter(exemption::school_id.eq(school))
            .filter(exemption::round_id.eq(round))
            .filter(exemption::pupil_id.eq(pupil))
            .order((exemption::said_at, exemption::id))
            .select(ExemptionRow::as_select())
            .load(c))?)
    }

    /// What holds in a round, of every pupil.
    pub(super) fn exemptions_in(&mut self, round: RoundId) -> Result<Vec<ExemptionRow>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => exemption::table
            .filter(exemption::school_id.eq(school))
            .filter(exemption::round_id.eq(round))
            .filter(exemption::ended_at.is_null())
            .order((exemption::said_at, exemption::id))
            .select(ExemptionRow::as_select())
            .load(c))?)
    }

    /// Ends an exemption: the pupil is asked again.
    ///
    /// # Errors
    /// [`Error::Missing`] if none of this id holds of the pupil in the round.
    pub fn end_exemption(
        &mut self,
        permit: &Permit<'tx, Record, PupilExemptions>,
        id: ExemptionId,
    ) -> Result<(), Error> {
        let rows = self.exemptions(permit)?;
        let row = rows.into_iter().find(|row| row.id == id && row.ended_at.is_none());
        self.close_exemption(row.ok_or(Error::Missing)?)
    }

    fn close_exemption(&mut self, row: ExemptionRow) -> Result<(), Error> {
        let (by, at) = (Some(self.actor.staff), Some(self.now()));
        let row = ExemptionRow { ended_by: by, ended_at: at, v: self.version, ..row };
        db!(self.conn, c => diesel::update(exemption::table.find((row.school_id, row.id)))
            .set((exemption::ended_by.eq(by), exemption::ended_at.eq(at), exemption::v.eq(row.v)))
            .execute(c))?;
        self.save_exemption(&row)
    }

    fn save_exemption(&mut self, row: &ExemptionRow) -> Result<(), Error> {
        self.about("pupil", row.pupil_id.uuid());
        let scopes = self.scopes_of(row.pupil_id)?;
        let body = json!({"round_id": row.round_id, "pupil_id": row.pupil_id, "check_id": row.check_id,
            "reason": row.reason, "review_on": row.review_on, "ended": row.ended_at.is_some()});
        self.save("exemption", row.id.uuid(), &scopes, &body)
    }
}
