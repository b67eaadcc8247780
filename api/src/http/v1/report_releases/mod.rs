//! Releases: what left of a report, as it left.

pub mod compare;
pub mod export;
pub mod get;
pub mod list;
