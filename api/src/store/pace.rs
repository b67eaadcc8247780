//! What the pace of groups is worked out from, and the plans people made for them.

use std::{
    cell::OnceCell,
    collections::{BTreeMap, BTreeSet},
    sync::Arc,
};

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Manage, resource::GroupPace},
    calendar::{Attendance, OwnCalendar, TimetableLine},
    id::{GroupId, ItemId, PupilId, SchoolId, VersionId},
    lesson::{CarriedIn, Record},
    pace::{self, DaysLookedAt, Due, GroupFacts, Plan, due_days, lessons_expected},
    rules::PaceRule,
    sequence::{Content, ItemKind},
    time::Date,
};
use serde_json::json;

use super::{
    Error, GroupRow, Permit, Tx,
    change::Scope,
    conn::db,
    lesson::SavedRecord,
    schema::{pace_plan, teaching_group},
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
    calendar: OwnCalendar,
    timetable: Vec<TimetableLine>,
    /// Worked out when the pace is: not in the transaction.
    due: OnceCell<Vec<Due>>,
}

impl PaceFacts {
    /// How the group stands; none where it has no version.
    pub fn pace<'a>(&'a self, rule: &'a PaceRule) -> Option<pace::GroupPace<'a>> {
        Some(pace::GroupPace::of(&self.facts(rule)?, rule))
    }

    /// The GPCs that were to be taught by the day; none where it has no version.
    pub(super) fn gpcs_expected(&self, rule: &PaceRule) -> Option<BTreeSet<ItemId>> {
        let facts = self.facts(rule)?;
        let lessons = lessons_expected(&facts, &pace::GroupPace::of(&facts, rule).standing);
        let items = lessons.into_iter().flat_map(|lesson| &lesson.items);
        Some(items.filter(|item| item.kind == ItemKind::Gpc).map(|item| item.id).collect())
    }

    /// Who is in it that day.
    pub(super) fn members(&self) -> impl Iterator<Item = PupilId> {
        let is_in = |one: &Attendance| one.days.iter().any(|days| days.holds(self.on));
        self.calendar.whom.pupils.iter().filter(move |(_, one)| is_in(one)).map(|(pupil, _)| *pupil)
    }

    fn facts(&self, rule: &PaceRule) -> Option<GroupFacts<'_>> {
        let (_, content) = self.version.as_ref()?;
        let last = self.calendar.calendar.years.last().map(|year| year.ends_on);
        let due = || match self.first_day {
            Some(first) => {
                // Days without a record are counted back to the last one.
                let counted =
                    self.last_record_on().map(|last| self.year_from.map_or(last, |from| from.min(last)));
                let until = self.group.closed_on.or(last).unwrap_or(self.on);
                let looked_at = DaysLookedAt {
                    from: first,
                    until,
                    counted_from: counted.unwrap_or(first),
                    before: self.on,
                    number: rule.days_looked_at as usize,
                };
                due_days(&self.calendar, &self.timetable, looked_at)
            }
            None => Vec::new(),
        };
        Some(GroupFacts {
            on: self.on,
            content,
            contents: &self.contents,
            records: &self.records,
            carried: self.carried.as_ref(),
            plan: self.plan.map(|saved| saved.plan),
            first_day: self.first_day,
            year_from: self.year_from,
            due: self.due.get_or_init(due),
        })
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
        let id = lessons.group.id;
        let pasts = lessons.past.map(|past| (id, past.carried)).into_iter().collect();
        let mut facts = self.pace_of(vec![lessons.group], on, lessons.records, pasts)?;
        facts.pop().ok_or(Error::Missing)
    }

    /// The same of those of some groups that are taught on a day, by name, from the school's records up to that
    /// day. It takes as many statements as for one group.
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
        let pasts = self.pasts_by_group(on)?;
        self.pace_of(groups, on, records, pasts)
    }

    fn pace_of(
        &mut self,
        groups: Vec<GroupRow>,
        on: Date,
        records: Vec<SavedRecord>,
        mut pasts: BTreeMap<GroupId, CarriedIn>,
    ) -> Result<Vec<PaceFacts>, Error> {
        let ids: BTreeSet<GroupId> = groups.iter().map(|group| group.id).collect();
        let records = records.into_iter().map(|saved| saved.record);
        let records = records.filter(|record| record.on <= on && ids.contains(&record.group));
        let mut of_group: BTreeMap<GroupId, Vec<Record>> = BTreeMap::new();
        for record in records {
            of_group.entry(record.group).or_default().push(record);
        }
        let pinned: BTreeSet<VersionId> = of_group.values().flatten().map(|record| record.version).collect();
        let contents = self.contents_of(pinned.into_iter())?;
        let mut versions = self.versions_for(&groups, on)?;
        let mut calendars = self.calendars_of_groups(&ids)?;
        let mut plans = self.plans_of(&ids)?;
        let facts = |group: GroupRow| {
            let (calendar, timetable) = calendars.remove(&group.id).unwrap_or_default();
            let records = of_group.remove(&group.id).unwrap_or_default();
            let held: BTreeSet<VersionId> = records.iter().map(|record| record.version).collect();
            let spans = calendar.whom.pupils.values().flat_map(|one| &one.days);
            let first_day = spans.map(|days| days.from).filter(|from| *from <= on).min();
            let begun = calendar.calendar.years.iter().filter(|year| year.starts_on <= on);
            PaceFacts {
                version: versions.remove(&group.id).map(|row| (row.head.id, row.content)),
                plan: plans
                    .remove(&group.id)
                    .unwrap_or_default()
                    .into_iter()
                    .rfind(|one| one.plan.from <= on),
                on,
                contents: held.iter().filter_map(|id| Some((*id, contents.get(id)?.clone()))).collect(),
                records,
                carried: pasts.remove(&group.id),
                first_day,
                year_from: begun.map(|year| year.starts_on).max(),
                calendar,
                timetable,
                due: OnceCell::new(),
                group,
            }
        };
        Ok(groups.into_iter().map(facts).collect())
    }

    /// The plans of some groups, each group's earliest first.
    fn plans_of(&mut self, groups: &BTreeSet<GroupId>) -> Result<BTreeMap<GroupId, Vec<SavedPlan>>, Error> {
        let school = self.school();
        let rows: Vec<PlanRow> = db!(self.conn, c => pace_plan::table
            .filter(pace_plan::school_id.eq(school))
            .filter(pace_plan::group_id.eq_any(groups))
            .order((pace_plan::group_id, pace_plan::from_on))
            .select(PlanRow::as_select())
            .load(c))?;
        let mut plans: BTreeMap<GroupId, Vec<SavedPlan>> = BTreeMap::new();
        for row in rows {
            plans.entry(row.group_id).or_default().push(row.plan()?);
        }
        Ok(plans)
    }

    /// The plan a group was given last.
    fn last_plan(&mut self, group: GroupId) -> Result<Option<SavedPlan>, Error> {
        Ok(self.plans_of(&[group].into())?.remove(&group).unwrap_or_default().pop())
    }

    /// The plan somebody made for a group last: the one that counts today or a coming one.
    ///
    /// # Errors
    /// If the store fails.
    pub fn latest_plan<A>(&mut self, permit: &Permit<'tx, A, GroupPace>) -> Result<Option<SavedPlan>, Error> {
        self.last_plan(permit.resource().0)
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
        match self.last_plan(group)? {
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
