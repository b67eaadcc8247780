//! Catch-up records.

mod known;

use std::{
    collections::{BTreeMap, BTreeSet},
    sync::Arc,
};

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::{Read, Record},
        resource::{Group, GroupDay, PupilLearning},
    },
    id::{CatchUpId, GroupId, ItemId, PupilId, SchoolId, StaffId, VersionId},
    lesson::{self, CatchUp, items_taught},
    sequence::Content,
    time::{Date, Instant},
};
use serde_json::Value;

use super::{
    Error, Permit, SavedCarriedIn, SavedRecord, Tx,
    change::{HistoryLine, Scope},
    conn::{db, held_on},
    pupils::BATCH,
    schema::{catch_up, catch_up_pupil, group_member},
};

pub use known::KnownCatchUp;

#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = catch_up, treat_none_as_default_value = false)]
struct CatchUpRow {
    school_id: SchoolId,
    id: CatchUpId,
    group_id: GroupId,
    on_date: Date,
    items: Value,
    versions: Value,
    taught_by: StaffId,
    entered_by: StaffId,
    at: Instant,
    deleted_at: Option<Instant>,
    v: i64,
}

#[derive(Clone, Debug, Insertable)]
#[diesel(table_name = catch_up_pupil, treat_none_as_default_value = false)]
struct PupilInsert {
    school_id: SchoolId,
    catch_up_id: CatchUpId,
    pupil_id: PupilId,
}

/// A catch-up record as stored.
#[derive(Clone, Debug)]
pub struct SavedCatchUp {
    /// The record.
    pub catch_up: CatchUp,
    /// When it was entered.
    pub at: Instant,
    /// Its version.
    pub v: i64,
}

/// What is needed to decide about catch-up in a group on a day.
#[derive(Clone, Debug)]
pub struct CatchUpBasis {
    /// The last day of the group, where it has one.
    pub closed_on: Option<Date>,
    /// The group's pupils that day, whatever their weekdays.
    pub members: Vec<PupilId>,
    /// What the group was taught by then.
    pub taught: BTreeSet<ItemId>,
    /// What the lessons of each of these pupils had been about by then, in whatever group.
    pub met: BTreeMap<PupilId, BTreeSet<ItemId>>,
    /// The versions all that was taught from: the one in force first, then the latest.
    pub contents: Vec<(VersionId, Arc<Content>)>,
}

