//! What groups were taught before their records here begin.

use std::{
    collections::{BTreeMap, BTreeSet},
    sync::Arc,
};

use diesel::{dsl::min, prelude::*};
use plumbline_core::{
    access::{
        act::{Read, Record},
        resource::{Group, GroupDay, GroupPast, PupilLearning},
    },
    id::{GroupId, ItemId, LessonId, PupilId, SchoolId, StaffId, VersionId},
    lesson::{self, CarriedIn},
    sequence::Content,
    time::{Date, Instant},
};
use serde_json::{Value, json};

use super::{
    Error, Permit, Tx,
    change::Scope,
    conn::{db, held_on},
    group::GroupRow,
    schema::{carried_in, carried_in_pupil, group_member},
    sequence::VersionRow,
};

#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = carried_in, treat_none_as_default_value = false)]
struct CarriedRow {
    school_id: SchoolId,
    group_id: GroupId,
    as_of: Date,
    version_id: VersionId,
    lessons: Value,
    entered_by: StaffId,
    at: Instant,
    v: i64,
}

#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = carried_in_pupil, treat_none_as_default_value = false)]
struct PupilRow {
    school_id: SchoolId,
    group_id: GroupId,
    pupil_id: PupilId,
    missed: Value,
}

/// What was carried in for a group, as stored.
#[derive(Clone, Debug)]
pub struct SavedCarriedIn {
    /// What was said.
    pub carried: CarriedIn,
    /// The version it was said in.
    pub version: VersionId,
    /// Who entered it.
    pub entered_by: StaffId,
    /// When.
    pub at: Instant,
}

/// Pupils in one insert: SQLite takes a limited number of values.
const BATCH: usize = 100;

impl<'tx> Tx<'tx> {
    /// What was carried in for a group, if anything. The group is the subject.
    ///
    /// # Errors
    /// If the store fails.
    pub fn group_past<A>(
        &mut self,
        permit: &Permit<'tx, A, GroupPast>,
    ) -> Result<Option<SavedCarriedIn>, Error> {
        self.about("group", permit.resource().0.uuid());
        self.past_of(permit.resource().0)
    }

    /// What was carried in for the group of a day, whatever the day.
    ///
    /// # Errors
    /// If the store fails.
    pub fn past_of_day<A>(
        &mut self,
        permit: &Permit<'tx, A, GroupDay>,
    ) -> Result<Option<SavedCarriedIn>, Error> {
        self.past_of(permit.resource().group)
    }

