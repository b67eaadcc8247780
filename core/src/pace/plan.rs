//! What a group was to have taught by a day, and what it has.

use serde::{Deserialize, Serialize};

use super::delivery::Finished;
use crate::{calendar::SLOTS, time::Date};

/// From a day on, so many lessons in so many teaching days of the group. It is a rate and no date: a day that
/// turns out not to be taught moves what comes after it, and puts nobody behind.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Plan {
    /// First day.
    pub from: Date,
    /// Lessons, at least 1.
    pub lessons: u32,
    /// In so many teaching days, at least 1.
    pub days: u32,
}

/// Why a plan is refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PlanError {
    /// No lessons, or more than can be meant.
    #[error("must be 1 to {0}")]
    Lessons(u32),
    /// No days, or more than a year has.
    #[error("must be 1 to 400")]
    Days,
}

impl PlanError {
    /// The field at fault.
    pub const fn field(self) -> &'static str {
        match self {
            Self::Lessons(_) => "lessons",
            Self::Days => "days",
        }
    }
}

/// What a day can hold.
pub(super) const LESSONS_A_DAY: u32 = SLOTS as u32;

impl Plan {
    /// A plan somebody typed.
    ///
    /// # Errors
    /// If it plans nothing, or more lessons than days can hold.
    pub fn new(from: Date, lessons: u32, days: u32) -> Result<Self, PlanError> {
        if !(1..=400).contains(&days) {
            return Err(PlanError::Days);
        }
        if !(1..=days * LESSONS_A_DAY).contains(&lessons) {
            return Err(PlanError::Lessons(days * LESSONS_A_DAY));
        }
        Ok(Self { from, lessons, days })
    }

    /// Lessons planned for the first so many teaching days.
    pub fn lessons_in(self, days: u32) -> u32 {
        let lessons = u64::from(days) * u64::from(self.lessons) / u64::from(self.days.max(1));
        u32::try_from(lessons).unwrap_or(u32::MAX)
    }
}

/// Planned against finished.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PaceStanding))]
pub struct Standing {
    /// First day counted.
    pub since: Date,
    /// Teaching days of the group since then.
    pub days: u32,
    /// Lessons planned for them; never more than there were to teach.
    pub planned: u32,
    /// Lessons finished in that time.
    pub finished: u32,
    /// Lessons finished beyond those planned; negative where fewer were.
    pub lessons_ahead: i32,
    /// The same in teaching days of the plan: how many the group is past it or short of it.
    pub days_ahead: i32,
}

/// How a group stands by a plan on the teaching days counted; `left_at_start` lessons were to teach on the
/// plan's first day.
pub fn standing(plan: Plan, days: &[Date], finished: &[Finished], left_at_start: u32) -> Standing {
    let count = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
    let passed = count(days.iter().filter(|day| **day >= plan.from).count());
    let done = count(finished.iter().filter(|one| one.on >= plan.from).count());
    let planned = plan.lessons_in(passed).min(left_at_start);
    let ahead = i64::from(done) - i64::from(planned);
    let (lessons, in_days) = (i64::from(plan.lessons.max(1)), i64::from(plan.days));
    // Rounded towards "behind": half a lesson short is a day short.
    let days_ahead = (ahead * in_days).div_euclid(lessons);
    let small = |number: i64| i32::try_from(number).unwrap_or(if number < 0 { i32::MIN } else { i32::MAX });
    Standing {
        since: plan.from,
        days: passed,
        planned,
        finished: done,
        lessons_ahead: small(ahead),
        days_ahead: small(days_ahead),
    }
}
