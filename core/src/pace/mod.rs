//! How fast a group goes, and when it will be where.
//!
//! Everything is counted in teaching days of the group: a day that was none, for whatever reason, is not
//! counted, so nobody is behind for it.

mod forecast;
#[cfg(test)]
mod tests;

pub use forecast::{Forecast, Pace, forecast};
