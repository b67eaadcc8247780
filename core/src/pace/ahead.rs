//! The way ahead: when each step is reached, as it goes and if something were otherwise.

use serde::Serialize;

use super::forecast::{Forecast, Pace, forecast};
use crate::{
    id::StepId,
    lesson::{CarriedIn, Record, lessons_left},
    rules::PaceRule,
    sequence::{Content, Lesson, Place, Step},
    time::Date,
};

/// A step with something left to teach.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct StepForecast {
    /// The step.
    pub id: StepId,
    /// Where it stands, counted from 1.
    pub step: usize,
    /// As shown.
    pub title: String,
    /// Its lessons not finished.
    pub lessons_left: u32,
    /// When the first of them will have been taught: the step is reached.
    pub reached: Option<Forecast>,
    /// When the last of them will have been taught.
    pub finished: Option<Forecast>,
}

/// What might be otherwise in the days to come.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct WhatIf {
    /// Days lost, from one to another, both included.
    pub lost: Option<(Date, Date)>,
    /// So many lessons held in so many teaching days of the group, each finished as often as a session has finished
    /// one so far.
    pub lessons_in_days: Option<(u32, u32)>,
}

/// What a group has still to teach, and how it goes about it.
#[derive(Clone, Debug)]
pub struct Way<'a> {
    /// The lessons not finished, in teaching order.
    pub(super) lessons: Vec<(Place, &'a Step, &'a Lesson)>,
    /// The group's pace.
    pub(super) pace: Pace,
    /// Sessions in so many teaching days, as they came lately or, where nothing is known, as they are due.
    pub(super) rate: (u32, u32),
    /// Its teaching days to come.
    pub(super) days: Vec<Date>,
    /// How forecasts are told.
    pub(super) rule: &'a PaceRule,
}

impl<'a> Way<'a> {
    /// The way of a group through a version, by what was carried in and its records.
    pub fn of(
        content: &'a Content,
        carried: Option<&CarriedIn>,
        records: &[Record],
        pace: Pace,
        rate: (u32, u32),
        days: Vec<Date>,
        rule: &'a PaceRule,
    ) -> Self {
        let lessons = lessons_left(content, carried, records)
            .map(|left| (left.place, left.step, left.lesson))
            .collect();
        Self { lessons, pace, rate, days, rule }
    }

    /// Lessons not finished.
    pub fn lessons_left(&self) -> u32 {
        u32::try_from(self.lessons.len()).unwrap_or(u32::MAX)
    }

    /// When so many lessons more will have been finished, held on these days.
    pub(super) fn forecast(&self, lessons: u32, days: &[Date]) -> Option<Forecast> {
        forecast(self.pace, lessons, days, self.rule)
    }

    /// The sessions to come, in order: the day of each.
    pub(super) fn to_come(&self, what_if: &WhatIf) -> Vec<Date> {
        let lost = |day: &Date| what_if.lost.is_some_and(|(from, until)| (from..=until).contains(day));
        let (sessions, in_days) = what_if.lessons_in_days.unwrap_or(self.rate);
        let (sessions, in_days) = (u64::from(sessions), u64::from(in_days.max(1)));
        let held = |days: u64| days * sessions / in_days;
        (1..)
            .zip(self.days.iter().copied().filter(|day| !lost(day)))
            .flat_map(|(number, day)| (held(number - 1)..held(number)).map(move |_| day))
            .collect()
    }
}

/// Forecasts each step that has something left.
pub fn steps_ahead(way: &Way<'_>, what_if: &WhatIf) -> Vec<StepForecast> {
    let days = way.to_come(what_if);
    let mut steps: Vec<StepForecast> = Vec::new();
    for (number, (place, step, _)) in (1..).zip(&way.lessons) {
        match steps.last_mut() {
            Some(last) if last.step == place.step => {
                last.lessons_left += 1;
                last.finished = way.forecast(number, &days);
            }
            _ => {
                let first = way.forecast(number, &days);
                steps.push(StepForecast {
                    id: step.id,
                    step: place.step,
                    title: step.title.to_string(),
                    lessons_left: 1,
                    reached: first,
                    finished: first,
                });
            }
        }
    }
    steps
}

#[cfg(test)]
mod tests;
