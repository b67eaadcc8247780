//! What people decided about records alike: one child, or two.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Manage, resource::Roster},
    id::{PupilDecisionId, PupilId, SchoolId, StaffId},
    roster::{Decisions, Row, Verdict},
    time::{Date, Instant},
};
use serde_json::{Value, json};

use super::{
    Error, Permit, PupilRow, Tx,
    conn::db,
    pupil_merge::Merged,
    schema::{pupil, pupil_decision},
    tx::days_after,
};

/// A decision.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = pupil_decision, treat_none_as_default_value = false)]
pub struct DecisionRow {
    school_id: SchoolId,
    /// Its id.
    pub id: PupilDecisionId,
    /// One child or two.
    pub verdict: Verdict,
    /// One pupil; of one child, the record that was kept.
    pub pupil_id: PupilId,
    /// The other; of one child, the record that is gone.
    pub other_id: PupilId,
    /// What an undo puts back; nothing of two children, or once its time is over.
    pub(super) before: Option<Value>,
    /// Who decided.
    pub decided_by: StaffId,
    /// When.
    pub decided_at: Instant,
    /// Its version.
    pub v: i64,
    /// Of one child, what the record that is gone was known by.
    pub(super) once: Option<Value>,
    /// Of one child, the last day on which the two can be taken apart.
    pub undo_until: Option<Date>,
}

/// What is kept with two records that became one child's.
pub(super) struct Kept<'a> {
    /// What the record that is gone was known by.
    pub once: &'a Row,
    /// What an undo puts back.
    pub before: &'a Merged,
}

/// A decision with names.
#[derive(Clone, Debug)]
pub struct DecisionView {
    /// The row.
    pub row: DecisionRow,
    /// The names of the two; of a record that is gone, the one it had.
    pub names: [String; 2],
}

