//! One group: what it was to have taught, what it has, and its way ahead.

use std::{
    collections::{BTreeMap, BTreeSet},
    sync::Arc,
};

use chrono::{Datelike as _, Duration};

use super::{
    ahead::Way,
    delivery::{Finished, Sessions, finished, sessions},
    forecast::Pace,
    plan::{LESSONS_A_DAY, Plan, Standing, standing},
};
use crate::{
    id::VersionId,
    lesson::{CarriedIn, Record},
    rules::PaceRule,
    sequence::Content,
    time::Date,
};

/// What is known of a group on a day.
#[derive(Clone, Debug)]
pub struct GroupFacts<'a> {
    /// The day.
    pub on: Date,
    /// The version in force for the group that day.
    pub content: &'a Content,
    /// The versions that its records pin.
    pub contents: &'a BTreeMap<VersionId, Arc<Content>>,
    /// Its records, earliest first.
    pub records: &'a [Record],
    /// What was carried in for it.
    pub carried: Option<&'a CarriedIn>,
    /// The plan that counts that day, if somebody made one.
    pub plan: Option<Plan>,
    /// Its first day with somebody in it.
    pub first_day: Option<Date>,
    /// The first day of the school year.
    pub year_from: Option<Date>,
    /// Every day on which a lesson is due for it, from its first day to the end of the calendar, in order.
    pub days: &'a [Date],
}

/// How a group stands on a day.
#[derive(Clone, Debug)]
pub struct GroupPace<'a> {
    /// Planned against finished.
    pub standing: Standing,
    /// The plan counted by.
    pub plan: Plan,
    /// Sessions in that time.
    pub sessions: Sessions,
    /// What it did on the latest of its teaching days.
    pub pace: Pace,
    /// Teaching days in a row, up to the day, without a record.
    pub days_without_record: u32,
    /// The days a week on which it has lessons.
    pub days_a_week: u32,
    /// The way ahead.
    pub way: Way<'a>,
}

impl<'a> GroupPace<'a> {
    /// Works it out. The day itself counts once something is recorded for it; until then it is still to come.
    ///
    /// Where nobody made a plan, the rule pack's counts from the first day of the school year; for a group that
    /// began later, from its first day, and where something was carried in, from the day after.
    pub fn of(facts: &GroupFacts<'a>, rule: &'a PaceRule) -> Self {
        let on = facts.on;
        let records: Vec<Record> = facts.records.iter().filter(|record| record.on <= on).cloned().collect();
        let recorded: BTreeSet<Date> = records.iter().map(|record| record.on).collect();
        let split = facts.days.partition_point(|day| *day < on || *day == on && recorded.contains(&on));
        let (passed, ahead) = facts.days.split_at(split);
        let lesson_of = |record: &Record| {
            let found = facts.contents.get(&record.version)?.lesson(record.lesson)?;
            Some(found.2)
        };
        let done: Vec<Finished> = finished(&records, lesson_of);
        let on_day =
            |day: &Date| u32::try_from(done.iter().filter(|one| one.on == *day).count()).unwrap_or(0);
        let looked_at = passed.len().saturating_sub(rule.days_looked_at as usize);
        let pace = Pace::of(passed[looked_at..].iter().map(on_day));
        let way = Way::of(facts.content, facts.carried, &records, pace, ahead, rule);
        let plan = facts.plan.unwrap_or_else(|| Plan {
            from: facts.counted_from(),
            lessons: rule.planned_lessons,
            days: rule.planned_days,
        });
        let since =
            done.iter().filter(|one| one.on >= plan.from && facts.content.lesson(one.lesson).is_some());
        let left_at_start = way.lessons_left() + u32::try_from(since.count()).unwrap_or(0);
        let last = recorded.last().copied();
        let quiet = passed.iter().rev().take_while(|day| last.is_none_or(|last| **day > last));
        let weekdays: BTreeSet<u32> =
            facts.days.iter().map(|day| day.weekday().num_days_from_monday()).collect();
        Self {
            standing: standing(plan, passed, &done, left_at_start),
            plan,
            sessions: sessions(records.iter().filter(|record| record.on >= plan.from)),
            pace,
            days_without_record: u32::try_from(quiet.filter(|day| **day >= facts.counted_from()).count())
                .unwrap_or(u32::MAX),
            days_a_week: u32::try_from(weekdays.len()).unwrap_or(7),
            way,
        }
    }
}

impl GroupPace<'_> {
    /// The most lessons a week can hold.
    pub const fn most_a_week(&self) -> u32 {
        self.days_a_week * LESSONS_A_DAY
    }
}

impl GroupFacts<'_> {
    fn counted_from(&self) -> Date {
        let carried = self.carried.map(|carried| carried.as_of + Duration::days(1));
        [self.year_from, self.first_day, carried].into_iter().flatten().max().unwrap_or(self.on)
    }
}
