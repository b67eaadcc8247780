//! Lesson records as they are loaded and saved.

use plumbline_core::{lesson, time::Instant};

use crate::store::{GroupRow, SavedCarriedIn, VersionRow};

/// What stays of a record that another takes the place of.
#[derive(Clone, Copy, Debug)]
pub struct Replaced {
    /// As of the record: set aside, and not settled by this.
    pub aside_v: Option<i64>,
}

/// A lesson record as stored.
#[derive(Clone, Debug)]
pub struct SavedRecord {
    /// The record.
    pub record: lesson::Record,
    /// When it was entered.
    pub at: Instant,
    /// Its version.
    pub v: i64,
    /// The version at which something else was last set aside of it, unless that is settled.
    pub aside_v: Option<i64>,
}

/// What is needed to decide about a group's lessons on a day.
#[derive(Clone, Debug)]
pub struct GroupLessons {
    /// The group.
    pub group: GroupRow,
    /// The version in force that day, if any.
    pub version: Option<VersionRow>,
    /// The group's records, earliest first.
    pub records: Vec<SavedRecord>,
    /// What was carried in for the group as of no later day.
    pub past: Option<SavedCarriedIn>,
}