impl<'tx> Tx<'tx> {
    /// What was decided and not taken back, latest first.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pupil_decisions<A>(
        &mut self,
        _permit: &Permit<'tx, A, Roster>,
    ) -> Result<Vec<DecisionView>, Error> {
        let rows = self.decision_rows()?;
        rows.into_iter().rev().map(|row| self.decision_view(row)).collect()
    }

    /// The same, to ask of pairs.
    ///
    /// # Errors
    /// If the store fails.
    pub fn decisions<A>(&mut self, _permit: &Permit<'tx, A, Roster>) -> Result<Decisions, Error> {
        self.decided()
    }

    /// The records that were made one, to find by any record a child ever had the one there is now: a device
    /// that was away may name one that is gone.
    ///
    /// # Errors
    /// If the store fails.
    pub fn merged_records(&mut self) -> Result<Decisions, Error> {
        self.decided()
    }

    /// One decision.
    ///
    /// # Errors
    /// [`Error::Missing`] if there is none.
    pub fn pupil_decision(
        &mut self,
        _permit: &Permit<'tx, Manage, Roster>,
        id: PupilDecisionId,
    ) -> Result<DecisionRow, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => pupil_decision::table
            .find((school, id))
            .select(DecisionRow::as_select())
            .first(c))?)
    }

    /// A decision as shown.
    ///
    /// # Errors
    /// If the store fails.
    pub fn shown_decision(
        &mut self,
        _permit: &Permit<'tx, Manage, Roster>,
        row: DecisionRow,
    ) -> Result<DecisionView, Error> {
        self.decision_view(row)
    }

    /// Whether a pupil is of this school.
    ///
    /// # Errors
    /// [`Error::Missing`] if not.
    pub fn known_pupil(&mut self, _permit: &Permit<'tx, Manage, Roster>, id: PupilId) -> Result<(), Error> {
        self.pupil_row(id).map(|_| ())
    }

    /// Keeps that two pupils are different children.
    ///
    /// # Errors
    /// [`Error::Conflict`] if that is known already.
    pub fn tell_apart(
        &mut self,
        _permit: &Permit<'tx, Manage, Roster>,
        pupils: [PupilId; 2],
    ) -> Result<DecisionView, Error> {
        self.about("pupil", pupils[0].uuid());
        if self.decided()?.are_apart(pupils[0], pupils[1]) {
            return Err(Error::Conflict);
        }
        let row = self.insert_decision(Verdict::Different, pupils, None)?;
        self.decision_view(row)
    }

    /// Takes back that two pupils are different children.
    ///
    /// # Errors
    /// [`Error::Missing`] if it is gone.
    pub fn forget_decision(
        &mut self,
        _permit: &Permit<'tx, Manage, Roster>,
        row: &DecisionRow,
    ) -> Result<(), Error> {
        self.drop_decision(row.id)
    }

    pub(super) fn decided(&mut self) -> Result<Decisions, Error> {
        let school = self.school();
        let rows: Vec<(Verdict, PupilId, PupilId)> = db!(self.conn, c => pupil_decision::table
            .filter(pupil_decision::school_id.eq(school))
            .select((pupil_decision::verdict, pupil_decision::pupil_id, pupil_decision::other_id))
            .load(c))?;
        let mut decisions = Decisions::default();
        for (verdict, one, other) in rows {
            decisions.add(verdict, one, other);
        }
        Ok(decisions)
    }

    /// Records that are gone, as they were, by the pupil that is the same child now.
    pub(super) fn once(&mut self) -> Result<BTreeMap<PupilId, Vec<Row>>, Error> {
        let rows = self.decision_rows()?;
        let mut decisions = Decisions::default();
        for row in &rows {
            decisions.add(row.verdict, row.pupil_id, row.other_id);
        }
        let mut once: BTreeMap<PupilId, Vec<Row>> = BTreeMap::new();
        for row in rows {
            if let Some(known_by) = row.once {
                let known_by = serde_json::from_value(known_by)?;
                once.entry(decisions.now(row.pupil_id)).or_default().push(known_by);
            }
        }
        Ok(once)
    }

    /// Earliest first.
    fn decision_rows(&mut self) -> Result<Vec<DecisionRow>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => pupil_decision::table
            .filter(pupil_decision::school_id.eq(school))
            .order((pupil_decision::v, pupil_decision::id))
            .select(DecisionRow::as_select())
            .load(c))?)
    }

    pub(super) fn decision_view(&mut self, row: DecisionRow) -> Result<DecisionView, Error> {
        let school = self.school();
        let mut name = |id: PupilId| -> Result<Option<String>, Error> {
            let found: Option<PupilRow> = db!(self.conn, c => pupil::table
                .find((school, id))
                .select(PupilRow::as_select())
                .first(c)
                .optional())?;
            Ok(found.map(|row| row.shown_name()))
        };
        let (one, mut other) = (name(row.pupil_id)?, name(row.other_id)?);
        if let Some(once) = &row.once {
            let once: Row = serde_json::from_value(once.clone())?;
            other = Some(once.shown_name());
        }
        Ok(DecisionView { row, names: [one, other].map(Option::unwrap_or_default) })
    }

    pub(super) fn insert_decision(
        &mut self,
        verdict: Verdict,
        [pupil_id, other_id]: [PupilId; 2],
        kept: Option<Kept<'_>>,
    ) -> Result<DecisionRow, Error> {
        let until = days_after(self.today(), self.rules()?.undo.merge_days);
        let row = DecisionRow {
            school_id: self.school(),
            id: self.new_id(),
            verdict,
            pupil_id,
            other_id,
            before: kept.as_ref().map(|kept| serde_json::to_value(kept.before)).transpose()?,
            decided_by: self.actor.staff,
            decided_at: self.now(),
            v: self.version,
            once: kept.as_ref().map(|kept| serde_json::to_value(kept.once)).transpose()?,
            undo_until: kept.map(|_| until),
        };
        db!(self.conn, c => diesel::insert_into(pupil_decision::table).values(&row).execute(c))?;
        let body = json!({"verdict": verdict, "pupil_id": pupil_id, "other_id": other_id});
        self.save("pupil_decision", row.id.uuid(), &[], &body)?;
        Ok(row)
    }

    pub(super) fn drop_decision(&mut self, id: PupilDecisionId) -> Result<(), Error> {
        let school = self.school();
        let gone = db!(self.conn, c => diesel::delete(pupil_decision::table.find((school, id))).execute(c))?;
        if gone == 0 {
            return Err(Error::Missing);
        }
        self.save("pupil_decision", id.uuid(), &[], &Value::Null)
    }

    /// What was said of a field, gone from what taking records apart puts back.
    pub(super) fn remove_said_of_merged(&mut self, field: &str) -> Result<(), Error> {
        let school = self.school();
        for row in self.decision_rows()? {
            let Some(before) = row.before else { continue };
            let mut merged: Merged = serde_json::from_value(before)?;
            if !merged.without_field(field) {
                continue;
            }
            let before = Some(serde_json::to_value(&merged)?);
            db!(self.conn, c => diesel::update(pupil_decision::table.find((school, row.id)))
                .set(pupil_decision::before.eq(&before))
                .execute(c))?;
        }
        Ok(())
    }

    /// What was decided about a pupil who is to be gone as if never added.
    pub(super) fn forget_decisions(&mut self, pupils: &BTreeSet<PupilId>) -> Result<(), Error> {
        for row in self.decision_rows()? {
            if pupils.contains(&row.pupil_id) || pupils.contains(&row.other_id) {
                self.drop_decision(row.id)?;
            }
        }
        Ok(())
    }
}
