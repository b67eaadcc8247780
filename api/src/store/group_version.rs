//! Which version of its sequence each group is taught from: what the sequence says, and what a group keeps.

use std::{
    collections::{BTreeMap, BTreeSet, btree_map::Entry},
    sync::Arc,
};

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::{Manage, Publish, Read, Record},
        resource::{Group, GroupDay, Sequence, SequenceDraft},
    },
    id::{GroupId, SequenceId, VersionId},
    lesson::{self, CarriedIn},
    sequence::{Content, Course},
    time::{Date, Span},
};
use serde_json::{Value, json};

use super::{
    Error, Permit, Tx,
    conn::db,
    dated::{Dated, dated},
    group::GroupRow,
    lesson::{RecordRow, join},
    schema::{group_version, lesson_record, teaching_group},
    sequence::{DraftRow, VersionRow},
};

/// A group of a sequence, by its days.
#[derive(Clone, Debug)]
pub struct GroupCourse {
    /// The group.
    pub group: GroupRow,
    /// The versions it is taught from.
    pub course: Course,
    /// Day and version of its records from a day on.
    pub records: Vec<(Date, VersionId)>,
}

/// A group as a revision of its sequence finds it.
#[derive(Clone, Debug)]
pub struct RevisionGroup {
    /// The group.
    pub group: GroupRow,
    /// The versions it is taught from.
    pub course: Course,
    /// Its records, earliest first, without their registers.
    pub records: Vec<lesson::Record>,
    /// What was carried in for it.
    pub carried: Option<CarriedIn>,
}

/// What a revision of a sequence would be put in place of.
#[derive(Clone, Debug)]
pub struct Revision {
    /// The draft.
    pub draft: DraftRow,
    /// The groups of the sequence by name.
    pub groups: Vec<RevisionGroup>,
    /// Its versions that are in force for a group on some day or that a record names, by id: number and content.
    pub versions: BTreeMap<VersionId, (i32, Arc<Content>)>,
}

impl<'tx> Tx<'tx> {
    /// The version in force for a group on a day. Everything that is taught, shown or counted by a version
    /// asks here.
    pub(super) fn version_for(&mut self, group: &GroupRow, on: Date) -> Result<Option<VersionRow>, Error> {
        let found = self.course_for(group)?.in_force(on);
        found.map(|id| self.version_row(id)).transpose()
    }

    /// The same of several groups; none of those without one.
    pub(super) fn versions_for(
        &mut self,
        groups: &[GroupRow],
        on: Date,
    ) -> Result<BTreeMap<GroupId, VersionRow>, Error> {
        let ids: Vec<GroupId> = groups.iter().map(|group| group.id).collect();
        let mut kept = self.kept_by(&ids)?;
        let (mut courses, mut rows) = (BTreeMap::new(), BTreeMap::new());
        let mut found = BTreeMap::new();
        for group in groups {
            let course = match courses.entry(group.sequence_id) {
                Entry::Occupied(known) => known.into_mut(),
                Entry::Vacant(new) => new.insert(self.course(group.sequence_id)?),
            };
            let course = Course { kept: kept.remove(&group.id).unwrap_or_default(), ..course.clone() };
            let Some(id) = course.in_force(on) else { continue };
            let row = match rows.entry(id) {
                Entry::Occupied(known) => known.into_mut(),
                Entry::Vacant(new) => new.insert(self.version_row(id)?),
            };
            found.insert(group.id, row.clone());
        }
        Ok(found)
    }

    pub(super) fn course_for(&mut self, group: &GroupRow) -> Result<Course, Error> {
        let kept = self.kept_by(&[group.id])?.remove(&group.id).unwrap_or_default();
        Ok(Course { kept, ..self.course(group.sequence_id)? })
    }

    /// The versions groups keep, earliest first.
    fn kept_by(&mut self, groups: &[GroupId]) -> Result<BTreeMap<GroupId, Vec<(VersionId, Span)>>, Error> {
        let school = self.school();
        let rows: Vec<(GroupId, Dated<VersionId>)> = db!(self.conn, c => group_version::table
            .filter(group_version::school_id.eq(school))
            .filter(group_version::group_id.eq_any(groups))
            .order((group_version::group_id, group_version::from_on))
            .select((
                group_version::group_id,
                (group_version::version_id, group_version::from_on, group_version::until_on),
            ))
            .load(c))?;
        let mut kept: BTreeMap<GroupId, Vec<(VersionId, Span)>> = BTreeMap::new();
        for (group, (version, from, until)) in rows {
            kept.entry(group).or_default().push((version, Span { from, until }));
        }
        Ok(kept)
    }

