//! Lessons as they were given: records, the place a group has reached, and coverage.

mod coverage;
mod place;
mod record;

pub use coverage::{ItemCoverage, coverage};
pub use place::{LessonState, NextLesson, items_taught, next_lesson, state};
pub use record::{
    Facts, Mark, Outcome, Record, RecordError, RegisterEntry, Report, Warning, record, record_id,
};
