//! Taking a roster import back: what it changed is put back as it was, what it added goes, as long
//! as nothing else depends on it by now.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Manage, resource::Roster},
    id::{ClassId, GroupId, PupilId, RosterImportId},
    roster::{Plan, Upn},
    time::Date,
};
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::{
    Error, ImportStatus, Permit, PupilChange, Tx,
    change::Scope,
    conn::db,
    dated::Dated,
    pupils::BATCH,
    roster_import::RowsGone,
    schema::{
        class, class_member, class_staff, group_member, lesson_mark, pupil, pupil_year, response,
        roster_import,
    },
};

/// What an import found, to be put back.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub(super) struct Before {
    /// The version the import was carried out at.
    version: i64,
    /// Pupils it changed, as they were.
    changed: Vec<PupilBefore>,
    /// Pupils it added.
    pub(super) created: Vec<PupilId>,
    /// Classes it added.
    pub(super) classes: Vec<ClassId>,
}

/// A pupil as it was before a change of many, to be put back.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct PupilBefore {
    pub(super) id: PupilId,
    pub(super) pupil_ref: Option<String>,
    pub(super) given_name: String,
    pub(super) family_name: Option<String>,
    pub(super) preferred_name: Option<String>,
    pub(super) date_of_birth: Option<Date>,
    pub(super) left_on: Option<Date>,
    pub(super) upn: Option<Upn>,
    pub(super) years: Vec<(i32, String)>,
    pub(super) classes: Vec<Dated<ClassId>>,
    /// Groups where the change touches them: an import only those of one who leaves.
    pub(super) groups: Option<Vec<Dated<GroupId>>>,
}