    /// The versions a group is taught from.
    ///
    /// # Errors
    /// If the store fails.
    pub fn group_course<A>(&mut self, permit: &Permit<'tx, A, Group>) -> Result<Course, Error> {
        let group = self.group(permit)?;
        self.course_for(&group)
    }

    /// Day and version of a group's records from a day on.
    ///
    /// # Errors
    /// If the store fails.
    pub fn record_days<A>(
        &mut self,
        permit: &Permit<'tx, A, Group>,
        from: Date,
    ) -> Result<Vec<(Date, VersionId)>, Error> {
        let id = permit.resource().0;
        Ok(self.record_days_of(&[id], from, 0)?.remove(&id).unwrap_or_default())
    }

    /// The days of records from a day on that were written after a version of the school.
    fn record_days_of(
        &mut self,
        groups: &[GroupId],
        from: Date,
        after: i64,
    ) -> Result<BTreeMap<GroupId, Vec<(Date, VersionId)>>, Error> {
        let school = self.school();
        let rows: Vec<(GroupId, Date, VersionId)> = db!(self.conn, c => lesson_record::table
            .filter(lesson_record::school_id.eq(school))
            .filter(lesson_record::group_id.eq_any(groups))
            .filter(lesson_record::on_date.ge(from))
            .filter(lesson_record::v.gt(after))
            .filter(lesson_record::deleted_at.is_null())
            .select((lesson_record::group_id, lesson_record::on_date, lesson_record::version_id))
            .load(c))?;
        let mut days: BTreeMap<GroupId, Vec<(Date, VersionId)>> = BTreeMap::new();
        for (group, on, version) in rows {
            days.entry(group).or_default().push((on, version));
        }
        Ok(days)
    }

    /// A version of the group's sequence by its id, if it took effect up to this day: what a device that had not
    /// heard of another may have taught from.
    ///
    /// # Errors
    /// If the store fails.
    pub fn version_then(
        &mut self,
        permit: &Permit<'tx, Record, GroupDay>,
        id: VersionId,
    ) -> Result<Option<VersionRow>, Error> {
        let GroupDay { group, on } = *permit.resource();
        let group = self.group_row(group)?;
        let was = self.course(group.sequence_id)?.may_have_been_taught(id, on);
        was.then(|| self.version_row(id)).transpose()
    }

    /// Makes the versions a group keeps those of a course.
    ///
    /// # Errors
    /// [`Error::Conflict`] if the group is no longer at `base_v`.
    pub fn keep_version(
        &mut self,
        permit: &Permit<'tx, Manage, Group>,
        course: &Course,
        base_v: i64,
    ) -> Result<GroupRow, Error> {
        let group = self.group(permit)?;
        if group.v == base_v { self.store_kept(group, course) } else { Err(Error::Conflict) }
    }

    /// The same of a group of a sequence that is published anew.
    ///
    /// # Errors
    /// [`Error::Missing`] if the group is of another sequence.
    pub fn keep_version_as_published(
        &mut self,
        permit: &Permit<'tx, Publish, Sequence>,
        group: &GroupRow,
        course: &Course,
    ) -> Result<(), Error> {
        if group.sequence_id != permit.resource().0 {
            return Err(Error::Missing);
        }
        self.store_kept(group.clone(), course).map(|_| ())
    }

    fn store_kept(&mut self, group: GroupRow, course: &Course) -> Result<GroupRow, Error> {
        let kept = dated(&course.kept);
        self.replace_group_versions(group.id, &kept)?;
        let line = |(id, from, until): &Dated<VersionId>| json!({"id": id, "from": from, "until": until});
        let body: Value = kept.iter().map(line).collect();
        self.save("group_version", group.id.uuid(), &[], &body)?;
        self.store_group(group)
    }

