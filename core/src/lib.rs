//! What Plumbline knows about teaching phonics, and nothing about how it is served.
//!
//! Invariants, absences included:
//! - No clock, no randomness, no I/O: "now", "today" and seeds are arguments, so
//!   nothing here can fail for an outside reason and every answer can be repeated.
//! - A GPC is the pair of grapheme and phoneme; its place in a sequence is not part of it.
//! - Taught is never known: coverage comes from lesson records, attainment from checks.
//! - Unknown is never "not secure", and nought of nought is never a percentage.
//! - A published sequence version never changes; records name the version they used.
//! - Only [`access::policy`] makes a [`access::Grant`]; only [`disclosure`] makes
//!   anything about attainment fit to leave.
//! - Thresholds, codes, calendars and year names are data ([`rules`]), not constants.

pub mod access;
pub mod attainment;
pub mod audit;
#[cfg(feature = "bind")]
mod bind;
pub mod book;
pub mod calendar;
pub mod catch_up;
pub mod check;
pub mod disclosure;
pub mod grouping;
pub mod id;
pub mod lesson;
pub mod pace;
pub mod phonics;
pub mod print;
pub mod report;
pub mod roster;
pub mod rules;
pub mod sequence;
pub mod spreadsheet;
pub mod statutory;
pub mod sync;
pub mod text;
pub mod time;
pub mod trust;
pub mod vocabulary;
