//! How fast a group goes, and when it will be where.
//!
//! Everything is counted in teaching days of the group: a day that was none, for whatever reason, is not
//! counted, so nobody is behind for it.

mod ahead;
mod delivery;
mod forecast;
mod plan;
mod replan;
#[cfg(test)]
mod tests;
#[cfg(test)]
mod way_tests;

pub use ahead::{StepForecast, Way, WhatIf, steps_ahead};
pub use delivery::{Finished, Sessions, finished, sessions};
pub use forecast::{Forecast, Pace, forecast};
pub use plan::{Plan, PlanError, Standing, standing};
pub use replan::{Joined, Rate, Replan, replan};
