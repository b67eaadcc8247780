//! What stands in the records of a page: the school's, and those of classes and groups.

use std::collections::BTreeMap;

use diesel::prelude::*;
use plumbline_core::{
    calendar::TimetableLine,
    id::{CheckId, ClassId, ClosureId, GroupId, LessonRecordId, PupilId, RoundId, StaffId, VersionId},
    roster::{Weekdays, weekdays_on},
    sequence::Course,
    time::{Date, Span},
};
use uuid::Uuid;

use super::{Pulled, RecordKind, member_id};
use crate::store::{
    Assignment, CheckRow, ClassRow, ClosureRow, Error, GroupRow, PupilView, RoundRow, SavedCarriedIn,
    SavedCatchUp, SavedRecord, SchoolRow, Tx, VersionRow, YearSaved,
    catch_up::Of,
    conn::{db, held_on},
    lesson::{MarkRow, RecordRow, join},
    schema::{class, closure, group_member, lesson_mark, lesson_record, staff, teaching_group},
};

/// A class as it is now.
#[derive(Clone, Debug)]
pub struct ClassNow {
    /// The class.
    pub row: ClassRow,
    /// Its adults, past and coming ones too.
    pub adults: Vec<Assignment>,
}

/// A group as it is now.
#[derive(Clone, Debug)]
pub struct GroupNow {
    /// The group.
    pub row: GroupRow,
    /// Its adults, past and coming ones too.
    pub adults: Vec<Assignment>,
    /// The versions it is taught from.
    pub course: Course,
}

/// A pupil's days in a group.
#[derive(Clone, Debug)]
pub struct MemberNow {
    /// The record.
    pub id: Uuid,
    /// The group.
    pub group: GroupId,
    /// The pupil.
    pub pupil: PupilId,
    /// The days.
    pub days: Span,
    /// The weekdays on which the pupil comes today; none for every day.
    pub weekdays: Option<Weekdays>,
}

