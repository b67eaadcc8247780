//! The roster: names, year groups, and what a file of pupils would change.

pub mod file;
mod matching;
mod name;
mod plan;
mod row;
mod upn;

pub use matching::{Match, Why};
pub use name::{distinguish, shown_name};
pub use plan::{Change, Existing, Held, Plan, Repeat, class_key, plan};
pub use row::{Field, Finding, Row};
pub use upn::{Upn, UpnError};
