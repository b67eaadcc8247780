//! Pupils as they were before a change of many, to be put back; and how one tells that they are
//! still as the change left them.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use plumbline_core::{
    id::{ClassId, GroupId, PupilId},
    roster::Upn,
    text::hex,
    time::{Date, Span},
};
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};

use super::{
    Error, PupilChange, Tx,
    conn::db,
    dated::Dated,
    member_days::PupilDays,
    pupils::BATCH,
    schema::{class_member, group_member, pupil_year, teaching_group},
};

/// A pupil as it was before a change of many, to be put back.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct PupilBefore {
    pub(super) id: PupilId,
    pub(super) pupil_ref: Option<String>,
    pub(super) given_name: String,
    pub(super) family_name: Option<String>,
    pub(super) preferred_name: Option<String>,
    #[serde(default)]
    pub(super) label: Option<String>,
    pub(super) date_of_birth: Option<Date>,
    pub(super) left_on: Option<Date>,
    pub(super) upn: Option<Upn>,
    pub(super) years: Vec<(i32, String)>,
    pub(super) classes: Vec<Dated<ClassId>>,
    /// Groups where the change touches them: an import only those of one who leaves.
    pub(super) groups: Option<Vec<Dated<GroupId>>>,
    /// The weekdays of these.
    #[serde(default)]
    pub(super) days: PupilDays,
}

/// How much of a pupil a change of many touches.
#[derive(Clone, Copy, Debug)]
pub(super) enum Extent {
    /// All that is on the pupil's page.
    Page,
    /// The last day, year groups, classes and groups.
    Places,
}

/// What pupils were like when a change of many was done, without keeping it once more: by pupil, a
/// digest of what the change could have touched.
pub(super) type AsLeft = BTreeMap<PupilId, String>;

/// A pupil of a change, and whether it touches the pupil's groups.
pub(super) type Whom = (PupilId, bool);

impl PupilBefore {
    pub(super) fn whom(&self) -> Whom {
        (self.id, self.groups.is_some())
    }

    fn digest(&self, extent: Extent) -> Result<String, Error> {
        let text = match extent {
            Extent::Page => serde_json::to_vec(self),
            Extent::Places => {
                let places = (self.left_on, &self.years, &self.classes, &self.groups, &self.days);
                serde_json::to_vec(&places)
            }
        }?;
        Ok(hex(&Sha256::digest(text)[..16]))
    }
}