/// Whose catch-up records.
#[derive(Clone, Copy)]
pub(super) enum Of<'a> {
    Group(GroupId),
    Day(GroupDay),
    /// With those lines only that name a member of the group on the day; none of a later day.
    Members(GroupId, Date),
    /// With the lines of these pupils only.
    Pupils(&'a [PupilId]),
    /// None of a later day.
    School(Date),
    Ids(&'a [CatchUpId]),
}

impl<'tx> Tx<'tx> {
    pub(super) fn catch_ups(&mut self, of: Of<'_>) -> Result<Vec<SavedCatchUp>, Error> {
        let school = self.school();
        let rows: Vec<(CatchUpRow, PupilId)> = db!(self.conn, c => {
            let query = catch_up_pupil::table
                .inner_join(catch_up::table.on(catch_up::school_id.eq(catch_up_pupil::school_id)
                    .and(catch_up::id.eq(catch_up_pupil::catch_up_id))))
                .filter(catch_up_pupil::school_id.eq(school))
                .filter(catch_up::deleted_at.is_null())
                .order((catch_up::on_date, catch_up::id, catch_up_pupil::pupil_id))
                .select((CatchUpRow::as_select(), catch_up_pupil::pupil_id))
                .into_boxed();
            match of {
                Of::Group(group) => query.filter(catch_up::group_id.eq(group)),
                Of::Day(day) => query.filter(catch_up::group_id.eq(day.group)).filter(catch_up::on_date.eq(day.on)),
                Of::Members(group, on) => query.filter(catch_up::on_date.le(on)).filter(
                    catch_up_pupil::pupil_id.eq_any(group_member::table
                        .filter(group_member::school_id.eq(school))
                        .filter(group_member::group_id.eq(group))
                        .filter(held_on!(group_member, on))
                        .select(group_member::pupil_id))),
                Of::Pupils(pupils) => query.filter(catch_up_pupil::pupil_id.eq_any(pupils)),
                Of::School(until) => query.filter(catch_up::on_date.le(until)),
                Of::Ids(ids) => query.filter(catch_up::id.eq_any(ids)),
            }
            .load(c)
        })?;
        let mut out: Vec<SavedCatchUp> = Vec::new();
        for (row, pupil) in rows {
            if let Some(last) = out.last_mut().filter(|last| last.catch_up.id == row.id) {
                last.catch_up.pupils.push(pupil);
                continue;
            }
            let catch_up = CatchUp {
                id: row.id,
                group: row.group_id,
                on: row.on_date,
                items: serde_json::from_value(row.items)?,
                pupils: vec![pupil],
                versions: serde_json::from_value(row.versions)?,
                taught_by: row.taught_by,
                entered_by: row.entered_by,
            };
            out.push(SavedCatchUp { catch_up, at: row.at, v: row.v });
        }
        Ok(out)
    }

    /// A group's catch-up records, latest first.
    ///
    /// # Errors
    /// If the store fails.
    pub fn group_catch_ups<A>(&mut self, permit: &Permit<'tx, A, Group>) -> Result<Vec<SavedCatchUp>, Error> {
        self.about("group", permit.resource().0.uuid());
        let mut found = self.catch_ups(Of::Group(permit.resource().0))?;
        found.reverse();
        Ok(found)
    }

    /// The records of a group and day.
    ///
    /// # Errors
    /// If the store fails.
    pub fn day_catch_ups<A>(
        &mut self,
        permit: &Permit<'tx, A, GroupDay>,
    ) -> Result<Vec<SavedCatchUp>, Error> {
        self.catch_ups(Of::Day(*permit.resource()))
    }

    /// The records up to a day, of whatever group, that name one of the group's members of that day. The
    /// group is the subject.
    ///
    /// # Errors
    /// If the store fails.
    pub fn member_catch_ups(
        &mut self,
        permit: &Permit<'tx, Read, Group>,
        on: Date,
    ) -> Result<Vec<SavedCatchUp>, Error> {
        self.about("group", permit.resource().0.uuid());
        self.catch_ups(Of::Members(permit.resource().0, on))
    }

    /// The records that name a pupil, earliest first.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pupil_catch_ups(
        &mut self,
        permit: &Permit<'tx, Read, PupilLearning>,
    ) -> Result<Vec<SavedCatchUp>, Error> {
        self.catch_ups_of(&[permit.resource().0])
    }

    pub(super) fn catch_ups_of(&mut self, pupils: &[PupilId]) -> Result<Vec<SavedCatchUp>, Error> {
        self.catch_ups(Of::Pupils(pupils))
    }

    /// All records of the school up to a day, for counting.
    pub(super) fn all_catch_ups(&mut self, until: Date) -> Result<Vec<SavedCatchUp>, Error> {
        self.catch_ups(Of::School(until))
    }

    /// One record.
    ///
    /// # Errors
    /// [`Error::Missing`] if it is none of the group and day.
    pub fn catch_up<A>(
        &mut self,
        permit: &Permit<'tx, A, GroupDay>,
        id: CatchUpId,
    ) -> Result<SavedCatchUp, Error> {
        let GroupDay { group, on } = *permit.resource();
        let found = self.catch_ups(Of::Ids(&[id]))?.pop();
        found.filter(|saved| (saved.catch_up.group, saved.catch_up.on) == (group, on)).ok_or(Error::Missing)
    }

    /// The same for a reader; the group is the subject.
    ///
    /// # Errors
    /// [`Error::Missing`] if it is none of the group and day.
    pub fn catch_up_read(
        &mut self,
        permit: &Permit<'tx, Read, GroupDay>,
        id: CatchUpId,
    ) -> Result<SavedCatchUp, Error> {
        self.about("group", permit.resource().group.uuid());
        self.catch_up(permit, id)
    }

    /// Where a record of the school stands, or stood before it was deleted.
    ///
    /// # Errors
    /// [`Error::Missing`] if there never was one; ask the policy before saying so.
    pub fn catch_up_place(&mut self, id: CatchUpId) -> Result<GroupDay, Error> {
        let school = self.school();
        let (group, on) = db!(self.conn, c => catch_up::table
            .find((school, id))
            .select((catch_up::group_id, catch_up::on_date))
            .first(c))?;
        Ok(GroupDay { group, on })
    }

    /// What a record has said, earliest first; none where it was deleted. The group is the subject.
    ///
    /// # Errors
    /// If the store fails.
    pub fn catch_up_history(
        &mut self,
        permit: &Permit<'tx, Read, GroupDay>,
        id: CatchUpId,
    ) -> Result<Vec<(HistoryLine, Option<CatchUp>)>, Error> {
        self.about("group", permit.resource().group.uuid());
        let mut said = Vec::new();
        for line in self.history_of("catch_up", id.uuid())? {
            let record: Option<CatchUp> = serde_json::from_value(line.body.clone())?;
            if record.as_ref().is_some_and(|record| record.group != permit.resource().group) {
                return Err(Error::Missing);
            }
            said.push((line, record));
        }
        Ok(said)
    }

    /// What is known of a group and day before something is caught up.
    ///
    /// # Errors
    /// If the store fails.
    pub fn catch_up_basis(&mut self, permit: &Permit<'tx, Record, GroupDay>) -> Result<CatchUpBasis, Error> {
        let GroupDay { group, on } = *permit.resource();
        let lessons = self.lessons_of(group, on)?;
        let records: Vec<lesson::Record> =
            lessons.records.into_iter().map(|saved| saved.record).filter(|record| record.on <= on).collect();
        let taught = items_taught(lessons.past.as_ref().map(|past| &past.carried), &records);
        let (theirs, pasts) = (self.records_of_members(group, on)?, self.pasts_of_members(group, on)?);
        let mut met: BTreeMap<PupilId, BTreeSet<ItemId>> = BTreeMap::new();
        for record in theirs.iter().map(|saved| &saved.record) {
            for entry in &record.register {
                met.entry(entry.pupil_id).or_default().extend(&record.items);
            }
        }
        for carried in pasts.iter().map(|past| &past.carried) {
            for pupil in carried.pupils.keys() {
                met.entry(*pupil).or_default().extend(&carried.items);
            }
        }
        let versions = records.iter().chain(theirs.iter().map(|saved| &saved.record));
        let versions: BTreeSet<VersionId> = versions
            .map(|record| record.version)
            .chain(pasts.iter().chain(&lessons.past).map(|past| past.version))
            .collect();
        let in_force = lessons.version.map(|version| (version.head.id, version.content));
        let mut contents: Vec<_> = in_force.into_iter().collect();
        // Ids of versions sort by time.
        for id in versions.into_iter().rev() {
            if contents.iter().all(|(known, _)| *known != id) {
                contents.push((id, self.version_row(id)?.content));
            }
        }
        let members = self.member_ids(permit)?;
        Ok(CatchUpBasis { closed_on: lessons.group.closed_on, members, taught, met, contents })
    }

    /// Writes a record that is new.
    ///
    /// # Errors
    /// If the store fails.
    pub fn save_catch_up(
        &mut self,
        _permit: &Permit<'tx, Record, GroupDay>,
        record: &CatchUp,
    ) -> Result<SavedCatchUp, Error> {
        let row = CatchUpRow {
            school_id: self.school(),
            id: record.id,
            group_id: record.group,
            on_date: record.on,
            items: serde_json::to_value(&record.items)?,
            versions: serde_json::to_value(&record.versions)?,
            taught_by: record.taught_by,
            entered_by: record.entered_by,
            at: self.now(),
            deleted_at: None,
            v: self.version,
        };
        db!(self.conn, c => diesel::insert_into(catch_up::table).values(&row).execute(c))?;
        self.add_to_catch_ups(&record.pupils.iter().map(|pupil| (record.id, *pupil)).collect::<Vec<_>>())?;
        self.save("catch_up", record.id.uuid(), &[Scope::Group(record.group)], record)?;
        Ok(SavedCatchUp { catch_up: record.clone(), at: row.at, v: row.v })
    }

    /// Deletes a record. It stays in the history.
    ///
    /// # Errors
    /// [`Error::Missing`] if it is gone.
    pub fn delete_catch_up(
        &mut self,
        permit: &Permit<'tx, Record, GroupDay>,
        id: CatchUpId,
    ) -> Result<(), Error> {
        let (school, now, version, group) =
            (self.school(), self.now(), self.version, permit.resource().group);
        let deleted = db!(self.conn, c => diesel::update(catch_up::table
            .filter(catch_up::school_id.eq(school))
            .filter(catch_up::id.eq(id))
            .filter(catch_up::group_id.eq(group))
            .filter(catch_up::deleted_at.is_null()))
            .set((catch_up::deleted_at.eq(Some(now)), catch_up::v.eq(version)))
            .execute(c))?;
        if deleted == 0 {
            return Err(Error::Missing);
        }
        self.save_gone("catch_up", id.uuid(), &[Scope::Group(group)])
    }

    /// The contents of the versions that records, what was carried in and catch-up pin, for labels of
    /// what was on screen then.
    ///
    /// # Errors
    /// If the store fails.
    pub fn versions_pinned<A, R>(
        &mut self,
        _permit: &Permit<'tx, A, R>,
        records: &[SavedRecord],
        pasts: &[SavedCarriedIn],
        catch_ups: &[SavedCatchUp],
    ) -> Result<Vec<Arc<Content>>, Error> {
        self.contents_pinned(records, pasts, catch_ups)
    }

    pub(super) fn add_to_catch_ups(&mut self, lines: &[(CatchUpId, PupilId)]) -> Result<(), Error> {
        let line = |(catch_up_id, pupil_id): &(CatchUpId, PupilId)| PupilInsert {
            school_id: self.school(),
            catch_up_id: *catch_up_id,
            pupil_id: *pupil_id,
        };
        let lines: Vec<PupilInsert> = lines.iter().map(line).collect();
        for batch in lines.chunks(BATCH) {
            db!(self.conn, c => diesel::insert_into(catch_up_pupil::table).values(batch).execute(c))?;
        }
        Ok(())
    }

    /// Notes that the pupils of records were changed: each is at this version now, and what it says is in
    /// its history.
    pub(super) fn catch_ups_changed(&mut self, ids: &[CatchUpId]) -> Result<(), Error> {
        let (school, version) = (self.school(), self.version);
        for id in ids {
            let Some(SavedCatchUp { catch_up: record, .. }) = self.catch_ups(Of::Ids(&[*id]))?.pop() else {
                continue;
            };
            db!(self.conn, c => diesel::update(catch_up::table.find((school, *id)))
                .set(catch_up::v.eq(version))
                .execute(c))?;
            self.save("catch_up", id.uuid(), &[Scope::Group(record.group)], &record)?;
        }
        Ok(())
    }
}
