//! How fast a group goes, and when it will be where.
//!
//! Everything is counted in teaching days of the group, which are the days on which a lesson is due for it by the
//! calendar and its timetable: a day that was none, for whatever reason, is not counted, so nobody is behind for it.

mod ahead;
mod delivery;
mod due;
mod expected;
#[cfg(test)]
mod fixture;
mod forecast;
mod group;
mod plan;
mod replan;
#[cfg(test)]
mod tests;

pub use ahead::{StepForecast, Way, WhatIf, steps_ahead};
pub use delivery::{Finished, Sessions, finished, sessions};
pub use due::{DaysLookedAt, due_days};
pub use expected::lessons_expected;
pub use forecast::{Forecast, Pace, forecast};
pub use group::{GroupFacts, GroupPace};
pub use plan::{Due, Plan, PlanError, Standing, standing};
pub use replan::{Joined, Rate, Replan, replan};