impl Tx<'_> {
    pub(super) fn pupil_before(&mut self, id: PupilId, with_groups: bool) -> Result<PupilBefore, Error> {
        self.pupils_before(&[id], with_groups)?.pop().ok_or(Error::Missing)
    }

    /// Pupils as they are, by id.
    ///
    /// # Errors
    /// [`Error::Missing`] if one of them is no pupil of the school.
    pub(super) fn pupils_before(
        &mut self,
        ids: &[PupilId],
        with_groups: bool,
    ) -> Result<Vec<PupilBefore>, Error> {
        let found = self.pupils_found(ids, with_groups)?;
        if found.len() < ids.len() { Err(Error::Missing) } else { Ok(found) }
    }

    /// Digests of those who are there, as they are now.
    pub(super) fn as_left(&mut self, whom: &[Whom], extent: Extent) -> Result<AsLeft, Error> {
        let mut digests = AsLeft::new();
        for with_groups in [false, true] {
            let ids = whom.iter().filter(|(_, groups)| *groups == with_groups).map(|(id, _)| *id);
            for pupil in self.pupils_found(&ids.collect::<Vec<_>>(), with_groups)? {
                digests.insert(pupil.id, pupil.digest(extent)?);
            }
        }
        Ok(digests)
    }

    /// Which of the pupils of a change are gone, or no longer as it left them.
    pub(super) fn changed_since(
        &mut self,
        whom: &[Whom],
        left: &AsLeft,
        extent: Extent,
    ) -> Result<BTreeSet<PupilId>, Error> {
        let now = self.as_left(whom, extent)?;
        let as_left = |id: &PupilId| now.get(id).is_some_and(|digest| left.get(id) == Some(digest));
        Ok(whom.iter().map(|(id, _)| *id).filter(|id| !as_left(id)).collect())
    }

    fn pupils_found(&mut self, ids: &[PupilId], with_groups: bool) -> Result<Vec<PupilBefore>, Error> {
        let school = self.school();
        let mut found: BTreeMap<PupilId, PupilBefore> = BTreeMap::new();
        for ids in ids.chunks(BATCH) {
            let mut upns = self.upns_of(ids)?;
            let mut days = if with_groups { self.days_of_pupils(ids)? } else { BTreeMap::new() };
            for row in self.pupil_rows(ids)? {
                let before = PupilBefore {
                    id: row.id,
                    pupil_ref: row.pupil_ref,
                    given_name: row.given_name,
                    family_name: row.family_name,
                    preferred_name: row.preferred_name,
                    label: row.label,
                    date_of_birth: row.date_of_birth,
                    left_on: row.left_on,
                    upn: upns.remove(&row.id),
                    years: Vec::new(),
                    classes: Vec::new(),
                    groups: with_groups.then(Vec::new),
                    days: days.remove(&row.id).unwrap_or_default(),
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
        Ok(found.into_values().collect())
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
        let closed = self.closed_days()?;
        let mut changes = Vec::new();
        for batch in before.chunks(BATCH) {
            let upns = self.upns_of(&batch.iter().map(|one| one.id).collect::<Vec<_>>())?;
            for one in batch {
                self.put_back_groups(one, &closed)?;
                let change = PupilChange {
                    pupil_ref: Some(one.pupil_ref.clone()),
                    upn: (upns.get(&one.id) != one.upn.as_ref()).then(|| one.upn.clone()),
                    given_name: Some(one.given_name.clone()),
                    family_name: Some(one.family_name.clone()),
                    preferred_name: Some(one.preferred_name.clone()),
                    label: Some(one.label.clone()),
                    date_of_birth: Some(one.date_of_birth),
                    left_on: Some(one.left_on),
                    ..PupilChange::default()
                };
                changes.push((one.id, change));
            }
        }
        self.apply_pupils(&changes)
    }

    /// Puts the places of pupils back as they were; what else is on their pages stays as it is now.
    pub(super) fn put_places_back(&mut self, before: &[PupilBefore]) -> Result<(), Error> {
        let ids: Vec<PupilId> = before.iter().map(|one| one.id).collect();
        let mut now: BTreeMap<PupilId, PupilBefore> =
            self.pupils_before(&ids, false)?.into_iter().map(|pupil| (pupil.id, pupil)).collect();
        let merged = before.iter().filter_map(|one| {
            let PupilBefore { left_on, years, classes, groups, days, .. } = one.clone();
            Some(PupilBefore { left_on, years, classes, groups, days, ..now.remove(&one.id)? })
        });
        let merged: Vec<PupilBefore> = merged.collect();
        self.put_back(&merged)
    }

    fn put_back_groups(
        &mut self,
        before: &PupilBefore,
        closed: &BTreeMap<GroupId, Date>,
    ) -> Result<(), Error> {
        let (school, id) = (self.school(), before.id);
        let Some(groups) = &before.groups else { return Ok(()) };
        db!(self.conn, c => diesel::delete(group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::pupil_id.eq(id)))
            .execute(c))?;
        let mut places = Vec::new();
        for (group, from, until) in groups {
            // A group may have been closed since.
            let last = closed.get(group).copied();
            let Some(span) = (Span { from: *from, until: *until }).up_to(last) else { continue };
            places.push((id, (*group, span.from, span.until)));
        }
        self.insert_members(&places)?;
        self.set_days_of_pupil(id, &before.days)
    }

    /// The last days of the groups that have one.
    fn closed_days(&mut self) -> Result<BTreeMap<GroupId, Date>, Error> {
        let school = self.school();
        let days: Vec<(GroupId, Option<Date>)> = db!(self.conn, c => teaching_group::table
            .filter(teaching_group::school_id.eq(school))
            .filter(teaching_group::closed_on.is_not_null())
            .select((teaching_group::id, teaching_group::closed_on))
            .load(c))?;
        Ok(days.into_iter().filter_map(|(group, last)| Some((group, last?))).collect())
    }
}
