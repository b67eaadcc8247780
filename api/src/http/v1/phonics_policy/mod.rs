//! What the school counts as taught, and its accent.

pub mod get;
pub mod save;
