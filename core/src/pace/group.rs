//! One group: what it was to have taught, what it has, and its way ahead.

use std::{
    collections::{BTreeMap, BTreeSet},
    sync::Arc,
};

use chrono::{Datelike as _, Duration};

use super::{
    ahead::Way,
    delivery::{Finished, Sessions, finished, sessions, with_again},
    forecast::Pace,
    plan::{Due, LESSONS_A_DAY, Plan, Standing, standing},
};
use crate::{
    id::VersionId,
    lesson::{CarriedIn, NextLesson, Outcome, Record, lessons_left},
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
    /// Every day on which lessons are due for it, from its first day to the end of the calendar, in order.
    pub due: &'a [Due],
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
    /// Works it out. Of the lessons due on the day itself as many count as are recorded for it; the others are still
    /// to come.
    ///
    /// A plan counts from its first day, and each school year anew from the first day of that; so does the rule
    /// pack's, where nobody made one. For a group that began later it counts from its first day, and where something
    /// was carried in, from the day after. Days without a record are counted across school years.
    pub fn of(facts: &GroupFacts<'a>, rule: &'a PaceRule) -> Self {
        let on = facts.on;
        let records = facts.records;
        let (passed, ahead) = facts.passed_and_ahead();
        let lesson_of = |record: &Record| {
            let found = facts.contents.get(&record.version)?.lesson(record.lesson)?;
            Some(found.2)
        };
        let left: Vec<NextLesson<'a>> = lessons_left(facts.content, facts.carried, records).collect();
        let done: Vec<Finished> = finished(facts.content, facts.carried, records, &left, lesson_of);
        let (pace, rate) = facts.recent(&passed, &done, rule);
        let weekdays = |days: &mut dyn Iterator<Item = &Due>| -> BTreeSet<u32> {
            days.map(|day| day.on.weekday().num_days_from_monday()).collect()
        };
        // Four weeks, so that a closed day hides none; those to come, where there are any.
        let soon = on + Duration::days(28);
        let days_a_week = match weekdays(&mut ahead.iter().take_while(|day| day.on <= soon)) {
            none if none.is_empty() => weekdays(&mut passed.iter().rev().take(20)),
            some => some,
        };
        let way = Way::of(&left, pace, rate, ahead, rule);
        let counted_from = facts.counted_from();
        let plan = match facts.plan {
            Some(plan) => Plan { from: plan.from.max(counted_from), ..plan },
            None => Plan { from: counted_from, lessons: rule.planned_lessons, days: rule.planned_days },
        };
        // What was finished and is withdrawn since was to be taught too.
        let since = done.iter().filter(|one| one.on >= plan.from);
        let left_at_start = way.lessons_left() + u32::try_from(since.count()).unwrap_or(0);
        let last = records.iter().map(|record| record.on).max();
        let quiet = passed.iter().rev().take_while(|day| last.is_none_or(|last| day.on > last));
        Self {
            standing: standing(plan, &passed, &done, left_at_start),
            sessions: sessions(records, plan.from),
            pace,
            days_without_record: u32::try_from(quiet.filter(|day| day.on >= facts.begun_on()).count())
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

    /// The days that count as passed and those to come. The day itself is in both where some of its lessons are
    /// recorded and others are still due.
    fn passed_and_ahead(&self) -> (Vec<Due>, Vec<Due>) {
        // What was given beside the lessons of the day, in a slot after them, takes the place of none.
        let recorded = |day: &Due| {
            let of_day = self.records.iter().filter(|record| record.on == self.on);
            let count = of_day.filter(|record| u32::from(record.slot) <= day.of.max(day.lessons)).count();
            u32::try_from(count).unwrap_or(u32::MAX)
        };
        let (mut passed, mut ahead) = (Vec::new(), Vec::new());
        for day in self.due {
            let held = match day.on.cmp(&self.on) {
                std::cmp::Ordering::Less => day.lessons,
                std::cmp::Ordering::Equal => recorded(day).min(day.lessons),
                std::cmp::Ordering::Greater => 0,
            };
            let some = |lessons: u32| (lessons > 0).then_some(Due { lessons, ..*day });
            passed.extend(some(held));
            ahead.extend(some(day.lessons - held));
        }
        (passed, ahead)
    }

    /// What it did on the latest of the days passed, and how many sessions came in place of how many due on them. Sessions
    /// held on other days of that time count too, and on a day with more sessions than are due, as many as were held;
    /// of what was taught again only what took the place of one that was due, so that teaching again moves nothing.
    /// Days that are none of its own, by what is closed by now, say nothing of how often sessions come.
    fn recent(&self, passed: &[Due], done: &[Finished], rule: &PaceRule) -> (Pace, (u32, u32)) {
        let own = &passed[passed.partition_point(|day| day.on < self.begun_on())..];
        let days = &own[own.len().saturating_sub(rule.days_looked_at as usize)..];
        let Some(first) = days.first().map(|day| day.on) else { return (Pace::default(), (1, 1)) };
        let mut sessions: BTreeMap<Date, u32> = BTreeMap::new();
        let held = |(record, again): &(&Record, bool)| {
            record.on >= first && !again && record.outcome != Outcome::NotDelivered
        };
        for (record, _) in with_again(self.records).into_iter().filter(held) {
            *sessions.entry(record.on).or_default() += 1;
        }
        let mut came = 0;
        for day in days {
            let held = sessions.entry(day.on).or_default();
            *held = day.lessons.max(*held);
            came += *held;
        }
        let count = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
        let pace = Pace {
            days: count(days.len()),
            sessions: sessions.values().sum(),
            lessons: count(done.iter().filter(|one| one.on >= first).count()),
        };
        (pace, (came, days.iter().map(|day| day.lessons).sum()))
    }
}

#[cfg(test)]
mod tests;
