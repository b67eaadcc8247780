//! What the pace of groups is worked out from, and the plans people made for them.

use std::{
    collections::{BTreeMap, BTreeSet},
    sync::Arc,
};

use diesel::{dsl::min, prelude::*};
use plumbline_core::{
    access::{act::Manage, resource::GroupPace},
    calendar::{Calendar, OwnCalendar, sessions},
    id::{GroupId, SchoolId, VersionId},
    lesson::{CarriedIn, Record},
    pace::{self, Due, GroupFacts, Plan},
    sequence::Content,
    time::Date,
};
use serde_json::json;

use super::{
    Error, GroupRow, Permit, Tx,
    change::Scope,
    conn::db,
    lesson::SavedRecord,
    schema::{group_member, pace_plan, teaching_group},
};

/// A plan somebody made.
#[derive(Clone, Copy, Debug)]
pub struct SavedPlan {
    /// The plan.
    pub plan: Plan,
    /// Its version.
    pub v: i64,
}

/// What the pace of one group is worked out from.
#[derive(Debug)]
pub struct PaceFacts {
    /// The group.
    pub group: GroupRow,
    /// The version in force for it that day, with its content; without one there is nothing to plan.
    pub version: Option<(VersionId, Arc<Content>)>,
    /// The plan that counts that day.
    pub plan: Option<SavedPlan>,
    on: Date,
    contents: BTreeMap<VersionId, Arc<Content>>,
    records: Vec<Record>,
    carried: Option<CarriedIn>,
    first_day: Option<Date>,
    year_from: Option<Date>,
    due: Vec<Due>,
}

impl PaceFacts {
    /// How the group stands; none where it has no version.
    pub fn pace<'a>(&'a self, rule: &'a plumbline_core::rules::PaceRule) -> Option<pace::GroupPace<'a>> {
        let (_, content) = self.version.as_ref()?;
        let facts = GroupFacts {
            on: self.on,
            content,
            contents: &self.contents,
            records: &self.records,
            carried: self.carried.as_ref(),
            plan: self.plan.map(|saved| saved.plan),
            first_day: self.first_day,
            year_from: self.year_from,
            due: &self.due,
        };
        Some(pace::GroupPace::of(&facts, rule))
    }

    /// The day of the last record.
    pub fn last_record_on(&self) -> Option<Date> {
        self.records.iter().map(|record| record.on).max()
    }
}

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = pace_plan, treat_none_as_default_value = false)]
struct PlanRow {
    school_id: SchoolId,
    group_id: GroupId,
    from_on: Date,
    lessons: i32,
    days: i32,
    v: i64,
}

impl PlanRow {
    fn plan(&self) -> Result<SavedPlan, Error> {
        let number = |number: i32| u32::try_from(number).map_err(|_| Error::Damaged("pace plan".into()));
        let plan = Plan { from: self.from_on, lessons: number(self.lessons)?, days: number(self.days)? };
        Ok(SavedPlan { plan, v: self.v })
    }
}

