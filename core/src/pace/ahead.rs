//! The way ahead: when each step is reached, as it goes and if something were otherwise.

use serde::Serialize;

use super::{
    forecast::{Forecast, Pace, forecast},
    plan::Due,
};
use crate::{
    id::StepId,
    lesson::NextLesson,
    rules::PaceRule,
    sequence::{Lesson, Place, Step},
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
    /// So many sessions for so many that were due, as they came lately.
    pub(super) rate: (u32, u32),
    /// Its teaching days to come, with the lessons due on them.
    pub(super) days: Vec<Due>,
    /// How forecasts are told.
    pub(super) rule: &'a PaceRule,
}

impl<'a> Way<'a> {
    /// The way of a group through the lessons that are left of its version.
    pub fn of(
        left: &[NextLesson<'a>],
        pace: Pace,
        rate: (u32, u32),
        days: Vec<Due>,
        rule: &'a PaceRule,
    ) -> Self {
        let lessons = left.iter().map(|left| (left.place, left.step, left.lesson)).collect();
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

    /// The sessions to come, in order: the day of each. They are laid over the lessons due, so that a timetable from a
    /// day on and halves of days that are closed count; a number of lessons a week is laid over days, a day with
    /// fewer lessons due than by the timetable in proportion.
    pub(super) fn to_come(&self, what_if: &WhatIf) -> Vec<Date> {
        let lost = |day: &Date| what_if.lost.is_some_and(|(from, until)| (from..=until).contains(day));
        let held = |before: &[u64; 2]| match what_if.lessons_in_days {
            Some((lessons, in_days)) => Due::lessons_at(before[0], lessons.into(), in_days.max(1).into()),
            None => before[1] * u64::from(self.rate.0) / u64::from(self.rate.1.max(1)),
        };
        let mut sessions = Vec::new();
        // Parts of days, and lessons due.
        let mut so_far = [0, 0];
        for day in self.days.iter().filter(|day| !lost(&day.on)) {
            let before = held(&so_far);
            so_far = [so_far[0] + day.parts(), so_far[1] + u64::from(day.lessons)];
            sessions.extend((before..held(&so_far)).map(|_| day.on));
        }
        sessions
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