    /// What was carried in for a pupil, in whatever group.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pupil_pasts(
        &mut self,
        permit: &Permit<'tx, Read, PupilLearning>,
    ) -> Result<Vec<SavedCarriedIn>, Error> {
        self.pasts_of_pupil(permit.resource().0)
    }

    /// The group's row.
    ///
    /// # Errors
    /// If the store fails.
    pub fn group_of_past<A>(&mut self, permit: &Permit<'tx, A, GroupPast>) -> Result<GroupRow, Error> {
        self.group_row(permit.resource().0)
    }

    /// The version in force for the group today.
    ///
    /// # Errors
    /// If the store fails.
    pub fn version_of_past<A>(
        &mut self,
        permit: &Permit<'tx, A, GroupPast>,
    ) -> Result<Option<VersionRow>, Error> {
        let (group, today) = (self.group_row(permit.resource().0)?, self.today());
        self.version_for(&group, today)
    }

    /// The version something was carried in from, with its content.
    ///
    /// # Errors
    /// If the store fails.
    pub fn version_carried<A>(
        &mut self,
        _permit: &Permit<'tx, A, GroupPast>,
        saved: &SavedCarriedIn,
    ) -> Result<(VersionId, Arc<Content>), Error> {
        Ok((saved.version, self.version_row(saved.version)?.content))
    }

    /// The group's records.
    ///
    /// # Errors
    /// If the store fails.
    pub fn records_since<A>(
        &mut self,
        permit: &Permit<'tx, A, GroupPast>,
    ) -> Result<Vec<lesson::Record>, Error> {
        let (group, today) = (permit.resource().0, self.today());
        let records = self.lessons_of(group, today)?.records;
        Ok(records.into_iter().map(|saved| saved.record).collect())
    }

    /// The pupils in the group on a day; where it had nobody yet, on its first day with somebody, up
    /// to today.
    ///
    /// # Errors
    /// If the store fails.
    pub fn members_then<A>(
        &mut self,
        permit: &Permit<'tx, A, GroupPast>,
        on: Date,
    ) -> Result<Vec<PupilId>, Error> {
        let (school, group, today) = (self.school(), permit.resource().0, self.today());
        let first: Option<Date> = db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::group_id.eq(group))
            .filter(group_member::until_on.is_null().or(group_member::until_on.ge(on)))
            .filter(group_member::from_on.le(today))
            .select(min(group_member::from_on))
            .first(c))?;
        let on = first.map_or(on, |first| first.max(on));
        Ok(db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::group_id.eq(group))
            .filter(held_on!(group_member, on))
            .select(group_member::pupil_id)
            .load(c))?)
    }

    pub(super) fn past_of(&mut self, group: GroupId) -> Result<Option<SavedCarriedIn>, Error> {
        Ok(self.pasts(Some(&[group]))?.pop().map(|(_, saved)| saved))
    }

    /// What was carried in for some groups, or for all, by group.
    pub(super) fn pasts(
        &mut self,
        groups: Option<&[GroupId]>,
    ) -> Result<Vec<(GroupId, SavedCarriedIn)>, Error> {
        let school = self.school();
        let (rows, pupils) = db!(self.conn, c => {
            let mut rows = carried_in::table
                .filter(carried_in::school_id.eq(school))
                .order(carried_in::group_id)
                .select(CarriedRow::as_select())
                .into_boxed();
            let mut pupils = carried_in_pupil::table
                .filter(carried_in_pupil::school_id.eq(school))
                .select(PupilRow::as_select())
                .into_boxed();
            if let Some(groups) = groups {
                rows = rows.filter(carried_in::group_id.eq_any(groups));
                pupils = pupils.filter(carried_in_pupil::group_id.eq_any(groups));
            }
            (rows.load::<CarriedRow>(c)?, pupils.load::<PupilRow>(c)?)
        });
        let mut named: BTreeMap<GroupId, BTreeMap<PupilId, BTreeSet<ItemId>>> = BTreeMap::new();
        for row in pupils {
            let missed = serde_json::from_value(row.missed)?;
            named.entry(row.group_id).or_default().insert(row.pupil_id, missed);
        }
        let contents = self.contents_of(rows.iter().map(|row| row.version_id))?;
        let mut saved = Vec::new();
        for row in rows {
            let lessons: Vec<LessonId> = serde_json::from_value(row.lessons)?;
            let Some(content) = contents.get(&row.version_id) else { return Err(Error::Missing) };
            let pupils = named.remove(&row.group_id).unwrap_or_default();
            let carried = CarriedIn::new(content, row.as_of, lessons, pupils);
            let (version, entered_by, at) = (row.version_id, row.entered_by, row.at);
            saved.push((row.group_id, SavedCarriedIn { carried, version, entered_by, at }));
        }
        Ok(saved)
    }

    /// What was carried in for a pupil, in whatever group.
    pub(super) fn pasts_of_pupil(&mut self, pupil: PupilId) -> Result<Vec<SavedCarriedIn>, Error> {
        self.pasts_of_pupils(&[pupil])
    }

    pub(super) fn pasts_of_pupils(&mut self, pupils: &[PupilId]) -> Result<Vec<SavedCarriedIn>, Error> {
        let school = self.school();
        let groups: Vec<GroupId> = db!(self.conn, c => carried_in_pupil::table
            .filter(carried_in_pupil::school_id.eq(school))
            .filter(carried_in_pupil::pupil_id.eq_any(pupils))
            .select(carried_in_pupil::group_id)
            .distinct()
            .load(c))?;
        Ok(self.pasts(Some(&groups))?.into_iter().map(|(_, saved)| saved).collect())
    }

    /// What was carried in, in whatever group and as of no later day, for a group's members of a
    /// day.
    ///
    /// # Errors
    /// If the store fails.
    pub fn member_pasts(
        &mut self,
        permit: &Permit<'tx, Read, Group>,
        on: Date,
    ) -> Result<Vec<SavedCarriedIn>, Error> {
        self.pasts_of_members(permit.resource().0, on)
    }

    pub(super) fn pasts_of_members(
        &mut self,
        group: GroupId,
        on: Date,
    ) -> Result<Vec<SavedCarriedIn>, Error> {
        let school = self.school();
        let groups: Vec<GroupId> = db!(self.conn, c => carried_in_pupil::table
            .inner_join(group_member::table.on(group_member::school_id.eq(carried_in_pupil::school_id)
                .and(group_member::pupil_id.eq(carried_in_pupil::pupil_id))))
            .filter(carried_in_pupil::school_id.eq(school))
            .filter(group_member::group_id.eq(group))
            .filter(held_on!(group_member, on))
            .select(carried_in_pupil::group_id)
            .distinct()
            .load(c))?;
        let pasts = self.pasts(Some(&groups))?.into_iter().map(|(_, saved)| saved);
        Ok(pasts.filter(|saved| saved.carried.as_of <= on).collect())
    }

    /// All that was carried in as of a day up to this one, for counting.
    pub(super) fn all_pasts(&mut self, until: Date) -> Result<Vec<SavedCarriedIn>, Error> {
        let pasts = self.pasts(None)?.into_iter().map(|(_, saved)| saved);
        Ok(pasts.filter(|saved| saved.carried.as_of <= until).collect())
    }

    /// The same by group.
    pub(super) fn pasts_by_group(&mut self, until: Date) -> Result<BTreeMap<GroupId, CarriedIn>, Error> {
        let pasts = self.pasts(None)?.into_iter().map(|(group, saved)| (group, saved.carried));
        Ok(pasts.filter(|(_, carried)| carried.as_of <= until).collect())
    }

    /// Carries something in for a group, in place of what was carried in before.
    ///
    /// # Errors
    /// If the store fails.
    pub fn save_past(
        &mut self,
        permit: &Permit<'tx, Record, GroupPast>,
        carried: &CarriedIn,
        version: VersionId,
    ) -> Result<GroupRow, Error> {
        let (school, group) = (self.school(), permit.resource().0);
        self.delete_past(group)?;
        let row = CarriedRow {
            school_id: school,
            group_id: group,
            as_of: carried.as_of,
            version_id: version,
            lessons: serde_json::to_value(&carried.lessons)?,
            entered_by: self.actor.staff,
            at: self.now(),
            v: self.version,
        };
        db!(self.conn, c => diesel::insert_into(carried_in::table).values(&row).execute(c))?;
        let pupils: Vec<PupilRow> = carried
            .pupils
            .iter()
            .map(|(pupil_id, missed)| {
                let missed = serde_json::to_value(missed)?;
                Ok(PupilRow { school_id: school, group_id: group, pupil_id: *pupil_id, missed })
            })
            .collect::<Result<_, Error>>()?;
        for batch in pupils.chunks(BATCH) {
            db!(self.conn, c => diesel::insert_into(carried_in_pupil::table).values(batch).execute(c))?;
        }
        let body = json!({"as_of": carried.as_of, "version_id": version, "lessons": carried.lessons,
            "pupils": carried.pupils});
        self.save("carried_in", group.uuid(), &[Scope::Group(group)], &body)?;
        let old = self.group_row(group)?;
        self.store_group(old)
    }

    /// Takes back what was carried in for a group. It stays in the history.
    ///
    /// # Errors
    /// If the store fails.
    pub fn remove_past(&mut self, permit: &Permit<'tx, Record, GroupPast>) -> Result<(), Error> {
        let group = permit.resource().0;
        self.delete_past(group)?;
        self.save_gone("carried_in", group.uuid(), &[Scope::Group(group)])?;
        let old = self.group_row(group)?;
        self.store_group(old).map(|_| ())
    }

    fn delete_past(&mut self, group: GroupId) -> Result<(), Error> {
        let school = self.school();
        db!(self.conn, c => diesel::delete(carried_in_pupil::table
            .filter(carried_in_pupil::school_id.eq(school))
            .filter(carried_in_pupil::group_id.eq(group)))
            .execute(c))?;
        db!(self.conn, c => diesel::delete(carried_in::table.find((school, group))).execute(c))?;
        Ok(())
    }
}
