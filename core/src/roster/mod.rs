//! The roster: names, year groups, and what a file of pupils would change.

pub mod file;
mod handover;
mod matching;
mod name;
pub mod optional;
mod plan;
pub mod rollover;
mod row;
mod same;
mod summary;
mod suspect;
mod upn;
mod weekdays;

pub use handover::{HandOverError, hand_over, still_taken};
pub use matching::{Match, Why};
pub use name::{distinguish, shown_name};
pub use plan::{Absent, Apart, Change, Existing, Gone, Held, Plan, Repeat, class_key, plan};
pub use row::{Field, Finding, Row};
pub use same::{Decisions, MergeError, Merging, Verdict, merge};
pub use summary::Summary;
pub use suspect::{Alike, Suspicion, suspects};
pub use upn::{Upn, UpnError};
pub use weekdays::{Weekday, Weekdays, WeekdaysError, comes_on, weekdays_of_both, weekdays_on};
