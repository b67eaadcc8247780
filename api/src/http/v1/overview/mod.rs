//! The week's list of what wants doing.

pub mod get;
