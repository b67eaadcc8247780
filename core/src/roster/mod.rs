//! The roster: names, year groups, and what a file of pupils would change.

mod import;
mod matching;
mod name;

pub use import::{Change, Existing, Field, Finding, Plan, Row, class_key, plan};
pub use name::{distinguish, shown_name};