/// What stands in the way of an undo.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Dependents {
    /// Pupils the import touched who were changed since.
    pub changed: usize,
    /// Pupils it added who are in a group, a lesson's register or a check.
    pub used: usize,
    /// Classes it added that have adults or other pupils.
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

    pub(super) fn pupil_before(&mut self, id: PupilId, with_groups: bool) -> Result<PupilBefore, Error> {
        self.pupils_before(&[id], with_groups)?.pop().ok_or(Error::Missing)
    }

    /// Pupils as they are, by id.
    pub(super) fn pupils_before(
        &mut self,
        ids: &[PupilId],
        with_groups: bool,
    ) -> Result<Vec<PupilBefore>, Error> {
        let school = self.school();
        let mut found: BTreeMap<PupilId, PupilBefore> = BTreeMap::new();
        for ids in ids.chunks(BATCH) {
            let mut upns = self.upns_of(ids)?;
            for row in self.pupil_rows(ids)? {
                let before = PupilBefore {
                    id: row.id,
                    pupil_ref: row.pupil_ref,
                    given_name: row.given_name,
                    family_name: row.family_name,
                    preferred_name: row.preferred_name,
                    date_of_birth: row.date_of_birth,
                    left_on: row.left_on,
                    upn: upns.remove(&row.id),
                    years: Vec::new(),
                    classes: Vec::new(),
                    groups: with_groups.then(Vec::new),
                };
                found.insert(row.id, before);
            }
            let years: Vec<(PupilId, i32, String)> = db!(self.conn, c => pupil_year::table
                .filter(pupil_year::school_id.eq(school))
                .filter(pupil_year::pupil_id.eq_any(ids))
                .order(pupil_year::year)
                .select((pupil_year::pupil_id, pupil_year::year, pupil_year::year_group))
                .load(c))?;
            for (pupil, year, code) in years {
                found.entry(pupil).and_modify(|before| before.years.push((year, code)));
            }
            let classes: Vec<(PupilId, ClassId, Date, Option<Date>)> = db!(self.conn, c => class_member::table
                .filter(class_member::school_id.eq(school))
                .filter(class_member::pupil_id.eq_any(ids))
                .order((class_member::class_id, class_member::from_on))
                .select((class_member::pupil_id, class_member::class_id, class_member::from_on, class_member::until_on))
                .load(c))?;
            for (pupil, class, from, until) in classes {
                found.entry(pupil).and_modify(|before| before.classes.push((class, from, until)));
            }
            let groups: Vec<(PupilId, GroupId, Date, Option<Date>)> = db!(self.conn, c => group_member::table
                .filter(group_member::school_id.eq(school))
                .filter(group_member::pupil_id.eq_any(ids))
                .order((group_member::group_id, group_member::from_on))
                .select((group_member::pupil_id, group_member::group_id, group_member::from_on, group_member::until_on))
                .load(c))?;
            for (pupil, group, from, until) in groups {
                let groups = found.get_mut(&pupil).and_then(|before| before.groups.as_mut());
                groups.into_iter().for_each(|groups| groups.push((group, from, until)));
            }
        }
        if found.len() < ids.len() {
            return Err(Error::Missing);
        }
        Ok(found.into_values().collect())
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
        let created: BTreeSet<PupilId> = before.created.iter().copied().collect();
        let touched: BTreeSet<PupilId> =
            created.iter().copied().chain(before.changed.iter().map(|pupil| pupil.id)).collect();
        let mut out =
            Dependents { changed: self.changed_since(&touched, before.version)?, ..Dependents::default() };
        let ids = &before.created;
        let mut used: BTreeSet<PupilId> = BTreeSet::new();
        let members: Vec<PupilId> = db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::pupil_id.eq_any(ids))
            .select(group_member::pupil_id)
            .load(c))?;
        let marked: Vec<PupilId> = db!(self.conn, c => lesson_mark::table
            .filter(lesson_mark::school_id.eq(school))
            .filter(lesson_mark::pupil_id.eq_any(ids))
            .select(lesson_mark::pupil_id)
            .load(c))?;
        let checked: Vec<PupilId> = db!(self.conn, c => response::table
            .filter(response::school_id.eq(school))
            .filter(response::pupil_id.eq_any(ids))
            .select(response::pupil_id)
            .load(c))?;
        used.extend(members.into_iter().chain(marked).chain(checked));
        out.used = used.len();
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
            out.classes += usize::from(adults > 0 || pupils.iter().any(|pupil| !touched.contains(pupil)));
        }
        Ok(out)
    }

    /// How many of the pupils were changed, or are gone, since a version that changed them all.
    pub(super) fn changed_since(
        &mut self,
        touched: &BTreeSet<PupilId>,
        version: i64,
    ) -> Result<usize, Error> {
        let school = self.school();
        let as_left: i64 = db!(self.conn, c => pupil::table
            .filter(pupil::school_id.eq(school))
            .filter(pupil::id.eq_any(touched))
            .filter(pupil::v.eq(version))
            .count()
            .get_result(c))?;
        Ok(touched.len().saturating_sub(usize::try_from(as_left).unwrap_or(0)))
    }

    /// A class that nobody is in, gone with its adults.
    pub(super) fn forget_class(&mut self, id: ClassId) -> Result<(), Error> {
        let school = self.school();
        db!(self.conn, c => diesel::delete(class_staff::table
            .filter(class_staff::school_id.eq(school))
            .filter(class_staff::class_id.eq(id)))
            .execute(c))?;
        db!(self.conn, c => diesel::delete(class::table.find((school, id))).execute(c))?;
        self.save_gone("class", id.uuid(), &[Scope::School])
    }

    /// Puts pupils back as they were.
    pub(super) fn put_back(&mut self, before: &[PupilBefore]) -> Result<(), Error> {
        let ids: Vec<PupilId> = before.iter().map(|one| one.id).collect();
        self.clear_places(&ids)?;
        let years =
            before.iter().flat_map(|one| one.years.iter().map(|(year, code)| (one.id, *year, code.as_str())));
        self.insert_years(&years.collect::<Vec<_>>())?;
        let places = before.iter().flat_map(|one| one.classes.iter().map(|class| (one.id, *class)));
        self.insert_class_members(&places.collect::<Vec<_>>())?;
        let mut changes = Vec::new();
        for batch in before.chunks(BATCH) {
            let upns = self.upns_of(&batch.iter().map(|one| one.id).collect::<Vec<_>>())?;
            for one in batch {
                self.put_back_groups(one)?;
                let change = PupilChange {
                    pupil_ref: Some(one.pupil_ref.clone()),
                    upn: (upns.get(&one.id) != one.upn.as_ref()).then(|| one.upn.clone()),
                    given_name: Some(one.given_name.clone()),
                    family_name: Some(one.family_name.clone()),
                    preferred_name: Some(one.preferred_name.clone()),
                    date_of_birth: Some(one.date_of_birth),
                    left_on: Some(one.left_on),
                    ..PupilChange::default()
                };
                changes.push((one.id, change));
            }
        }
        self.apply_pupils(&changes)
    }

    fn put_back_groups(&mut self, before: &PupilBefore) -> Result<(), Error> {
        let (school, id) = (self.school(), before.id);
        let Some(groups) = &before.groups else { return Ok(()) };
        db!(self.conn, c => diesel::delete(group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::pupil_id.eq(id)))
            .execute(c))?;
        for (group, _, until) in groups {
            self.log_member(*group, id, until.is_none())?;
        }
        self.insert_members(&groups.iter().map(|group| (id, *group)).collect::<Vec<_>>())
    }
}
