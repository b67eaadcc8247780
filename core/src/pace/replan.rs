//! What would let a group finish by a day: proposals for people to choose from, never a change.

use std::collections::BTreeSet;

use serde::Serialize;

use super::{
    ahead::{Way, WhatIf},
    forecast::Forecast,
    plan::LESSONS_A_DAY,
};
use crate::{
    id::LessonId,
    sequence::{ItemKind, Lesson, Place},
    time::Date,
};

/// Lessons held in teaching days of the group.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PaceRate))]
pub struct Rate {
    /// Lessons.
    pub lessons: u32,
    /// In so many teaching days.
    pub days: u32,
}

/// Two lessons that follow each other and hold no more that is new than one may.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = JoinedLessons))]
pub struct Joined {
    /// The two, in teaching order.
    pub lessons: [LessonId; 2],
    /// Their titles.
    pub titles: [String; 2],
    /// What they teach that is new, together.
    pub new_items: usize,
}

/// How a group could finish by a day.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = ReplanProposals))]
pub struct Replan {
    /// The last lesson to finish.
    pub through: Place,
    /// Lessons not finished, up to that one.
    pub lessons_left: u32,
    /// Teaching days of the group left until then, that day included.
    pub days_left: u32,
    /// When they will have been taught if nothing changes.
    pub as_it_goes: Option<Forecast>,
    /// Whether that is in time to its last day, the later end of the interval.
    pub in_time: bool,
    /// The last lesson of which the later end of the interval is in time if nothing changes; none if not even of
    /// the next.
    pub reached_by_then: Option<Place>,
    /// The fewest lessons held by which it is as likely as not to be in time; none where not even a day full of them is enough.
    pub likely_with: Option<Rate>,
    /// The fewest lessons held by which the later end of the interval is in time.
    pub safe_with: Option<Rate>,
    /// Lessons that would have to be saved for the later end of the interval to be in time as it goes.
    pub lessons_too_many: u32,
    /// Pairs to teach as one lesson, fewest new items first, no more than are needed. None of them is in
    /// two pairs.
    pub joined: Vec<Joined>,
}

/// Works out the proposals to finish by a day, to the end or to the end of a step. `week` is the number of
/// days a week on which the group has lessons, `new_items_max` what one lesson may hold. None where nothing
/// is left to teach.
pub fn replan(
    way: &Way<'_>,
    through_step: Option<usize>,
    by: Date,
    week: u32,
    new_items_max: usize,
) -> Option<Replan> {
    let lessons: Vec<(Place, &Lesson)> = way
        .lessons
        .iter()
        .filter(|(place, ..)| through_step.is_none_or(|step| place.step <= step))
        .map(|(place, _, lesson)| (*place, *lesson))
        .collect();
    let through = lessons.last()?.0;
    let number = |length: usize| u32::try_from(length).unwrap_or(u32::MAX);
    let lessons_left = number(lessons.len());
    let in_time = |day: Option<Date>| day.is_some_and(|day| day <= by);
    let safe =
        |lessons: u32, days: &[Date]| way.forecast(lessons, days).is_none_or(|told| in_time(told.latest));
    let likely =
        |lessons: u32, days: &[Date]| way.forecast(lessons, days).is_none_or(|told| in_time(told.middle));
    // More lessons are never finished sooner, and more held never later: both searches may halve.
    let as_it_goes = way.to_come(&WhatIf::default());
    let can = largest(lessons_left, |lessons| safe(lessons, &as_it_goes));
    let days = week.max(1);
    let with = |fits: &dyn Fn(u32, &[Date]) -> bool| {
        let most = days * LESSONS_A_DAY;
        let fits = |lessons: u32| {
            let what_if = WhatIf { lost: None, lessons_in_days: Some((lessons, days)) };
            fits(lessons_left, &way.to_come(&what_if))
        };
        fits(most).then(|| Rate { lessons: most - largest(most - 1, |fewer| fits(most - fewer)), days })
    };
    let too_many = lessons_left - can;
    Some(Replan {
        through,
        lessons_left,
        days_left: number(way.days.iter().filter(|day| day.on <= by).count()),
        as_it_goes: way.forecast(lessons_left, &as_it_goes),
        in_time: too_many == 0,
        reached_by_then: (can as usize).checked_sub(1).map(|last| lessons[last].0),
        likely_with: with(&likely),
        safe_with: with(&safe),
        lessons_too_many: too_many,
        joined: join(&lessons, too_many as usize, new_items_max),
    })
}

/// The largest number up to `most` for which it holds, where it holds for nought and for all below that number.
fn largest(most: u32, holds: impl Fn(u32) -> bool) -> u32 {
    let (mut low, mut high) = (0, most);
    while low < high {
        let middle = low + (high - low).div_ceil(2);
        if holds(middle) {
            low = middle;
        } else {
            high = middle - 1;
        }
    }
    low
}

/// Neighbours that fit in one lesson: those with the fewest new items first, none twice.
fn join(lessons: &[(Place, &Lesson)], wanted: usize, new_items_max: usize) -> Vec<Joined> {
    let new = |lesson: &Lesson| -> BTreeSet<_> {
        lesson.items.iter().filter(|item| item.kind != ItemKind::Review).map(|item| item.id).collect()
    };
    let mut pairs: Vec<(usize, usize)> = lessons
        .windows(2)
        .enumerate()
        .map(|(at, pair)| (new(pair[0].1).union(&new(pair[1].1)).count(), at))
        .filter(|(items, _)| *items <= new_items_max)
        .collect();
    pairs.sort_unstable();
    let mut used = BTreeSet::new();
    let fit = pairs.into_iter().filter(|(_, at)| {
        let free = !used.contains(at) && !used.contains(&(at + 1));
        if free {
            used.extend([*at, at + 1]);
        }
        free
    });
    fit.take(wanted)
        .map(|(new_items, at)| {
            let pair = [lessons[at].1, lessons[at + 1].1];
            Joined {
                lessons: pair.map(|lesson| lesson.id),
                titles: pair.map(|lesson| lesson.title.to_string()),
                new_items,
            }
        })
        .collect()
}
