//! Lesson records with their registers.

mod saved;
mod slot;

use std::collections::BTreeMap;

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::{Read, Record},
        resource::{Group, GroupDay, PupilLearning},
    },
    id::{GroupId, ItemId, LessonId, LessonRecordId, PupilId, SchoolId, StaffId, VersionId},
    lesson::{self, Mark, Outcome, RegisterEntry},
    time::{Date, Instant},
};

use super::{
    Error, Permit, Tx,
    change::{HistoryLine, Scope},
    conn::{db, held_on},
    schema::{group_member, lesson_mark, lesson_record, teaching_group},
    sequence::VersionRow,
};

pub use saved::{GroupLessons, Replaced, SavedRecord};

#[derive(Clone, Debug, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = lesson_record, treat_none_as_default_value = false, treat_none_as_null = true)]
#[diesel(primary_key(school_id, id))]
pub(super) struct RecordRow {
    school_id: SchoolId,
    pub(super) id: LessonRecordId,
    group_id: GroupId,
    on_date: Date,
    slot: i16,
    generation: i16,
    version_id: VersionId,
    lesson_id: LessonId,
    outcome: Outcome,
    items: serde_json::Value,
    reason: Option<String>,
    taught_by: StaffId,
    entered_by: StaffId,
    at: Instant,
    deleted_at: Option<Instant>,
    v: i64,
    aside_v: Option<i64>,
}

#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = lesson_mark, treat_none_as_default_value = false)]
pub(super) struct MarkRow {
    school_id: SchoolId,
    record_id: LessonRecordId,
    pupil_id: PupilId,
    mark: Mark,
    missed: bool,
}

/// Marks in one insert: SQLite takes a limited number of values.
const BATCH: usize = 100;

impl<'tx> Tx<'tx> {
    /// A group's records with the version in force on a day.
    ///
    /// # Errors
    /// If the store fails.
    pub fn group_lessons<A>(&mut self, permit: &Permit<'tx, A, GroupDay>) -> Result<GroupLessons, Error> {
        let GroupDay { group, on } = *permit.resource();
        self.lessons_of(group, on)
    }

    /// As [`Self::group_lessons`], for a reader of the group.
    ///
    /// # Errors
    /// If the store fails.
    pub fn group_lessons_read(
        &mut self,
        permit: &Permit<'tx, Read, Group>,
        on: Date,
    ) -> Result<GroupLessons, Error> {
        self.lessons_of(permit.resource().0, on)
    }

    pub(super) fn lessons_of(&mut self, id: GroupId, on: Date) -> Result<GroupLessons, Error> {
        let group = self.group_row(id)?;
        let version = self.version_for(&group, on)?;
        let records = self.records(Some(id), None)?;
        let past = self.past_of(id)?.filter(|past| past.carried.as_of <= on);
        Ok(GroupLessons { group, version, records, past })
    }

    /// Records with their registers, earliest first: of one group, or of the whole school up
    /// to a day.
    fn records(&mut self, group: Option<GroupId>, until: Option<Date>) -> Result<Vec<SavedRecord>, Error> {
        let school = self.school();
        let (rows, marks) = db!(self.conn, c => {
            let mut rows = lesson_record::table
                .filter(lesson_record::school_id.eq(school))
                .filter(lesson_record::deleted_at.is_null())
                .order((lesson_record::on_date, lesson_record::slot))
                .select(RecordRow::as_select())
                .into_boxed();
            let mut marks = lesson_mark::table
                .inner_join(lesson_record::table.on(lesson_record::school_id.eq(lesson_mark::school_id)
                    .and(lesson_record::id.eq(lesson_mark::record_id))))
                .filter(lesson_record::school_id.eq(school))
                .filter(lesson_record::deleted_at.is_null())
                .select(MarkRow::as_select())
                .into_boxed();
            if let Some(group) = group {
                rows = rows.filter(lesson_record::group_id.eq(group));
                marks = marks.filter(lesson_record::group_id.eq(group));
            }
            if let Some(until) = until {
                rows = rows.filter(lesson_record::on_date.le(until));
                marks = marks.filter(lesson_record::on_date.le(until));
            }
            (rows.load::<RecordRow>(c)?, marks.load::<MarkRow>(c)?)
        });
        join(rows, marks)
    }

