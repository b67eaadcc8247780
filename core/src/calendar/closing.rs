//! Closing days: a stretch of days, or half of each, for the school, for year groups or for classes,
//! as one action that is taken back whole.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{Calendar, DayKind, Half, OwnCalendar, Place, TimetableLine, longest, timetable::sessions};
use crate::{
    id::{ClassId, ClosureId},
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

    fn holds(self, other: Self) -> bool {
        self == Self::Whole || self == other
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

    fn covers(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::School, _) => true,
            (Self::YearGroups(these), Self::YearGroups(those)) => those.is_subset(these),
            (Self::Classes(these), Self::Classes(those)) => those.is_subset(these),
            _ => false,
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
    /// One of the days is closed for all of them already.
    #[error("{on} is closed already: {by}")]
    Closed {
        /// The day.
        on: Date,
        /// What closed it.
        by: Box<ClosurePlan>,
    },
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
            Self::Closed { .. } | Self::NoTeachingDay => "from",
        }
    }
}

/// Checks days to close against the calendar as it is.
///
/// # Errors
/// The first fault; a closure that stands in the way is named.
pub fn check_closure(calendar: &Calendar, plan: &ClosurePlan) -> Result<(), ClosureError> {
    if plan.until < plan.from {
        return Err(ClosureError::Reversed);
    }
    longest(plan.from, plan.until).map_err(ClosureError::TooLong)?;
    match &plan.whom {
        ClosedFor::YearGroups(codes) if codes.is_empty() => return Err(ClosureError::Nobody("year_groups")),
        ClosedFor::Classes(ids) if ids.is_empty() => return Err(ClosureError::Nobody("class_ids")),
        _ => {}
    }
    let covers = |other: &&Closure| other.plan.part.holds(plan.part) && other.plan.whom.covers(&plan.whom);
    for closure in calendar.closures.iter().filter(covers) {
        let shared = days(plan.from.max(closure.plan.from), plan.until.min(closure.plan.until));
        if let Some(on) = shared.into_iter().find(|on| calendar.plain_day(*on) == DayKind::Teaching) {
            return Err(ClosureError::Closed { on, by: Box::new(closure.plan.clone()) });
        }
    }
    let places = plan.whom.places();
    let due = |on: Date| {
        let taught =
            |half| places.iter().any(|place| calendar.half_of(on, half, *place) == DayKind::Teaching);
        plan.part.halves().any(taught)
    };
    if days(plan.from, plan.until).any(due) { Ok(()) } else { Err(ClosureError::NoTeachingDay) }
}

/// Of days with lessons of a group on record, those that would not be taught to it with more days closed, or on
/// which fewer lessons would be due.
pub fn recorded_and_closed(
    own: &OwnCalendar,
    lines: &[TimetableLine],
    plans: &[ClosurePlan],
    recorded: &BTreeSet<Date>,
) -> Vec<Date> {
    let mut after = own.clone();
    let closed = |plan: &ClosurePlan| Closure { id: ClosureId::from_uuid(Uuid::nil()), plan: plan.clone() };
    after.calendar.closures.extend(plans.iter().map(closed));
    let taught = |own: &OwnCalendar, on: Date| own.day(on).kind() == DayKind::Teaching;
    let due = |own: &OwnCalendar, on: Date| sessions(own, lines, on, on).len();
    let less = |on: &Date| taught(own, *on) && !taught(&after, *on) || due(&after, *on) < due(own, *on);
    recorded.iter().copied().filter(less).collect()
}

#[cfg(test)]
mod tests;