impl Tx<'_> {
    /// The school, if it is in the page.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pulled_school(&mut self, page: &Pulled) -> Result<Option<SchoolRow>, Error> {
        if page.ids(RecordKind::School).is_empty() { Ok(None) } else { self.school_row().map(Some) }
    }

    /// The members of staff in the page who can sign in or may yet, by name.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pulled_staff(&mut self, page: &Pulled) -> Result<Vec<(StaffId, String)>, Error> {
        let (school, ids): (_, Vec<StaffId>) = (self.school(), page.of(RecordKind::StaffName));
        Ok(db!(self.conn, c => staff::table
            .filter(staff::school_id.eq(school))
            .filter(staff::id.eq_any(&ids))
            .filter(staff::disabled_at.is_null())
            .select((staff::id, staff::name))
            .load(c))?)
    }

    /// The school years in the page.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pulled_years(&mut self, page: &Pulled) -> Result<Vec<YearSaved>, Error> {
        let ids = page.ids(RecordKind::SchoolYear);
        if ids.is_empty() { Ok(Vec::new()) } else { self.years() }
    }

    /// The closures in the page that stand.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pulled_closures(&mut self, page: &Pulled) -> Result<Vec<ClosureRow>, Error> {
        let (school, ids): (_, Vec<ClosureId>) = (self.school(), page.of(RecordKind::Closure));
        Ok(db!(self.conn, c => closure::table
            .filter(closure::school_id.eq(school))
            .filter(closure::id.eq_any(&ids))
            .filter(closure::taken_back_at.is_null())
            .select(ClosureRow::as_select())
            .load(c))?)
    }

    /// The sequence versions in the page. A school has few, and their contents are kept in memory.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pulled_versions(&mut self, page: &Pulled) -> Result<Vec<VersionRow>, Error> {
        let ids: Vec<VersionId> = page.of(RecordKind::SequenceVersion);
        ids.into_iter().map(|id| self.version_row(id)).collect()
    }

    /// The checks in the page.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pulled_checks(&mut self, page: &Pulled) -> Result<Vec<CheckRow>, Error> {
        let ids: Vec<CheckId> = page.of(RecordKind::Check);
        self.checks_found(&ids)
    }

    /// The rounds in the page; a placement is none.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pulled_rounds(&mut self, page: &Pulled) -> Result<Vec<RoundRow>, Error> {
        let ids: Vec<RoundId> = page.of(RecordKind::CheckRound);
        if ids.is_empty() {
            return Ok(Vec::new());
        }
        Ok(self.all_rounds()?.into_iter().filter(|round| ids.contains(&round.id)).collect())
    }

    /// The classes in the page. A reader holds few.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pulled_classes(&mut self, page: &Pulled) -> Result<Vec<ClassNow>, Error> {
        let (school, ids): (_, Vec<ClassId>) = (self.school(), page.of(RecordKind::Class));
        let rows: Vec<ClassRow> = db!(self.conn, c => class::table
            .filter(class::school_id.eq(school))
            .filter(class::id.eq_any(&ids))
            .select(ClassRow::as_select())
            .load(c))?;
        rows.into_iter().map(|row| Ok(ClassNow { adults: self.class_adults(row.id)?, row })).collect()
    }

    /// The groups in the page. A reader holds few.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pulled_groups(&mut self, page: &Pulled) -> Result<Vec<GroupNow>, Error> {
        let (school, ids): (_, Vec<GroupId>) = (self.school(), page.of(RecordKind::Group));
        let rows: Vec<GroupRow> = db!(self.conn, c => teaching_group::table
            .filter(teaching_group::school_id.eq(school))
            .filter(teaching_group::id.eq_any(&ids))
            .select(GroupRow::as_select())
            .load(c))?;
        let whole = |row: GroupRow| {
            Ok(GroupNow { adults: self.adults_of(row.id)?, course: self.course_for(&row)?, row })
        };
        rows.into_iter().map(whole).collect()
    }

    /// The pupils in the page, with today's classes and year group.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pulled_pupils(&mut self, page: &Pulled) -> Result<Vec<PupilView>, Error> {
        let ids: Vec<PupilId> = page.of(RecordKind::Pupil);
        Ok(self.views_of(&ids)?.into_values().collect())
    }

    /// The days in groups in the page, of those who are in them today.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pulled_members(&mut self, page: &Pulled) -> Result<Vec<MemberNow>, Error> {
        let (school, today) = (self.school(), self.today());
        let ids = page.ids(RecordKind::GroupMember);
        let of_members = page.rows().iter().filter(|row| row.kind == RecordKind::GroupMember);
        let mut groups: Vec<GroupId> =
            of_members.filter_map(|row| row.scope.strip_prefix("group:")?.parse().ok()).collect();
        groups.dedup();
        let mut found: BTreeMap<Uuid, MemberNow> = BTreeMap::new();
        for group in groups {
            let rows: Vec<(PupilId, Date, Option<Date>)> = db!(self.conn, c => group_member::table
                .filter(group_member::school_id.eq(school))
                .filter(group_member::group_id.eq(group))
                .filter(held_on!(group_member, today))
                .select((group_member::pupil_id, group_member::from_on, group_member::until_on))
                .load(c))?;
            let lines = self.days_of(Some(group))?;
            for (pupil, from, until) in rows {
                let id = member_id(group, pupil);
                let weekdays = lines.get(&(group, pupil)).and_then(|lines| weekdays_on(lines, today));
                found.insert(id, MemberNow { id, group, pupil, days: Span { from, until }, weekdays });
            }
        }
        Ok(ids.into_iter().filter_map(|id| found.remove(&id.uuid())).collect())
    }

    /// The timetables in the page, by group. A reader holds few.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pulled_timetables(&mut self, page: &Pulled) -> Result<Vec<(GroupId, Vec<TimetableLine>)>, Error> {
        let ids: Vec<GroupId> = page.of(RecordKind::Timetable);
        ids.into_iter().map(|group| Ok((group, self.timetable_of(group)?))).collect()
    }

    /// What was carried in for groups in the page. A reader holds few.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pulled_pasts(&mut self, page: &Pulled) -> Result<Vec<(GroupId, SavedCarriedIn)>, Error> {
        let ids: Vec<GroupId> = page.of(RecordKind::CarriedIn);
        let past = |group| Ok(self.past_of(group)?.map(|saved| (group, saved)));
        ids.into_iter().map(past).filter_map(Result::transpose).collect()
    }

    /// The lesson records in the page.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pulled_lessons(&mut self, page: &Pulled) -> Result<Vec<SavedRecord>, Error> {
        let (school, ids): (_, Vec<LessonRecordId>) = (self.school(), page.of(RecordKind::LessonRecord));
        let rows: Vec<RecordRow> = db!(self.conn, c => lesson_record::table
            .filter(lesson_record::school_id.eq(school))
            .filter(lesson_record::id.eq_any(&ids))
            .filter(lesson_record::deleted_at.is_null())
            .select(RecordRow::as_select())
            .load(c))?;
        let marks: Vec<MarkRow> = db!(self.conn, c => lesson_mark::table
            .filter(lesson_mark::school_id.eq(school))
            .filter(lesson_mark::record_id.eq_any(&ids))
            .select(MarkRow::as_select())
            .load(c))?;
        join(rows, marks)
    }

    /// The catch-up records in the page.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pulled_catch_ups(&mut self, page: &Pulled) -> Result<Vec<SavedCatchUp>, Error> {
        self.catch_ups(Of::Ids(&page.of(RecordKind::CatchUp)))
    }
}
