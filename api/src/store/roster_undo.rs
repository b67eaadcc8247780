//! Taking a roster import back: what it changed is put back as it was, what it added goes, as long
//! as nothing else depends on it by now.

use std::collections::BTreeSet;

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Manage, resource::Roster},
    id::{ClassId, PupilId, RosterImportId},
    roster::{Plan, Verdict},
};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::{
    Error, ImportStatus, Permit, Tx,
    change::Scope,
    conn::db,
    pupil_before::{AsLeft, Extent, PupilBefore, Whom},
    roster_import::RowsGone,
    schema::{
        carried_check, carried_in_pupil, catch_up_pupil, class, class_member, class_staff,
        earlier_statutory_result, exemption, group_member, lesson_mark, not_accessible, placement,
        pupil_answering, pupil_decision, pupil_field, response, rollover, roster_import, second_sample,
        sitting, statutory_result, what_helped,
    },
};

/// What an import found, to be put back.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub(super) struct Before {
    /// The version the import was carried out at.
    version: i64,
    /// Pupils it changed, as they were: with their groups, where it makes them leave.
    changed: Vec<PupilBefore>,
    /// Pupils it added.
    pub(super) created: Vec<PupilId>,
    /// Both, as it left them.
    #[serde(default)]
    left: AsLeft,
    /// Classes it added.
    pub(super) classes: Vec<ClassId>,
}

impl Before {
    fn whom(&self) -> Vec<Whom> {
        let changed = self.changed.iter().map(PupilBefore::whom);
        changed.chain(self.created.iter().map(|pupil| (*pupil, false))).collect()
    }
}

/// What stands in the way of an undo.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Dependents {
    /// Pupils the import touched who were changed since.
    pub changed: usize,
    /// Pupils it added of whom something else is on record: a group, a lesson, catch-up, an answer, what was
    /// carried in.
    pub used: usize,
    /// Classes it added that have adults or other pupils, or had pupils whom another undo would put back.
    pub classes: usize,
}

impl<'tx> Tx<'tx> {
    /// What the pupils an import will change are like before it.
    pub(super) fn before_import(&mut self, plan: &Plan) -> Result<Before, Error> {
        let changes = plan.updated.iter().chain(&plan.completed).map(|change| change.pupil);
        let class_leavers = plan.class_leavers.iter().map(|(pupil, _)| *pupil);
        let stay: BTreeSet<PupilId> = changes.chain(class_leavers).collect();
        let mut changed = self.pupils_before(&stay.into_iter().collect::<Vec<_>>(), false)?;
        changed.extend(self.pupils_before(&plan.leavers, true)?);
        Ok(Before { version: self.version, changed, ..Before::default() })
    }

    /// Notes what the pupils are like after it.
    pub(super) fn import_done(&mut self, before: &mut Before) -> Result<(), Error> {
        before.left = self.as_left(&before.whom(), Extent::Page)?;
        Ok(())
    }

    /// Takes an import back, whole or not at all; the inner error says what stands in the way.
    ///
    /// # Errors
    /// [`Error::Missing`], or [`Error::Conflict`] if it is not carried out or undone already.
    pub fn undo_import(
        &mut self,
        _permit: &Permit<'tx, Manage, Roster>,
        id: RosterImportId,
    ) -> Result<Result<(), Dependents>, Error> {
        let school = self.school();
        let before: Option<Value> = db!(self.conn, c => roster_import::table
            .find((school, id))
            .select(roster_import::before)
            .first(c))?;
        let Some(before) = before else { return Err(Error::Conflict) };
        let before: Before = serde_json::from_value(before)?;
        // Carried out before it was noted what pupils were left like.
        if before.left.is_empty() && !before.whom().is_empty() {
            return Err(Error::NotKept);
        }
        let dependents = self.dependents(&before)?;
        if dependents != Dependents::default() {
            return Ok(Err(dependents));
        }
        self.put_back(&before.changed)?;
        self.forget_said_at(&before.changed.iter().map(|pupil| pupil.id).collect(), before.version)?;
        self.forget_decisions(&before.created.iter().copied().collect())?;
        self.forget_pupils(&before.created)?;
        for class_id in &before.classes {
            self.forget_class(*class_id)?;
        }
        let version = self.version;
        db!(self.conn, c => diesel::update(roster_import::table.find((school, id)))
            .set((
                RowsGone::default(),
                roster_import::status.eq(ImportStatus::Undone),
                roster_import::v.eq(version),
            ))
            .execute(c))?;
        self.about("roster_import", id.uuid());
        Ok(Ok(()))
    }