impl<'tx> Tx<'tx> {
    /// What a group's pace on a day is worked out from.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pace_facts<A>(
        &mut self,
        permit: &Permit<'tx, A, GroupPace>,
        on: Date,
    ) -> Result<PaceFacts, Error> {
        let lessons = self.lessons_of(permit.resource().0, on)?;
        let past = lessons.past.map(|past| past.carried);
        let calendar = self.calendar()?;
        self.pace_of(lessons.group, on, lessons.records, past, calendar)
    }

    /// The same of those of some groups that are taught on a day, by name, from the school's records up to that
    /// day.
    pub(super) fn all_pace_facts(
        &mut self,
        on: Date,
        groups: &BTreeSet<GroupId>,
        records: Vec<SavedRecord>,
    ) -> Result<Vec<PaceFacts>, Error> {
        let school = self.school();
        let groups: Vec<GroupRow> = db!(self.conn, c => teaching_group::table
            .filter(teaching_group::school_id.eq(school))
            .filter(teaching_group::id.eq_any(groups))
            .filter(teaching_group::closed_on.is_null().or(teaching_group::closed_on.ge(on)))
            .order((teaching_group::name, teaching_group::id))
            .select(GroupRow::as_select())
            .load(c))?;
        let mut of_group: BTreeMap<GroupId, Vec<SavedRecord>> = BTreeMap::new();
        for saved in records {
            of_group.entry(saved.record.group).or_default().push(saved);
        }
        let (mut pasts, calendar) = (self.pasts_by_group(on)?, self.calendar()?);
        groups
            .into_iter()
            .map(|group| {
                let (records, past) =
                    (of_group.remove(&group.id).unwrap_or_default(), pasts.remove(&group.id));
                self.pace_of(group, on, records, past, calendar.clone())
            })
            .collect()
    }

    fn pace_of(
        &mut self,
        group: GroupRow,
        on: Date,
        records: Vec<SavedRecord>,
        carried: Option<CarriedIn>,
        calendar: Calendar,
    ) -> Result<PaceFacts, Error> {
        let (school, id) = (self.school(), group.id);
        let records: Vec<Record> =
            records.into_iter().map(|saved| saved.record).filter(|record| record.on <= on).collect();
        let contents = self.contents_of(records.iter().map(|record| record.version))?;
        let version = self.version_for(&group, on)?;
        let first_day: Option<Date> = db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::group_id.eq(id))
            .filter(group_member::from_on.le(on))
            .select(min(group_member::from_on))
            .first(c))?;
        let calendar = OwnCalendar { calendar, whom: self.whom_of_group(id)? };
        let years = &calendar.calendar.years;
        let last = group.closed_on.or(years.last().map(|year| year.ends_on)).unwrap_or(on);
        let timetable = self.timetable_of(id)?;
        let open =
            OwnCalendar { calendar: calendar.calendar.without_closures(), whom: calendar.whom.clone() };
        let lessons = |calendar: &OwnCalendar| -> BTreeMap<Date, u32> {
            let mut due = BTreeMap::new();
            for lesson in first_day.iter().flat_map(|first| sessions(calendar, &timetable, *first, last)) {
                *due.entry(lesson.on).or_default() += 1;
            }
            due
        };
        let of = lessons(&open);
        let due = lessons(&calendar).into_iter();
        let due = due.map(|(on, lessons)| Due { on, lessons, of: of.get(&on).copied().unwrap_or(lessons) });
        let due = due.collect();
        let begun = years.iter().filter(|year| year.starts_on <= on);
        let year_from = begun.map(|year| year.starts_on).max();
        let plan = self.plans_of(id)?.into_iter().rfind(|saved| saved.plan.from <= on);
        let version = version.map(|row| (row.head.id, row.content));
        Ok(PaceFacts { group, version, plan, on, contents, records, carried, first_day, year_from, due })
    }

    /// A group's plans, earliest first.
    fn plans_of(&mut self, group: GroupId) -> Result<Vec<SavedPlan>, Error> {
        let school = self.school();
        let rows: Vec<PlanRow> = db!(self.conn, c => pace_plan::table
            .filter(pace_plan::school_id.eq(school))
            .filter(pace_plan::group_id.eq(group))
            .order(pace_plan::from_on)
            .select(PlanRow::as_select())
            .load(c))?;
        rows.iter().map(PlanRow::plan).collect()
    }

    /// The plan somebody made for a group last: the one that counts today or a coming one.
    ///
    /// # Errors
    /// If the store fails.
    pub fn latest_plan<A>(&mut self, permit: &Permit<'tx, A, GroupPace>) -> Result<Option<SavedPlan>, Error> {
        Ok(self.plans_of(permit.resource().0)?.pop())
    }

    /// Plans a group from a day on. Plans of that day and later ones go; earlier ones stay for the days before.
    ///
    /// # Errors
    /// If the store fails.
    pub fn save_plan(
        &mut self,
        permit: &Permit<'tx, Manage, GroupPace>,
        plan: Plan,
    ) -> Result<SavedPlan, Error> {
        let (school, group, v) = (self.school(), permit.resource().0, self.version);
        self.drop_plans(group, plan.from)?;
        let number = |number: u32| i32::try_from(number).map_err(|_| Error::Conflict);
        let row = PlanRow {
            school_id: school,
            group_id: group,
            from_on: plan.from,
            lessons: number(plan.lessons)?,
            days: number(plan.days)?,
            v,
        };
        db!(self.conn, c => diesel::insert_into(pace_plan::table).values(&row).execute(c))?;
        let body = json!({"group": group, "plan": plan});
        self.save("pace_plan", group.uuid(), &[Scope::Group(group)], &body)?;
        Ok(SavedPlan { plan, v })
    }

    /// Takes back the plans a group was given from a day on; the one before counts again, or the rule pack's.
    ///
    /// # Errors
    /// If the store fails.
    pub fn remove_plans(&mut self, permit: &Permit<'tx, Manage, GroupPace>, from: Date) -> Result<(), Error> {
        let group = permit.resource().0;
        self.drop_plans(group, from)?;
        match self.plans_of(group)?.pop() {
            Some(saved) => {
                let body = json!({"group": group, "plan": saved.plan});
                self.save("pace_plan", group.uuid(), &[Scope::Group(group)], &body)
            }
            None => self.save_gone("pace_plan", group.uuid(), &[Scope::Group(group)]),
        }
    }

    fn drop_plans(&mut self, group: GroupId, from: Date) -> Result<(), Error> {
        let school = self.school();
        db!(self.conn, c => diesel::delete(pace_plan::table
            .filter(pace_plan::school_id.eq(school))
            .filter(pace_plan::group_id.eq(group))
            .filter(pace_plan::from_on.ge(from)))
            .execute(c))?;
        Ok(())
    }
}