    /// A group's records, latest first, for a page of them.
    ///
    /// # Errors
    /// If the store fails.
    pub fn group_records<A>(&mut self, permit: &Permit<'tx, A, Group>) -> Result<Vec<SavedRecord>, Error> {
        let mut records = self.records(Some(permit.resource().0), None)?;
        records.reverse();
        Ok(records)
    }

    /// The records up to a day, of whatever group, with one of the group's members of that
    /// day in the register: what was missed here may have been taught elsewhere since.
    ///
    /// # Errors
    /// If the store fails.
    pub fn member_records(
        &mut self,
        permit: &Permit<'tx, Read, Group>,
        on: Date,
    ) -> Result<Vec<SavedRecord>, Error> {
        self.records_of_members(permit.resource().0, on)
    }

    pub(super) fn records_of_members(&mut self, group: GroupId, on: Date) -> Result<Vec<SavedRecord>, Error> {
        let school = self.school();
        let rows: Vec<(RecordRow, MarkRow)> = db!(self.conn, c => lesson_mark::table
            .inner_join(lesson_record::table.on(lesson_record::school_id.eq(lesson_mark::school_id)
                .and(lesson_record::id.eq(lesson_mark::record_id))))
            .inner_join(group_member::table.on(group_member::school_id.eq(lesson_mark::school_id)
                .and(group_member::pupil_id.eq(lesson_mark::pupil_id))))
            .filter(lesson_mark::school_id.eq(school))
            .filter(group_member::group_id.eq(group))
            .filter(held_on!(group_member, on))
            .filter(lesson_record::on_date.le(on))
            .filter(lesson_record::deleted_at.is_null())
            .order((lesson_record::on_date, lesson_record::slot, lesson_record::id))
            .select((RecordRow::as_select(), MarkRow::as_select()))
            .load(c))?;
        let (mut records, marks): (Vec<RecordRow>, Vec<MarkRow>) = rows.into_iter().unzip();
        records.dedup_by_key(|row| row.id);
        let records = join(records, marks)?;
        self.of_the_expected(records)
    }