    /// The groups of a sequence by name, with their records from a day on.
    ///
    /// # Errors
    /// If the store fails.
    pub fn sequence_courses(
        &mut self,
        permit: &Permit<'tx, Publish, Sequence>,
        from: Date,
    ) -> Result<Vec<GroupCourse>, Error> {
        self.courses_and_records(permit.resource().0, from, 0)
    }

    /// The same with the records that were written since a version was withdrawn.
    ///
    /// # Errors
    /// If the store fails.
    pub fn courses_since_withdrawn(
        &mut self,
        permit: &Permit<'tx, Publish, Sequence>,
        version: VersionId,
        from: Date,
    ) -> Result<Vec<GroupCourse>, Error> {
        // The version is only ever changed by withdrawing it.
        let withdrawn = self.history_of("sequence_version", version.uuid())?.last().map_or(0, |line| line.v);
        self.courses_and_records(permit.resource().0, from, withdrawn)
    }

    fn courses_and_records(
        &mut self,
        sequence: SequenceId,
        from: Date,
        after: i64,
    ) -> Result<Vec<GroupCourse>, Error> {
        let found = self.courses_of(sequence)?;
        let ids: Vec<GroupId> = found.iter().map(|(group, _)| group.id).collect();
        let mut records = self.record_days_of(&ids, from, after)?;
        let course = |(group, course): (GroupRow, Course)| GroupCourse {
            records: records.remove(&group.id).unwrap_or_default(),
            group,
            course,
        };
        Ok(found.into_iter().map(course).collect())
    }

    fn courses_of(&mut self, sequence: SequenceId) -> Result<Vec<(GroupRow, Course)>, Error> {
        let school = self.school();
        let groups: Vec<GroupRow> = db!(self.conn, c => teaching_group::table
            .filter(teaching_group::school_id.eq(school))
            .filter(teaching_group::sequence_id.eq(sequence))
            .order((teaching_group::name, teaching_group::id))
            .select(GroupRow::as_select())
            .load(c))?;
        let ids: Vec<GroupId> = groups.iter().map(|group| group.id).collect();
        let (follows, mut kept) = (self.course(sequence)?, self.kept_by(&ids)?);
        let course = |group: GroupRow| {
            let kept = kept.remove(&group.id).unwrap_or_default();
            (group, Course { kept, ..follows.clone() })
        };
        Ok(groups.into_iter().map(course).collect())
    }

    /// Gathers what the draft would be put in place of on a day, in a few statements for whatever number of
    /// groups.
    ///
    /// # Errors
    /// If the store fails.
    pub fn revision(
        &mut self,
        permit: &Permit<'tx, Read, SequenceDraft>,
        on: Date,
    ) -> Result<Revision, Error> {
        let (school, draft) = (self.school(), self.draft(permit)?);
        let found = self.courses_of(permit.resource().0)?;
        let ids: Vec<GroupId> = found.iter().map(|(group, _)| group.id).collect();
        let rows: Vec<RecordRow> = db!(self.conn, c => lesson_record::table
            .filter(lesson_record::school_id.eq(school))
            .filter(lesson_record::group_id.eq_any(&ids))
            .filter(lesson_record::deleted_at.is_null())
            .order((lesson_record::group_id, lesson_record::on_date, lesson_record::slot))
            .select(RecordRow::as_select())
            .load(c))?;
        let mut records: BTreeMap<GroupId, Vec<lesson::Record>> = BTreeMap::new();
        for saved in join(rows, Vec::new())? {
            records.entry(saved.record.group).or_default().push(saved.record);
        }
        let named = records.values().flatten().map(|record| record.version);
        let taught = found.iter().filter_map(|(_, course)| course.in_force(on));
        let named: BTreeSet<VersionId> = named.chain(taught).collect();
        let mut carried: BTreeMap<GroupId, CarriedIn> =
            self.pasts(Some(&ids))?.into_iter().map(|(group, past)| (group, past.carried)).collect();
        let group = |(group, course): (GroupRow, Course)| RevisionGroup {
            records: records.remove(&group.id).unwrap_or_default(),
            carried: carried.remove(&group.id),
            group,
            course,
        };
        let groups = found.into_iter().map(group).collect();
        let mut versions = BTreeMap::new();
        for id in named {
            let row = self.version_row(id)?;
            versions.insert(id, (row.head.number, row.content));
        }
        Ok(Revision { draft, groups, versions })
    }
}
