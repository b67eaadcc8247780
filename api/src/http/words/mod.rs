//! What operations on other nouns say about words.

pub mod book;
pub mod check;
pub mod draft;
pub mod lesson;
pub mod school;
pub mod told;

use plumbline_core::time::Date;
use uuid::Uuid;

/// A seed that is the same at each look and another on each day: of a group, or of a pupil.
pub fn daily_seed(id: Uuid, on: Date) -> u64 {
    let (high, low) = id.as_u64_pair();
    let day = on.signed_duration_since(Date::default()).num_days().unsigned_abs();
    high ^ low.rotate_left(17) ^ day.wrapping_mul(0x9e37_79b9_7f4a_7c15)
}