    fn dependents(&mut self, before: &Before) -> Result<Dependents, Error> {
        let school = self.school();
        let whom = before.whom();
        let touched: BTreeSet<PupilId> = whom.iter().map(|(pupil, _)| *pupil).collect();
        let mut changed = self.changed_since(&whom, &before.left, Extent::Page)?;
        changed.extend(self.said_since(before)?);
        changed.extend(self.merged_since(&touched, before.version)?);
        let mut out = Dependents { changed: changed.len(), used: self.used(&before.created)?, classes: 0 };
        let remembered = self.remembered(&before.classes)?;
        for class_id in &before.classes {
            let adults: i64 = db!(self.conn, c => class_staff::table
                .filter(class_staff::school_id.eq(school))
                .filter(class_staff::class_id.eq(class_id))
                .count()
                .get_result(c))?;
            let pupils: Vec<PupilId> = db!(self.conn, c => class_member::table
                .filter(class_member::school_id.eq(school))
                .filter(class_member::class_id.eq(class_id))
                .select(class_member::pupil_id)
                .load(c))?;
            let others = adults > 0 || pupils.iter().any(|pupil| !touched.contains(pupil));
            out.classes += usize::from(others || remembered.contains(class_id));
        }
        Ok(out)
    }

    /// Of how many pupils there is more on record than an import writes.
    fn used(&mut self, ids: &[PupilId]) -> Result<usize, Error> {
        let school = self.school();
        let mut used: BTreeSet<PupilId> = BTreeSet::new();
        macro_rules! those_of {
            ($($table:ident),*) => {$(
                let found: Vec<PupilId> = db!(self.conn, c => $table::table
                    .filter($table::school_id.eq(school))
                    .filter($table::pupil_id.eq_any(ids))
                    .select($table::pupil_id)
                    .load(c))?;
                used.extend(found);
            )*};
        }
        those_of!(
            group_member,
            lesson_mark,
            catch_up_pupil,
            response,
            placement,
            earlier_statutory_result,
            exemption,
            sitting,
            statutory_result,
            carried_in_pupil,
            carried_check,
            pupil_answering,
            not_accessible,
            what_helped,
            second_sample
        );
        Ok(used.len())
    }

    /// Who was made one with another record since: that record is gone, and an undo would leave it gone.
    fn merged_since(&mut self, ids: &BTreeSet<PupilId>, version: i64) -> Result<Vec<PupilId>, Error> {
        let school = self.school();
        let merged: Vec<(PupilId, PupilId)> = db!(self.conn, c => pupil_decision::table
            .filter(pupil_decision::school_id.eq(school))
            .filter(pupil_decision::verdict.eq(Verdict::Same))
            .filter(pupil_decision::v.gt(version))
            .select((pupil_decision::pupil_id, pupil_decision::other_id))
            .load(c))?;
        let both = merged.into_iter().flat_map(|(kept, other)| [kept, other]);
        Ok(both.filter(|id| ids.contains(id)).collect())
    }

    /// Into which of some classes another undo, of an import, a rollover or a merge, would put pupils back.
    pub(super) fn remembered(&mut self, classes: &[ClassId]) -> Result<BTreeSet<ClassId>, Error> {
        let mut found = BTreeSet::new();
        if classes.is_empty() {
            return Ok(found);
        }
        let school = self.school();
        macro_rules! before_of {
            ($table:ident) => {{
                let kept: Vec<Option<Value>> = db!(self.conn, c => $table::table
                    .filter($table::school_id.eq(school))
                    .filter($table::before.is_not_null())
                    .select($table::before)
                    .load(c))?;
                kept
            }};
        }
        let kept = [before_of!(roster_import), before_of!(rollover), before_of!(pupil_decision)];
        for before in kept.into_iter().flatten().flatten() {
            // What made a class names it once, in its list of classes.
            let own = before["classes"].as_array().cloned().unwrap_or_default();
            let text = before.to_string();
            let named = |class: &&ClassId| !own.contains(&json!(class)) && text.contains(&class.to_string());
            found.extend(classes.iter().filter(named));
        }
        Ok(found)
    }

    /// Of whom of an import an optional field was said since. What an added pupil has that the import did
    /// not say came from another record.
    fn said_since(&mut self, before: &Before) -> Result<Vec<PupilId>, Error> {
        let (school, version) = (self.school(), before.version);
        let changed: Vec<PupilId> = before.changed.iter().map(|pupil| pupil.id).collect();
        Ok(db!(self.conn, c => pupil_field::table
            .filter(pupil_field::school_id.eq(school))
            .filter((pupil_field::pupil_id.eq_any(&changed).and(pupil_field::v.gt(version)))
                .or(pupil_field::pupil_id.eq_any(&before.created).and(pupil_field::v.ne(version))))
            .select(pupil_field::pupil_id)
            .load(c))?)
    }

    /// A class that nobody is in, gone with its adults.
    pub(super) fn forget_class(&mut self, id: ClassId) -> Result<(), Error> {
        let school = self.school();
        db!(self.conn, c => diesel::delete(class_staff::table
            .filter(class_staff::school_id.eq(school))
            .filter(class_staff::class_id.eq(id)))
            .execute(c))?;
        db!(self.conn, c => diesel::delete(class::table.find((school, id))).execute(c))?;
        self.save_gone("class", id.uuid(), &[Scope::Class(id)])
    }
}
