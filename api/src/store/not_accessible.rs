//! Checks that are not accessible to a pupil this way. A row is never changed but for its end; to go on after the
//! review day it is said anew. It stands here alone, as what else is said of how a pupil answers.

use std::collections::BTreeSet;

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::{NotAccessibleReviews, PupilAnswering},
    },
    check::{CheckKind, NotAccessible, ResponseMode},
    id::{CheckId, NotAccessibleId, PupilId, SchoolId, StaffId},
    time::{Date, Instant},
};

use super::{
    CheckRow, Error, Permit, PupilRow, Tx,
    conn::db,
    schema::{not_accessible, pupil},
};

/// That checks are not accessible to a pupil.
#[derive(Clone, Debug, Insertable, Queryable, Selectable)]
#[diesel(table_name = not_accessible, treat_none_as_default_value = false)]
pub struct NotAccessibleRow {
    /// The school.
    pub school_id: SchoolId,
    /// Its id.
    pub id: NotAccessibleId,
    /// The pupil.
    pub pupil_id: PupilId,
    /// Checks of this kind; none for all.
    pub kind: Option<CheckKind>,
    /// Answered this way; none for every way.
    pub mode: Option<ResponseMode>,
    /// A code of the rule pack.
    pub reason: String,
    /// The first day.
    pub from_on: Date,
    /// The last day, by which it is looked at again.
    pub review_on: Date,
    /// Who said so.
    pub said_by: StaffId,
    /// When.
    pub at: Instant,
    /// The day it was ended before.
    pub ended_on: Option<Date>,
    /// By whom.
    pub ended_by: Option<StaffId>,
    /// Its version.
    pub v: i64,
}

impl NotAccessibleRow {
    /// The core's form of it.
    pub const fn entry(&self) -> NotAccessible {
        NotAccessible {
            kind: self.kind,
            mode: self.mode,
            from: self.from_on,
            review_on: self.review_on,
            ended_on: self.ended_on,
        }
    }
}

impl<'tx> Tx<'tx> {
    /// Says that checks are not accessible to a pupil from today on.
    ///
    /// # Errors
    /// If the store fails.
    pub fn add_not_accessible(
        &mut self,
        permit: &Permit<'tx, Manage, PupilAnswering>,
        (kind, mode): (Option<CheckKind>, Option<ResponseMode>),
        reason: &str,
        review_on: Date,
    ) -> Result<NotAccessibleRow, Error> {
        let row = NotAccessibleRow {
            school_id: self.school(),
            id: self.new_id(),
            pupil_id: permit.resource().0,
            kind,
            mode,
            reason: reason.to_owned(),
            from_on: self.today(),
            review_on,
            said_by: self.actor.staff,
            at: self.now(),
            ended_on: None,
            ended_by: None,
            v: self.version,
        };
        db!(self.conn, c => diesel::insert_into(not_accessible::table).values(&row).execute(c))?;
        self.answering_changed(row.pupil_id)?;
        Ok(row)
    }

    /// Ends it: from today on it holds no longer, and stays on record.
    ///
    /// # Errors
    /// [`Error::Missing`] if it is not the pupil's, [`Error::Conflict`] if it holds no longer.
    pub fn end_not_accessible(
        &mut self,
        permit: &Permit<'tx, Manage, PupilAnswering>,
        id: NotAccessibleId,
    ) -> Result<NotAccessibleRow, Error> {
        let (school, pupil, today) = (self.school(), permit.resource().0, self.today());
        let row: NotAccessibleRow = db!(self.conn, c => not_accessible::table
            .find((school, id))
            .filter(not_accessible::pupil_id.eq(pupil))
            .select(NotAccessibleRow::as_select())
            .first(c))?;
        if !row.entry().holds_on(today) {
            return Err(Error::Conflict);
        }
        let row = NotAccessibleRow {
            ended_on: Some(today),
            ended_by: Some(self.actor.staff),
            v: self.version,
            ..row
        };
        db!(self.conn, c => diesel::update(not_accessible::table.find((school, id)))
            .set((
                not_accessible::ended_on.eq(row.ended_on),
                not_accessible::ended_by.eq(row.ended_by),
                not_accessible::v.eq(row.v),
            ))
            .execute(c))?;
        self.answering_changed(pupil)?;
        Ok(row)
    }

    /// What is to be looked at again by a day, of pupils who are here, with each today's class: what ran out
    /// unseen too, the longest due first.
    ///
    /// # Errors
    /// If the store fails.
    pub fn not_accessible_reviews(
        &mut self,
        _permit: &Permit<'tx, Read, NotAccessibleReviews>,
        until: Date,
    ) -> Result<Vec<(PupilRow, Option<String>, NotAccessibleRow)>, Error> {
        let (school, today) = (self.school(), self.today());
        let rows: Vec<(PupilRow, NotAccessibleRow)> = db!(self.conn, c => not_accessible::table
            .inner_join(pupil::table.on(pupil::school_id.eq(not_accessible::school_id)
                .and(pupil::id.eq(not_accessible::pupil_id))))
            .filter(not_accessible::school_id.eq(school))
            .filter(not_accessible::ended_on.is_null())
            .filter(pupil::left_on.is_null().or(pupil::left_on.ge(today)))
            .order((not_accessible::review_on, not_accessible::id))
            .select((PupilRow::as_select(), NotAccessibleRow::as_select()))
            .load(c))?;
        // One said anew since needs no second look at the old.
        let renewed = |old: &NotAccessibleRow| {
            rows.iter().any(|(_, new)| {
                (new.pupil_id, new.kind, new.mode) == (old.pupil_id, old.kind, old.mode)
                    && (new.at, new.id) > (old.at, old.id)
            })
        };
        let due: Vec<_> =
            rows.iter().filter(|(_, row)| row.review_on <= until && !renewed(row)).cloned().collect();
        let classes = self.class_names(today)?;
        let with_class = |(pupil, row): (PupilRow, _)| {
            let class = classes.get(&pupil.id).cloned();
            (pupil, class, row)
        };
        Ok(due.into_iter().map(with_class).collect())
    }

    /// Which checks are not accessible to which of some pupils on a day in the way each usually answers: those
    /// leave what is counted, and whoever counts shows that.
    pub(super) fn not_accessible_on(
        &mut self,
        pupils: &[PupilId],
        checks: &[CheckRow],
        day: Date,
    ) -> Result<BTreeSet<(PupilId, CheckId)>, Error> {
        let school = self.school();
        let rows: Vec<NotAccessibleRow> = db!(self.conn, c => not_accessible::table
            .filter(not_accessible::school_id.eq(school))
            .filter(not_accessible::pupil_id.eq_any(pupils))
            .filter(not_accessible::review_on.ge(day))
            .order(not_accessible::id)
            .select(NotAccessibleRow::as_select())
            .load(c))?;
        let named: Vec<PupilId> = rows.iter().map(|row| row.pupil_id).collect();
        let usual = self.usual_modes(&named, day)?;
        let out = rows.iter().flat_map(|row| {
            let usual = usual.get(&row.pupil_id).copied().unwrap_or(ResponseMode::Spoken);
            let out = checks.iter().filter(move |check| row.entry().takes_out(check.kind, usual, day));
            out.map(|check| (row.pupil_id, check.id))
        });
        Ok(out.collect())
    }
}
