//! Closing days: a stretch of days, or half of each, for the school, for year groups or for classes,
//! as one action that is taken back whole.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::{
    Calendar, DayKind, Half, OwnCalendar, Place, TimetableLine, longest,
    timetable::{half_of_slot, sessions},
};
use crate::{
    id::{ClassId, ClosureId, PupilId},
    time::{Date, days},
};

crate::vocabulary! {
    /// Why a day inside a half term is not taught.
    pub enum ClosureKind {
        /// Staff training without pupils.
        Inset = "inset",
        /// Shut: weather, building, election.
        Closure = "closure",
        /// Away together, without lessons.
        Trip = "trip",
    }
}

impl From<ClosureKind> for DayKind {
    fn from(kind: ClosureKind) -> Self {
        match kind {
            ClosureKind::Inset => Self::Inset,
            ClosureKind::Closure => Self::Closure,
            ClosureKind::Trip => Self::Trip,
        }
    }
}

crate::vocabulary! {
    /// How much of a day.
    pub enum DayPart {
        /// All of it.
        Whole = "whole",
        /// The first half.
        Morning = "morning",
        /// The second half.
        Afternoon = "afternoon",
    }
}

impl DayPart {
    /// Its halves.
    pub fn halves(self) -> impl Iterator<Item = Half> {
        let holds = move |half: &Half| match half {
            Half::Morning => self != Self::Afternoon,
            Half::Afternoon => self != Self::Morning,
        };
        Half::ALL.iter().copied().filter(holds)
    }
}

/// Who has no lessons.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum ClosedFor {
    /// Everybody.
    School,
    /// The pupils of some year groups, by their codes in the rule pack.
    YearGroups(BTreeSet<String>),
    /// The pupils of some classes.
    Classes(BTreeSet<ClassId>),
}

impl ClosedFor {
    /// Whether a pupil who is there has no lessons.
    pub(super) fn holds(&self, place: Place<'_>) -> bool {
        match self {
            Self::School => true,
            Self::YearGroups(codes) => place.year_group.is_some_and(|code| codes.contains(code)),
            Self::Classes(ids) => place.class.is_some_and(|id| ids.contains(&id)),
        }
    }

    fn places(&self) -> Vec<Place<'_>> {
        match self {
            Self::School => vec![Place::default()],
            Self::YearGroups(codes) => {
                codes.iter().map(|code| Place { year_group: Some(code), ..Place::default() }).collect()
            }
            Self::Classes(ids) => {
                ids.iter().map(|id| Place { class: Some(*id), ..Place::default() }).collect()
            }
        }
    }
}

/// Days to close, as typed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ClosurePlan {
    /// First day.
    pub from: Date,
    /// Last day.
    pub until: Date,
    /// Why.
    pub kind: ClosureKind,
    /// How much of each day.
    pub part: DayPart,
    /// For whom.
    pub whom: ClosedFor,
}

impl std::fmt::Display for ClosurePlan {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} of {}", self.kind, self.from)?;
        if self.until == self.from { Ok(()) } else { write!(f, " to {}", self.until) }
    }
}

/// Days that are closed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Closure {
    /// Its id.
    pub id: ClosureId,
    /// Which days, why and for whom.
    pub plan: ClosurePlan,
}

/// What is wrong with closing days.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ClosureError {
    /// The last day is before the first.
    #[error("is before the first day")]
    Reversed,
    /// Longer than any school year.
    #[error("is more than {0} days after the first")]
    TooLong(i64),
    /// For no year group, or for no class.
    #[error("names nobody; leave it out for the whole school")]
    Nobody(&'static str),
    /// Each of the days on which lessons would be due is closed for all of them already.
    #[error("{on} is closed already: {by}")]
    Closed {
        /// The first of the days.
        on: Date,
        /// What closed it.
        by: Box<ClosurePlan>,
    },
    /// Nothing of a school year would be left.
    #[error("the school year {0} would have no teaching day")]
    WholeYear(i32),
    /// No lessons were due.
    #[error("no lessons are due for any of them then")]
    NoTeachingDay,
}

impl ClosureError {
    /// The field at fault.
    pub const fn field(&self) -> &'static str {
        match self {
            Self::Reversed | Self::TooLong(_) => "until",
            Self::Nobody(field) => field,
            Self::Closed { .. } | Self::WholeYear(_) | Self::NoTeachingDay => "from",
        }
    }
}

/// Checks days to close against the calendar as it is. Answers the days on which lessons would be due and that
/// are closed for all of them already: like a weekend, they stay what they are.
///
/// # Errors
/// The first fault; where nothing is left to close, what closed it is named.
pub fn check_closure(calendar: &Calendar, plan: &ClosurePlan) -> Result<Vec<Date>, ClosureError> {
    if plan.until < plan.from {
        return Err(ClosureError::Reversed);
    }
    longest(plan.from, plan.until).map_err(ClosureError::TooLong)?;
    match &plan.whom {
        ClosedFor::YearGroups(codes) if codes.is_empty() => return Err(ClosureError::Nobody("year_groups")),
        ClosedFor::Classes(ids) if ids.is_empty() => return Err(ClosureError::Nobody("class_ids")),
        _ => {}
    }
    let places = plan.whom.places();
    let taught = |on: &Date| {
        let due = |half| places.iter().any(|place| calendar.half_of(*on, half, *place) == DayKind::Teaching);
        plan.part.halves().any(due)
    };
    let school_days = days(plan.from, plan.until).filter(|on| calendar.plain_day(*on) == DayKind::Teaching);
    let (due, closed): (Vec<Date>, Vec<Date>) = school_days.partition(taught);
    if due.is_empty() {
        let first = closed.first().and_then(|on| {
            let by = |half| places.iter().find_map(|place| calendar.closed_by(*on, half, *place).next());
            Some(ClosureError::Closed { on: *on, by: Box::new(plan.part.halves().find_map(by)?.clone()) })
        });
        return Err(first.unwrap_or(ClosureError::NoTeachingDay));
    }
    match calendar.with_closure(plan).all_closed().difference(&calendar.all_closed()).next() {
        Some(year) => Err(ClosureError::WholeYear(*year)),
        None => Ok(closed),
    }
}

/// A lesson on record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordedLesson {
    /// The day.
    pub on: Date,
    /// First, second ... lesson of the day.
    pub slot: u8,
    /// Who was there.
    pub there: BTreeSet<PupilId>,
}

/// Of days with lessons of a group on record, those that would no longer be taught to it by another calendar, on
/// which a lesson recorded would no longer be due, or on which one who was there would be away. The records say what
/// they said.
pub fn recorded_and_closed(
    now: &OwnCalendar,
    after: &OwnCalendar,
    lines: &[TimetableLine],
    recorded: &[RecordedLesson],
) -> BTreeSet<Date> {
    let taught = |own: &OwnCalendar, on: Date| own.day(on).kind() == DayKind::Teaching;
    let due = |own: &OwnCalendar, lesson: &RecordedLesson| {
        sessions(own, lines, lesson.on, lesson.on).iter().any(|session| session.slot == lesson.slot)
    };
    let less = |lesson: &&RecordedLesson| {
        let on = lesson.on;
        let half = half_of_slot(now, lines, on, lesson.slot);
        let gone = |pupil: &PupilId| now.comes(*pupil, on, half) && !after.comes(*pupil, on, half);
        taught(now, on) && !taught(after, on)
            || due(now, lesson) && !due(after, lesson)
            || lesson.there.iter().any(gone)
    };
    recorded.iter().filter(less).map(|lesson| lesson.on).collect()
}

#[cfg(test)]
mod tests;
mod who_comes;