    /// The version a record pins.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pinned_version(&mut self, saved: &SavedRecord) -> Result<VersionRow, Error> {
        self.version_row(saved.record.version)
    }

    /// The pupils in the group that day.
    ///
    /// # Errors
    /// If the store fails.
    pub(super) fn member_ids<A>(&mut self, permit: &Permit<'tx, A, GroupDay>) -> Result<Vec<PupilId>, Error> {
        let (school, day) = (self.school(), *permit.resource());
        Ok(db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::group_id.eq(day.group))
            .filter(held_on!(group_member, day.on))
            .order(group_member::pupil_id)
            .select(group_member::pupil_id)
            .load(c))?)
    }

    /// How many records of this day and slot were deleted.
    ///
    /// # Errors
    /// If the store fails.
    pub fn deleted_records<A>(&mut self, permit: &Permit<'tx, A, GroupDay>, slot: u8) -> Result<u16, Error> {
        let (school, day) = (self.school(), *permit.resource());
        let count: i64 = db!(self.conn, c => lesson_record::table
            .filter(lesson_record::school_id.eq(school))
            .filter(lesson_record::group_id.eq(day.group))
            .filter(lesson_record::on_date.eq(day.on))
            .filter(lesson_record::slot.eq(i16::from(slot)))
            .filter(lesson_record::deleted_at.is_not_null())
            .count()
            .get_result(c))?;
        u16::try_from(count).map_err(|_| Error::Conflict)
    }

    /// What a record has said, earliest first; none where it was deleted.
    ///
    /// # Errors
    /// If the store fails.
    pub fn record_history(
        &mut self,
        permit: &Permit<'tx, Read, GroupDay>,
        id: LessonRecordId,
    ) -> Result<Vec<(HistoryLine, Option<lesson::Record>)>, Error> {
        let mut said = Vec::new();
        for line in self.history_of("lesson_record", id.uuid())? {
            let record: Option<lesson::Record> = serde_json::from_value(line.body.clone())?;
            if record.as_ref().is_some_and(|record| record.group != permit.resource().group) {
                return Err(Error::Missing);
            }
            said.push((line, record));
        }
        Ok(said)
    }

    /// Where a record of the school stands, or stood before it was deleted.
    ///
    /// # Errors
    /// [`Error::Missing`] if there never was one; ask the policy before saying so.
    pub fn any_record_place(&mut self, id: LessonRecordId) -> Result<GroupDay, Error> {
        let school = self.school();
        let (group, on) = db!(self.conn, c => lesson_record::table
            .find((school, id))
            .select((lesson_record::group_id, lesson_record::on_date))
            .first(c))?;
        Ok(GroupDay { group, on })
    }

    /// Where a record of the school stands: its group and day.
    ///
    /// # Errors
    /// [`Error::Missing`] if there is none; ask the policy before saying so.
    pub fn record_place(&mut self, id: LessonRecordId) -> Result<GroupDay, Error> {
        let school = self.school();
        let (group, on) = db!(self.conn, c => lesson_record::table
            .find((school, id))
            .filter(lesson_record::deleted_at.is_null())
            .select((lesson_record::group_id, lesson_record::on_date))
            .first(c))?;
        Ok(GroupDay { group, on })
    }

    /// Writes a record that is new or replaces the one with the same id.
    ///
    /// # Errors
    /// [`Error::Conflict`] if another record has taken the day and slot.
    pub fn save_record(
        &mut self,
        _permit: &Permit<'tx, Record, GroupDay>,
        record: &lesson::Record,
        replaces: Option<Replaced>,
    ) -> Result<SavedRecord, Error> {
        let school = self.school();
        let row = RecordRow { aside_v: replaces.and_then(|old| old.aside_v), ..self.record_row(record)? };
        if replaces.is_some() {
            db!(self.conn, c => diesel::update(lesson_record::table.find((school, record.id))).set(&row).execute(c))?;
            db!(self.conn, c => diesel::delete(lesson_mark::table
                .filter(lesson_mark::school_id.eq(school))
                .filter(lesson_mark::record_id.eq(record.id)))
                .execute(c))?;
        } else {
            db!(self.conn, c => diesel::insert_into(lesson_record::table).values(&row).execute(c))?;
        }
        let marks: Vec<MarkRow> = record
            .register
            .iter()
            .map(|entry| MarkRow {
                school_id: school,
                record_id: record.id,
                pupil_id: entry.pupil_id,
                mark: entry.mark,
                missed: entry.missed,
            })
            .collect();
        for batch in marks.chunks(BATCH) {
            db!(self.conn, c => diesel::insert_into(lesson_mark::table).values(batch).execute(c))?;
        }
        self.save("lesson_record", record.id.uuid(), &[Scope::Group(record.group)], record)?;
        Ok(SavedRecord { record: record.clone(), at: row.at, v: row.v, aside_v: row.aside_v })
    }

    fn record_row(&self, record: &lesson::Record) -> Result<RecordRow, Error> {
        Ok(RecordRow {
            school_id: self.school(),
            id: record.id,
            group_id: record.group,
            on_date: record.on,
            slot: i16::from(record.slot),
            generation: i16::try_from(record.generation).map_err(|_| Error::Conflict)?,
            version_id: record.version,
            lesson_id: record.lesson,
            outcome: record.outcome,
            items: serde_json::to_value(&record.items)?,
            reason: record.reason.clone(),
            taught_by: record.taught_by,
            entered_by: record.entered_by,
            at: self.now(),
            deleted_at: None,
            v: self.version,
            aside_v: None,
        })
    }

    /// Deletes a record. It stays in the history; its day and slot may be used again.
    ///
    /// # Errors
    /// [`Error::Missing`] if it is gone.
    pub fn delete_record(
        &mut self,
        permit: &Permit<'tx, Record, GroupDay>,
        id: LessonRecordId,
    ) -> Result<(), Error> {
        let (school, now, version) = (self.school(), self.now(), self.version);
        let group = permit.resource().group;
        let deleted = db!(self.conn, c => diesel::update(lesson_record::table
            .filter(lesson_record::school_id.eq(school))
            .filter(lesson_record::id.eq(id))
            .filter(lesson_record::group_id.eq(group))
            .filter(lesson_record::deleted_at.is_null()))
            .set((lesson_record::deleted_at.eq(Some(now)), lesson_record::v.eq(version)))
            .execute(c))?;
        if deleted == 0 {
            return Err(Error::Missing);
        }
        self.save_gone("lesson_record", id.uuid(), &[Scope::Group(group)])
    }

    /// Every record with the pupil in its register, earliest first, with the group's name
    /// and the version it pins. The reading is logged.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pupil_records(
        &mut self,
        permit: &Permit<'tx, Read, PupilLearning>,
    ) -> Result<Vec<(String, SavedRecord)>, Error> {
        let (school, pupil) = (self.school(), permit.resource().0);
        self.about("pupil", pupil.uuid());
        let rows: Vec<(RecordRow, MarkRow, String)> = db!(self.conn, c => lesson_mark::table
            .inner_join(lesson_record::table.on(lesson_record::school_id.eq(lesson_mark::school_id)
                .and(lesson_record::id.eq(lesson_mark::record_id))))
            .inner_join(teaching_group::table.on(teaching_group::school_id.eq(lesson_record::school_id)
                .and(teaching_group::id.eq(lesson_record::group_id))))
            .filter(lesson_mark::school_id.eq(school))
            .filter(lesson_mark::pupil_id.eq(pupil))
            .filter(lesson_record::deleted_at.is_null())
            .order((lesson_record::on_date, lesson_record::slot))
            .select((RecordRow::as_select(), MarkRow::as_select(), teaching_group::name))
            .load(c))?;
        let (mut records, mut marks, mut groups) = (Vec::new(), Vec::new(), Vec::new());
        for (row, mark, group) in rows {
            records.push(row);
            marks.push(mark);
            groups.push(group);
        }
        let records = join(records, marks)?;
        Ok(groups.into_iter().zip(self.of_the_expected(records)?).collect())
    }

    /// All records of the school up to a day, for counting.
    pub(super) fn all_records(&mut self, until: Date) -> Result<Vec<SavedRecord>, Error> {
        let records = self.records(None, Some(until))?;
        self.of_the_expected(records)
    }
}

