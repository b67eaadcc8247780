//! Closures: each an action that is taken back whole and stays readable then.

use std::collections::{BTreeMap, BTreeSet};

use diesel::{dsl::max, prelude::*};
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource,
    },
    calendar::{
        Calendar, ClosedFor, Closure, ClosureKind, ClosurePlan, DayPart, OwnCalendar, RecordedLesson,
        recorded_and_closed,
    },
    id::{ClassId, ClosureId, GroupId, LessonRecordId, PupilId, SchoolId},
    lesson::{Mark, Outcome},
    time::{Date, Instant},
};
use serde_json::json;

use super::{
    Error, Permit, Tx,
    change::Scope,
    conn::db,
    schema::{closure, lesson_mark, lesson_record, school_year, teaching_group},
};

/// A closure as stored.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = closure, treat_none_as_default_value = false)]
pub struct ClosureRow {
    school_id: SchoolId,
    /// Its id.
    pub id: ClosureId,
    from_on: Date,
    until_on: Date,
    kind: ClosureKind,
    /// A code of the rule pack.
    pub reason: Option<String>,
    part: DayPart,
    year_groups: Option<serde_json::Value>,
    class_ids: Option<serde_json::Value>,
    /// When it was taken back.
    pub taken_back_at: Option<Instant>,
    v: i64,
}

/// Days of a group that would not be taught, or not to all who were there, though lessons of them are on record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordedDays {
    /// The group.
    pub group: GroupId,
    /// Its name.
    pub name: String,
    /// The days.
    pub days: BTreeSet<Date>,
}

impl ClosureRow {
    /// Which days, why and for whom.
    ///
    /// # Errors
    /// [`Error::Damaged`] if the lists of whom are none.
    pub fn plan(&self) -> Result<ClosurePlan, Error> {
        let whom = match (&self.year_groups, &self.class_ids) {
            (Some(codes), _) => ClosedFor::YearGroups(serde_json::from_value(codes.clone())?),
            (_, Some(ids)) => ClosedFor::Classes(serde_json::from_value(ids.clone())?),
            (None, None) => ClosedFor::School,
        };
        Ok(ClosurePlan { from: self.from_on, until: self.until_on, kind: self.kind, part: self.part, whom })
    }
}

impl<'tx> Tx<'tx> {
    /// The closures that stand, by day, or those that were taken back.
    ///
    /// # Errors
    /// If the store fails.
    pub fn closures(
        &mut self,
        _permit: &Permit<'tx, Read, resource::Calendar>,
        taken_back: bool,
    ) -> Result<Vec<ClosureRow>, Error> {
        self.closure_rows(taken_back)
    }

    /// What closes days now.
    pub(super) fn standing_closures(&mut self) -> Result<Vec<Closure>, Error> {
        let standing = |row: ClosureRow| Ok(Closure { id: row.id, plan: row.plan()? });
        self.closure_rows(false)?.into_iter().map(standing).collect()
    }

