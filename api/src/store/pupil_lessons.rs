//! A pupil's marks in the registers of lessons, moved from one record of a child to another.

use diesel::prelude::*;
use plumbline_core::{
    id::{LessonRecordId, PupilId},
    lesson::Mark,
};
use serde::{Deserialize, Serialize};

use super::{
    Error, Tx,
    change::Scope,
    conn::db,
    lesson::{MarkRow, RecordRow, join},
    pupils::BATCH,
    schema::{lesson_mark, lesson_record},
};

/// A pupil's mark in a lesson's register.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct PupilMark {
    pub(super) record: LessonRecordId,
    pub(super) mark: Mark,
    pub(super) missed: bool,
}

impl Tx<'_> {
    pub(super) fn marks_of(&mut self, pupil: PupilId) -> Result<Vec<PupilMark>, Error> {
        let school = self.school();
        let rows: Vec<(LessonRecordId, Mark, bool)> = db!(self.conn, c => lesson_mark::table
            .filter(lesson_mark::school_id.eq(school))
            .filter(lesson_mark::pupil_id.eq(pupil))
            .order(lesson_mark::record_id)
            .select((lesson_mark::record_id, lesson_mark::mark, lesson_mark::missed))
            .load(c))?;
        Ok(rows.into_iter().map(|(record, mark, missed)| PupilMark { record, mark, missed }).collect())
    }

    /// Makes a pupil's line in a register this one, or none.
    pub(super) fn set_mark(
        &mut self,
        pupil: PupilId,
        record: LessonRecordId,
        mark: Option<&PupilMark>,
    ) -> Result<(), Error> {
        let school = self.school();
        db!(self.conn, c => diesel::delete(lesson_mark::table.find((school, record, pupil))).execute(c))?;
        let Some(PupilMark { mark, missed, .. }) = mark else { return Ok(()) };
        db!(self.conn, c => diesel::insert_into(lesson_mark::table)
            .values((
                lesson_mark::school_id.eq(school),
                lesson_mark::record_id.eq(record),
                lesson_mark::pupil_id.eq(pupil),
                lesson_mark::mark.eq(mark),
                lesson_mark::missed.eq(missed),
            ))
            .execute(c))?;
        Ok(())
    }

    /// Notes that the registers of lessons were changed: each record is at this version now, and
    /// what it says is in its history.
    pub(super) fn registers_changed(&mut self, ids: &[LessonRecordId]) -> Result<(), Error> {
        let (school, version) = (self.school(), self.version);
        for ids in ids.chunks(BATCH) {
            let rows: Vec<RecordRow> = db!(self.conn, c => lesson_record::table
                .filter(lesson_record::school_id.eq(school))
                .filter(lesson_record::id.eq_any(ids))
                .filter(lesson_record::deleted_at.is_null())
                .select(RecordRow::as_select())
                .load(c))?;
            let marks: Vec<MarkRow> = db!(self.conn, c => lesson_mark::table
                .filter(lesson_mark::school_id.eq(school))
                .filter(lesson_mark::record_id.eq_any(ids))
                .select(MarkRow::as_select())
                .load(c))?;
            for saved in join(rows, marks)? {
                let record = saved.record;
                db!(self.conn, c => diesel::update(lesson_record::table.find((school, record.id)))
                    .set(lesson_record::v.eq(version))
                    .execute(c))?;
                self.save("lesson_record", record.id.uuid(), &[Scope::Group(record.group)], &record)?;
            }
        }
        Ok(())
    }
}
