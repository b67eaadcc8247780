//! Rules of the teaching year: how groups are made, how their pace is told, how long catch-up takes.

use serde::{Deserialize, Serialize};

use crate::calendar::LocalTime;

/// When the halves of a school day are: lessons of the morning begin before the one time, those of the afternoon
/// not before the other. Between the two it may be either.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub struct SchoolDayRule {
    /// No lesson of the morning begins at this time or later.
    pub morning_before: LocalTime,
    /// No lesson of the afternoon begins before this time.
    pub afternoon_from: LocalTime,
}

/// How the pace of a group is told.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct PaceRule {
    /// How many of the latest teaching days are looked at.
    pub days_looked_at: u32,
    /// How likely the forecast days are to hold, in percent.
    pub interval_percent: u8,
    /// What is believed of a group before any of its sessions is seen: so many that finish a lesson.
    pub sessions_believed_finishing: f64,
    /// And so many without.
    pub sessions_believed_without: f64,
    /// What is planned where nobody has said: so many lessons.
    pub planned_lessons: u32,
    /// In so many teaching days of the group.
    pub planned_days: u32,
    /// From how many teaching days in a row without a record on a group is pointed out.
    pub days_without_record: u32,
    /// From how many teaching days short of its plan on a group is pointed out.
    pub days_short: u32,
    /// From how many items missed and not taught since on a pupil is pointed out.
    pub items_missed: u32,
    /// To be shown with it.
    pub caution: String,
}

impl Eq for PaceRule {}

/// What counts in putting pupils in teaching groups, by item of the sequence. No study says what a good
/// weight is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct GroupingRule {
    /// One item that was not learned and stands before what the group is taught next.
    pub not_learned: u32,
    /// One item taught before, secure or not checked, that the group is still to be taught.
    pub met_again: u32,
    /// One change of group.
    pub change_of_group: u32,
    /// How many lessons of the group from the next on a placement is explained by. What is met again counts to the
    /// end: going back a long way is long to be made good.
    pub lessons_ahead: usize,
    /// Days for which a proposal is kept.
    pub kept_days: u32,
}

/// How catch-up is cut into sets.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub struct CatchUpRule {
    /// Minutes of one set, at most.
    pub minutes: u16,
    /// Minutes one item takes.
    pub minutes_per_item: u16,
    /// Pupils in one set, at most.
    pub pupils_most: usize,
}
