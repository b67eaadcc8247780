//! What a group was to have taught by a day, and what it has.

use serde::{Deserialize, Serialize};

use super::delivery::Finished;
use crate::{calendar::SLOTS, time::Date};

/// From a day on, so many lessons in so many teaching days of the group. It is a rate and no date: a day, or a
/// lesson of one, that turns out not to be due moves what comes after it, and puts nobody behind.
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

    /// Lessons planned for these teaching days, each as far as its lessons were due.
    pub fn lessons_in(self, days: &[Due]) -> u32 {
        let parts: u64 = days.iter().map(|day| day.parts()).sum();
        let lessons = Due::lessons_at(parts, self.lessons.into(), self.days.max(1).into());
        u32::try_from(lessons).unwrap_or(u32::MAX)
    }
}

/// The lessons due for a group on a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Due {
    /// The day.
    pub on: Date,
    /// How many are due, at least 1.
    pub lessons: u32,
    /// How many would be, were no half of the day closed; no fewer, and no more than a day can hold.
    pub of: u32,
}

impl Due {
    /// A day in parts that every number of lessons divides: the least common multiple of 1 to 9.
    const PARTS: u64 = 2520;

    /// A whole day.
    pub const fn whole(on: Date, lessons: u32) -> Self {
        Self { on, lessons, of: lessons }
    }

    /// How much of the day it is, in those parts.
    pub(super) fn parts(self) -> u64 {
        let of = self.of.max(self.lessons).max(1);
        Self::PARTS * u64::from(self.lessons) / u64::from(of)
    }

    /// How many lessons so many parts hold, at so many lessons in so many days.
    pub(super) const fn lessons_at(parts: u64, lessons: u64, in_days: u64) -> u64 {
        parts * lessons / (Self::PARTS * in_days)
    }
}

/// Planned against finished.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PaceStanding))]
pub struct Standing {
    /// First day counted.
    pub since: Date,
    /// Teaching days of the group since then; the day itself counts once something is recorded for it.
    pub days: u32,
    /// Lessons planned for them, a day with fewer lessons due than by the timetable in proportion; never more than
    /// there were to teach.
    pub planned: u32,
    /// Lessons finished in that time.
    pub finished: u32,
    /// Lessons finished beyond those planned; negative where fewer were.
    pub lessons_ahead: i32,
    /// The same in teaching days of the plan, to the nearest: how many the group is past it or short of it.
    pub days_ahead: i32,
}

/// How a group stands by a plan on the teaching days counted; `left_at_start` lessons were to teach on the
/// plan's first day.
pub fn standing(plan: Plan, days: &[Due], finished: &[Finished], left_at_start: u32) -> Standing {
    let count = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
    let passed: Vec<Due> = days.iter().filter(|day| day.on >= plan.from).copied().collect();
    let done = count(finished.iter().filter(|one| one.on >= plan.from).count());
    let planned = plan.lessons_in(&passed).min(left_at_start);
    let ahead = i64::from(done) - i64::from(planned);
    let (lessons, in_days) = (i64::from(plan.lessons.max(1)), i64::from(plan.days));
    // Rounded to the nearest day, half a day towards "behind".
    let days_ahead = -(lessons - 2 * ahead * in_days).div_euclid(2 * lessons);
    let small = |number: i64| i32::try_from(number).unwrap_or(if number < 0 { i32::MIN } else { i32::MAX });
    Standing {
        since: plan.from,
        days: count(passed.len()),
        planned,
        finished: done,
        lessons_ahead: small(ahead),
        days_ahead: small(days_ahead),
    }
}
