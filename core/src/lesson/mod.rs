//! Lessons as they were given: records, the place a group has reached, coverage, and what was
//! taught before the records begin.

mod carried;
mod catch_up;
mod cover;
mod coverage;
mod impact;
mod place;
mod record;
mod register;
mod taught;

pub use carried::{CarriedIn, CarryError, CarryFacts, Extent, Statement, carry_in};
pub use catch_up::{CatchUp, CatchUpFacts, CatchUpReport, catch_up, pupils_under_one_record};
pub use cover::{AdultOfDay, CoverLinkError, CoverLinkFacts, cover_link, who_is_there};
pub use coverage::{ItemCoverage, coverage, days_taught};
pub use impact::{Impact, impact};
pub(crate) use place::is_all_of;
pub use place::{LessonState, NextLesson, items_taught, lessons_left, next_lesson, state};
pub use record::{
    Facts, Mark, Outcome, Record, RecordError, RegisterEntry, Report, Warning, kind_warnings, record,
    record_id,
};
pub use register::{of_the_expected, under_one_record};
pub use taught::rested_on;