/// The records with each pupil in their register, in the order given.
pub(super) fn by_pupil(records: &[SavedRecord]) -> BTreeMap<PupilId, Vec<&lesson::Record>> {
    let mut of_pupil: BTreeMap<PupilId, Vec<&lesson::Record>> = BTreeMap::new();
    for record in records.iter().map(|saved| &saved.record) {
        for entry in &record.register {
            of_pupil.entry(entry.pupil_id).or_default().push(record);
        }
    }
    of_pupil
}

/// Puts the marks under their records.
pub(super) fn join(rows: Vec<RecordRow>, marks: Vec<MarkRow>) -> Result<Vec<SavedRecord>, Error> {
    let mut registers: BTreeMap<LessonRecordId, Vec<RegisterEntry>> = BTreeMap::new();
    for mark in marks {
        registers.entry(mark.record_id).or_default().push(RegisterEntry {
            pupil_id: mark.pupil_id,
            mark: mark.mark,
            missed: mark.missed,
        });
    }
    let damaged = |_| Error::Damaged("lesson record".into());
    rows.into_iter()
        .map(|row| {
            let mut register = registers.remove(&row.id).unwrap_or_default();
            register.sort_by_key(|entry| entry.pupil_id);
            let items: Vec<ItemId> = serde_json::from_value(row.items)?;
            let record = lesson::Record {
                id: row.id,
                group: row.group_id,
                on: row.on_date,
                slot: u8::try_from(row.slot).map_err(damaged)?,
                generation: u16::try_from(row.generation).map_err(damaged)?,
                version: row.version_id,
                lesson: row.lesson_id,
                outcome: row.outcome,
                items,
                reason: row.reason,
                register,
                taught_by: row.taught_by,
                entered_by: row.entered_by,
            };
            Ok(SavedRecord { record, at: row.at, v: row.v, aside_v: row.aside_v })
        })
        .collect()
}
