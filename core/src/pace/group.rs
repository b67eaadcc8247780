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
    /// Its records up to that day, earliest first.
    pub records: &'a [Record],
    /// What was carried in for it.
    pub carried: Option<&'a CarriedIn>,
    /// The plan that counts that day, if somebody made one.
    pub plan: Option<Plan>,
    /// Its first day with somebody in it.
    pub first_day: Option<Date>,
    /// The first day of the school year.
    pub year_from: Option<Date>,
    /// Every day on which lessons are due for it, from its first day to the end of the calendar, with how many.
    pub due: &'a BTreeMap<Date, u32>,
}

/// How a group stands on a day.
#[derive(Clone, Debug)]
pub struct GroupPace<'a> {
    /// Planned against finished.
    pub standing: Standing,
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
        let records = facts.records;
        let days: Vec<Date> = facts.due.keys().copied().collect();
        let recorded: BTreeSet<Date> = records.iter().map(|record| record.on).collect();
        let split = days.partition_point(|day| *day < on || *day == on && recorded.contains(&on));
        let (passed, ahead) = days.split_at(split);
        let lesson_of = |record: &Record| {
            let found = facts.contents.get(&record.version)?.lesson(record.lesson)?;
            Some(found.2)
        };
        let done: Vec<Finished> = finished(records, lesson_of);
        let pace = facts.recent(passed, &done, rule);
        let weekdays = |days: &mut dyn Iterator<Item = &Date>| -> BTreeSet<u32> {
            days.map(|day| day.weekday().num_days_from_monday()).collect()
        };
        // Four weeks, so that a closed day hides none; those to come, where there are any.
        let days_a_week = match weekdays(&mut ahead.iter().take_while(|day| **day <= on + Duration::days(28)))
        {
            none if none.is_empty() => weekdays(&mut passed.iter().rev().take(20)),
            some => some,
        };
        let due = |days: &[Date]| days.iter().filter_map(|day| facts.due.get(day)).sum::<u32>();
        let rate = if pace.days == 0 {
            (due(ahead), u32::try_from(ahead.len()).unwrap_or(u32::MAX))
        } else {
            (pace.sessions, pace.days)
        };
        let way = Way::of(facts.content, facts.carried, records, pace, rate, ahead.to_vec(), rule);
        let plan = facts.plan.unwrap_or_else(|| Plan {
            from: facts.counted_from(),
            lessons: rule.planned_lessons,
            days: rule.planned_days,
        });
        // What was finished and is withdrawn since was to be taught too.
        let since = done.iter().filter(|one| one.on >= plan.from);
        let left_at_start = way.lessons_left() + u32::try_from(since.count()).unwrap_or(0);
        let last = recorded.last().copied();
        let quiet = passed.iter().rev().take_while(|day| last.is_none_or(|last| **day > last));
        Self {
            standing: standing(plan, passed, &done, left_at_start),
            sessions: sessions(records.iter().filter(|record| record.on >= plan.from)),
            pace,
            days_without_record: u32::try_from(quiet.filter(|day| **day >= facts.counted_from()).count())
                .unwrap_or(u32::MAX),
            days_a_week: u32::try_from(days_a_week.len()).unwrap_or(7),
            way,
        }
    }
}

impl GroupPace<'_> {
    /// The most lessons a week can hold.
    pub const fn most_a_week(&self) -> u32 {
        if self.days_a_week == 0 { LESSONS_A_DAY } else { self.days_a_week * LESSONS_A_DAY }
    }
}

impl GroupFacts<'_> {
    /// From when on its days are its own: somebody was in it, and what was carried in lies before.
    fn begun_on(&self) -> Date {
        let carried = self.carried.map(|carried| carried.as_of + Duration::days(1));
        [self.first_day, carried].into_iter().flatten().max().unwrap_or(self.on)
    }

    fn counted_from(&self) -> Date {
        self.year_from.map_or(self.begun_on(), |from| from.max(self.begun_on()))
    }

    /// What it did on the latest of the days passed. Sessions held on other days of that time count too, and on a
    /// day with more sessions than are due, as many as were held.
    fn recent(&self, passed: &[Date], done: &[Finished], rule: &PaceRule) -> Pace {
        let own = &passed[passed.partition_point(|day| *day < self.begun_on())..];
        let days = &own[own.len().saturating_sub(rule.days_looked_at as usize)..];
        let Some(first) = days.first() else { return Pace::default() };
        let mut sessions: BTreeMap<Date, u32> = BTreeMap::new();
        for record in self.records.iter().filter(|record| record.on >= *first) {
            *sessions.entry(record.on).or_default() += 1;
        }
        for day in days {
            let due = self.due.get(day).copied().unwrap_or(1);
            let held = sessions.entry(*day).or_default();
            *held = due.max(*held);
        }
        let count = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
        Pace {
            days: count(days.len()),
            sessions: sessions.values().sum(),
            lessons: count(done.iter().filter(|one| one.on >= *first).count()),
        }
    }
}
