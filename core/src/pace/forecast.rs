//! When a group will have been taught a number of lessons more, by its own record.
//!
//! The model: on each of its teaching days a group finishes a lesson or it does not, each day with the
//! same chance, which is not known and is learned from the days so far. With a beta distribution for the
//! chance, the number of days until `n` lessons are finished has the beta negative binomial distribution
//! (N. L. Johnson, A. W. Kemp and S. Kotz, "Univariate Discrete Distributions", 3rd edition, 2005, section
//! 6.2.3), which holds both what chance does to the days to come and how little is known of the group.
//! It knows nothing of illness that lasts or of plans to hurry: it says what comes if nothing changes.

use serde::{Deserialize, Serialize};

use crate::{rules::PaceRule, time::Date};

/// What a group did on its latest teaching days.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = GroupPace))]
pub struct Pace {
    /// Teaching days.
    pub days: u32,
    /// Days on which a lesson was finished.
    pub days_with_lesson: u32,
    /// Lessons finished on them.
    pub lessons: u32,
}

impl Pace {
    /// Counts the days looked at: for each teaching day, how many lessons were finished.
    pub fn of(lessons_by_day: impl IntoIterator<Item = u32>) -> Self {
        let mut pace = Self::default();
        for lessons in lessons_by_day {
            pace.days += 1;
            pace.days_with_lesson += u32::from(lessons > 0);
            pace.lessons += lessons;
        }
        pace
    }
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

/// The forecast for `lessons` more, finished on the teaching days to come, in order. No lessons more is no
/// forecast.
pub fn forecast(pace: Pace, lessons: u32, to_come: &[Date], rule: &PaceRule) -> Option<Forecast> {
    if lessons == 0 {
        return None;
    }
    // Days that finish lessons, by how many such a day has finished so far.
    let successes = match pace.days_with_lesson {
        0 => lessons,
        days => (lessons * days).div_ceil(pace.lessons.max(1)).max(1),
    };
    let days = days_needed(pace, successes, rule, quantiles(rule));
    let on = |days: u32| to_come.get(usize::try_from(days).ok()?.checked_sub(1)?).copied();
    let [earliest, middle, latest] = days.map(on);
    Some(Forecast { earliest, middle, latest })
}

/// The ends of the interval, and the middle.
pub(super) fn quantiles(rule: &PaceRule) -> [f64; 3] {
    let outside = f64::from(100 - u32::from(rule.interval_percent.min(100))) / 200.0;
    [outside, 0.5, 1.0 - outside]
}

/// Quantiles of the days until the successes.
pub(super) fn days_needed(pace: Pace, successes: u32, rule: &PaceRule, quantiles: [f64; 3]) -> [u32; 3] {
    let mut chances = chances(pace, successes, rule);
    let (mut days, mut sum) = (successes, chances.next().unwrap_or(1.0));
    quantiles.map(|quantile| {
        while sum < quantile {
            let Some(chance) = chances.next() else { break };
            days += 1;
            sum += chance;
        }
        days
    })
}

/// The chance that the last success comes on each day, from the first on which it can. Beyond two thousand
/// days nothing is told apart.
pub(super) fn chances(pace: Pace, successes: u32, rule: &PaceRule) -> impl Iterator<Item = f64> {
    let a = rule.days_believed_with_lesson + f64::from(pace.days_with_lesson);
    let b = rule.days_believed_without + f64::from(pace.days - pace.days_with_lesson);
    let n = f64::from(successes);
    // Every day brings one; then each day more is one that does not.
    let first: f64 = (0..successes).map(f64::from).map(|i| (a + i) / (a + b + i)).product();
    (0..2000).map(f64::from).scan(first, move |chance, failures| {
        let this = *chance;
        *chance *= (n + failures) / (failures + 1.0) * (b + failures) / (a + b + n + failures);
        Some(this)
    })
}
