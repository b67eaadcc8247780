//! When a group will have been taught a number of lessons more, by its own record.
//!
//! The model: each session it is due, or holds, finishes a lesson or does not, each with the same chance, which is
//! not known and is learned from the sessions so far. With a beta distribution for the chance, the number of
//! sessions until `n` lessons are finished has the beta negative binomial distribution (N. L. Johnson, A. W. Kemp
//! and S. Kotz, "Univariate Discrete Distributions", 3rd edition, 2005, section 6.2.3), which holds both what
//! chance does to the sessions to come and how little is known of the group. Sessions come as often for a lesson due
//! as they did, so the days of the sessions to come follow the timetable and the calendar as they will be. It knows nothing of illness that lasts or of plans to hurry: it says what comes if
//! nothing changes.

use serde::{Deserialize, Serialize};

use crate::{rules::PaceRule, time::Date};

/// What a group did on its latest teaching days.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = GroupPace))]
pub struct Pace {
    /// Teaching days.
    pub days: u32,
    /// Sessions due on them or held in that time, whichever were more each day.
    pub sessions: u32,
    /// Lessons finished in that time.
    pub lessons: u32,
}

/// When a number of lessons will have been taught: the day on which it is as likely as not, and the days
/// between which it is with the rule pack's likelihood. None where the calendar known does not reach so far.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PaceForecast))]
pub struct Forecast {
    /// Not before this day.
    pub earliest: Option<Date>,
    /// As likely before as after.
    pub middle: Option<Date>,
    /// Not after this day.
    pub latest: Option<Date>,
}

/// The forecast for `lessons` more, finished in the sessions to come, in order: the day of each. No lessons more
/// is no forecast.
pub fn forecast(pace: Pace, lessons: u32, to_come: &[Date], rule: &PaceRule) -> Option<Forecast> {
    if lessons == 0 {
        return None;
    }
    let sessions = sessions_needed(pace, lessons, rule, quantiles(rule));
    let on = |sessions: u32| to_come.get(usize::try_from(sessions).ok()?.checked_sub(1)?).copied();
    let [earliest, middle, latest] = sessions.map(on);
    Some(Forecast { earliest, middle, latest })
}

/// The ends of the interval, and the middle.
pub(super) fn quantiles(rule: &PaceRule) -> [f64; 3] {
    let outside = f64::from(100 - u32::from(rule.interval_percent.min(100))) / 200.0;
    [outside, 0.5, 1.0 - outside]
}

/// Quantiles of the sessions until the lessons are finished.
pub(super) fn sessions_needed(pace: Pace, lessons: u32, rule: &PaceRule, quantiles: [f64; 3]) -> [u32; 3] {
    let mut chances = chances(pace, lessons, rule);
    let (mut sessions, mut sum) = (lessons, chances.next().unwrap_or(1.0));
    quantiles.map(|quantile| {
        while sum < quantile {
            let Some(chance) = chances.next() else { break };
            sessions += 1;
            sum += chance;
        }
        sessions
    })
}

/// The chance that the last lesson is finished in each session, from the first in which it can be. Beyond two
/// thousand sessions nothing is told apart.
pub(super) fn chances(pace: Pace, lessons: u32, rule: &PaceRule) -> impl Iterator<Item = f64> {
    let a = rule.sessions_believed_finishing + f64::from(pace.lessons);
    let b = rule.sessions_believed_without + f64::from(pace.sessions.saturating_sub(pace.lessons));
    let n = f64::from(lessons);
    // Every session finishes one; then each session more is one that does not.
    let first: f64 = (0..lessons).map(f64::from).map(|i| (a + i) / (a + b + i)).product();
    (0..2000).map(f64::from).scan(first, move |chance, failures| {
        let this = *chance;
        *chance *= (n + failures) / (failures + 1.0) * (b + failures) / (a + b + n + failures);
        Some(this)
    })
}