    fn closure_rows(&mut self, taken_back: bool) -> Result<Vec<ClosureRow>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => closure::table
            .filter(closure::school_id.eq(school))
            .filter(closure::taken_back_at.is_not_null().eq(taken_back))
            .order((closure::from_on, closure::id))
            .select(ClosureRow::as_select())
            .load(c))?)
    }

    /// Closes days.
    ///
    /// # Errors
    /// [`Error::Missing`] for a class that is not of this school.
    pub fn add_closure(
        &mut self,
        _permit: &Permit<'tx, Manage, resource::Calendar>,
        plan: &ClosurePlan,
        reason: Option<String>,
    ) -> Result<ClosureRow, Error> {
        let (mut year_groups, mut class_ids) = (None, None);
        match &plan.whom {
            ClosedFor::School => {}
            ClosedFor::YearGroups(codes) => year_groups = Some(json!(codes)),
            ClosedFor::Classes(ids) => {
                let known: Vec<ClassId> = self.classes()?.into_iter().map(|class| class.id).collect();
                if ids.iter().any(|id| !known.contains(id)) {
                    return Err(Error::Missing);
                }
                class_ids = Some(json!(ids));
            }
        }
        let row = ClosureRow {
            school_id: self.school(),
            id: self.new_id(),
            from_on: plan.from,
            until_on: plan.until,
            kind: plan.kind,
            reason,
            part: plan.part,
            year_groups,
            class_ids,
            taken_back_at: None,
            v: self.version,
        };
        db!(self.conn, c => diesel::insert_into(closure::table).values(&row).execute(c))?;
        self.save("closure", row.id.uuid(), &[Scope::School], &json!({"plan": plan, "reason": row.reason}))?;
        Ok(row)
    }

    /// The groups that have lessons on record of days that another calendar would close for them or for pupils who
    /// were there, by name. A lesson that is recorded as not delivered was none.
    ///
    /// # Errors
    /// If the store fails.
    pub fn recorded_and_closed(
        &mut self,
        _permit: &Permit<'tx, Manage, resource::Calendar>,
        after: &Calendar,
    ) -> Result<Vec<RecordedDays>, Error> {
        let calendar = self.calendar()?;
        let Some((from, until)) = calendar.differs(after) else { return Ok(Vec::new()) };
        let mut found = Vec::new();
        let lessons = self.recorded_lessons(from, until)?;
        let calendars = self.calendars_of_groups(&lessons.iter().map(|(group, ..)| *group).collect())?;
        for (group, name, recorded) in lessons {
            let Some((now, lines)) = calendars.get(&group) else { continue };
            let after = OwnCalendar { calendar: after.clone(), whom: now.whom.clone() };
            let days = recorded_and_closed(now, &after, lines, &recorded);
            if !days.is_empty() {
                found.push(RecordedDays { group, name, days });
            }
        }
        Ok(found)
    }

    /// The lessons that were given from one day to another, with who was there, by group and in the order of names.
    fn recorded_lessons(
        &mut self,
        from: Date,
        until: Date,
    ) -> Result<Vec<(GroupId, String, Vec<RecordedLesson>)>, Error> {
        let school = self.school();
        let given = || {
            lesson_record::school_id
                .eq(school)
                .and(lesson_record::on_date.between(from, until))
                .and(lesson_record::deleted_at.is_null())
                .and(lesson_record::outcome.ne(Outcome::NotDelivered))
        };
        let rows: Vec<(GroupId, String, LessonRecordId, Date, i16)> = db!(self.conn, c => lesson_record::table
            .inner_join(teaching_group::table.on(teaching_group::school_id.eq(lesson_record::school_id)
                .and(teaching_group::id.eq(lesson_record::group_id))))
            .filter(given())
            .order((teaching_group::name, teaching_group::id, lesson_record::on_date, lesson_record::slot))
            .select((teaching_group::id, teaching_group::name, lesson_record::id, lesson_record::on_date, lesson_record::slot))
            .load(c))?;
        let marks: Vec<(LessonRecordId, PupilId)> = db!(self.conn, c => lesson_mark::table
            .inner_join(lesson_record::table.on(lesson_record::school_id.eq(lesson_mark::school_id)
                .and(lesson_record::id.eq(lesson_mark::record_id))))
            .filter(given())
            .filter(lesson_mark::mark.ne(Mark::Absent))
            .select((lesson_mark::record_id, lesson_mark::pupil_id))
            .load(c))?;
        let mut there: BTreeMap<LessonRecordId, BTreeSet<PupilId>> = BTreeMap::new();
        for (record, pupil) in marks {
            there.entry(record).or_default().insert(pupil);
        }
        let mut groups: Vec<(GroupId, String, Vec<RecordedLesson>)> = Vec::new();
        for (id, name, record, on, slot) in rows {
            let slot = u8::try_from(slot).map_err(|_| Error::Damaged("lesson record".into()))?;
            let lesson = RecordedLesson { on, slot, there: there.remove(&record).unwrap_or_default() };
            match groups.last_mut().filter(|last| last.0 == id) {
                Some((_, _, lessons)) => lessons.push(lesson),
                None => groups.push((id, name, vec![lesson])),
            }
        }
        Ok(groups)
    }

    /// The version of the calendar: that of the school year or closure that was changed last, also by taking it
    /// back; nought while there is none.
    ///
    /// # Errors
    /// If the store fails.
    pub fn calendar_version(
        &mut self,
        _permit: &Permit<'tx, Manage, resource::Calendar>,
    ) -> Result<i64, Error> {
        let school = self.school();
        let years: Option<i64> = db!(self.conn, c => school_year::table
            .filter(school_year::school_id.eq(school))
            .select(max(school_year::v))
            .first(c))?;
        let closures: Option<i64> = db!(self.conn, c => closure::table
            .filter(closure::school_id.eq(school))
            .select(max(closure::v))
            .first(c))?;
        Ok(years.max(closures).unwrap_or_default())
    }

    /// Takes a closure back, all of it.
    ///
    /// # Errors
    /// [`Error::Missing`] if none stands.
    pub fn remove_closure(
        &mut self,
        _permit: &Permit<'tx, Manage, resource::Calendar>,
        id: ClosureId,
    ) -> Result<(), Error> {
        let (school, now, version) = (self.school(), self.now(), self.version);
        let standing = closure::table.find((school, id)).filter(closure::taken_back_at.is_null());
        let taken_back = db!(self.conn, c => diesel::update(standing)
            .set((closure::taken_back_at.eq(Some(now)), closure::v.eq(version)))
            .execute(c))?;
        if taken_back == 0 {
            return Err(Error::Missing);
        }
        self.save_gone("closure", id.uuid(), &[Scope::School])
    }
}
