//! What is recorded in one slot of a group's day.

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Record, resource::GroupDay},
    id::LessonRecordId,
};

use super::{MarkRow, RecordRow, SavedRecord, join};
use crate::store::{
    Error, Permit, Tx,
    conn::db,
    schema::{lesson_mark, lesson_record},
};

impl<'tx> Tx<'tx> {
    /// The record of a slot of the day, if there is one.
    ///
    /// # Errors
    /// If the store fails.
    pub fn record_at(
        &mut self,
        permit: &Permit<'tx, Record, GroupDay>,
        slot: u8,
    ) -> Result<Option<SavedRecord>, Error> {
        let (school, day) = (self.school(), *permit.resource());
        let row: Option<RecordRow> = db!(self.conn, c => lesson_record::table
            .filter(lesson_record::school_id.eq(school))
            .filter(lesson_record::group_id.eq(day.group))
            .filter(lesson_record::on_date.eq(day.on))
            .filter(lesson_record::slot.eq(i16::from(slot)))
            .filter(lesson_record::deleted_at.is_null())
            .select(RecordRow::as_select())
            .first(c)
            .optional())?;
        self.with_marks(row)
    }

    /// The record of the day with an id, unless it was deleted.
    ///
    /// # Errors
    /// If the store fails.
    pub fn record_of(
        &mut self,
        permit: &Permit<'tx, Record, GroupDay>,
        id: LessonRecordId,
    ) -> Result<Option<SavedRecord>, Error> {
        let (school, day) = (self.school(), *permit.resource());
        let row: Option<RecordRow> = db!(self.conn, c => lesson_record::table
            .find((school, id))
            .filter(lesson_record::group_id.eq(day.group))
            .filter(lesson_record::deleted_at.is_null())
            .select(RecordRow::as_select())
            .first(c)
            .optional())?;
        self.with_marks(row)
    }

    fn with_marks(&mut self, row: Option<RecordRow>) -> Result<Option<SavedRecord>, Error> {
        let (school, Some(row)) = (self.school(), row) else { return Ok(None) };
        let marks: Vec<MarkRow> = db!(self.conn, c => lesson_mark::table
            .filter(lesson_mark::school_id.eq(school))
            .filter(lesson_mark::record_id.eq(row.id))
            .select(MarkRow::as_select())
            .load(c))?;
        Ok(join(vec![row], marks)?.pop())
    }

    /// Of the last record of a slot of the day that was deleted: the version that deleted it, and those before.
    ///
    /// # Errors
    /// If the store fails.
    pub fn versions_of_deleted(
        &mut self,
        permit: &Permit<'tx, Record, GroupDay>,
        slot: u8,
    ) -> Result<Option<(i64, Vec<i64>)>, Error> {
        let (school, day) = (self.school(), *permit.resource());
        let last: Option<LessonRecordId> = db!(self.conn, c => lesson_record::table
            .filter(lesson_record::school_id.eq(school))
            .filter(lesson_record::group_id.eq(day.group))
            .filter(lesson_record::on_date.eq(day.on))
            .filter(lesson_record::slot.eq(i16::from(slot)))
            .filter(lesson_record::deleted_at.is_not_null())
            .order(lesson_record::generation.desc())
            .select(lesson_record::id)
            .first(c)
            .optional())?;
        let Some(last) = last else { return Ok(None) };
        let lines = self.history_of("lesson_record", last.uuid())?;
        let mut versions: Vec<i64> = lines.into_iter().map(|line| line.v).collect();
        Ok(versions.pop().map(|deleted| (deleted, versions)))
    }
}
