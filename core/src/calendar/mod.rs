//! The teaching year: half terms, closures, and which days are taught to whom.

mod change;
mod closing;
mod import;
mod timetable;
mod whom;

use serde::{Deserialize, Serialize};

use crate::{
    id::HalfTermId,
    text::{Title, one_name},
    time::{Date, days},
};
use chrono::{Datelike as _, Weekday};

pub use closing::{
    ClosedFor, Closure, ClosureError, ClosureKind, ClosurePlan, DayPart, RecordedLesson, check_closure,
    recorded_and_closed,
};
pub use import::{
    CalendarImport, FOR_CLASSES, FileEvent, Meaning, MeaningError, Meanings, Said, Words, plan_import,
};
pub use timetable::{
    LocalTime, NoTime, Session, Slot, TimetableError, TimetableLine, check_timetable, half_of_slot, has_slot,
    kind_of_slot, lesson_is_for, never_taught, sessions,
};
pub use whom::{Attendance, OwnCalendar, Place, Whom};

crate::vocabulary! {
    /// What a date is to the school.
    pub enum DayKind {
        /// Lessons are due.
        Teaching = "teaching",
        /// Staff training without pupils.
        Inset = "inset",
        /// The school is shut.
        Closure = "closure",
        /// Away together, without lessons.
        Trip = "trip",
        /// Taught at the school, and none of the pupils asked about comes on that day of the week.
        NotDue = "not_due",
        /// Saturday or Sunday inside a half term.
        Weekend = "weekend",
        /// Inside the school year, outside every half term.
        Holiday = "holiday",
        /// In no school year the calendar knows.
        OutOfYear = "out_of_year",
    }
}

crate::vocabulary! {
    /// Half a day.
    pub enum Half {
        /// The first.
        Morning = "morning",
        /// The second.
        Afternoon = "afternoon",
    }
}

/// What the halves of a date are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Halves {
    /// The first.
    pub morning: DayKind,
    /// The second.
    pub afternoon: DayKind,
}

impl Halves {
    /// What the day is: teaching if one half is, otherwise what the morning is, or the afternoon where nobody comes in
    /// the morning.
    pub fn kind(self) -> DayKind {
        match self.morning {
            _ if self.taught().next().is_some() => DayKind::Teaching,
            DayKind::NotDue => self.afternoon,
            morning => morning,
        }
    }

    /// What a half is.
    pub fn of(self, half: Half) -> DayKind {
        if half == Half::Morning { self.morning } else { self.afternoon }
    }

    /// The halves that are taught.
    pub fn taught(self) -> impl Iterator<Item = Half> {
        [(Half::Morning, self.morning), (Half::Afternoon, self.afternoon)]
            .into_iter()
            .filter(|(_, kind)| *kind == DayKind::Teaching)
            .map(|(half, _)| half)
    }
}

/// A school year as typed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct YearPlan {
    /// First day, lessons or not.
    pub starts_on: Date,
    /// Last day.
    pub ends_on: Date,
    /// The half terms, in order.
    pub half_terms: Vec<HalfTermPlan>,
}

/// A half term as typed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct HalfTermPlan {
    /// As shown, such as "Autumn 1".
    pub name: Title,
    /// First day.
    pub starts_on: Date,
    /// Last day.
    pub ends_on: Date,
}

/// A half term.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct HalfTerm {
    /// Its id.
    pub id: HalfTermId,
    /// As shown.
    pub name: Title,
    /// First day.
    pub starts_on: Date,
    /// Last day.
    pub ends_on: Date,
}

/// A school year with its half terms in order.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Year {
    /// The calendar year it starts in.
    pub year: i32,
    /// First day.
    pub starts_on: Date,
    /// Last day.
    pub ends_on: Date,
    /// The half terms, in order.
    pub half_terms: Vec<HalfTerm>,
}

/// What is wrong with a school year.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CalendarError {
    /// A year that no school has.
    #[error("must be 2000 to 2200")]
    Year,
    /// It does not start in the calendar year it is known by.
    #[error("does not lie in this calendar year")]
    StartsElsewhere,
    /// Two half terms have one name.
    #[error("stands twice")]
    Twice {
        /// The field of the later one.
        field: String,
    },
    /// A year or half term ends before it starts.
    #[error("{name} ends before it starts")]
    Reversed {
        /// The field.
        field: String,
        /// Which.
        name: String,
    },
    /// A half term lies outside its year.
    #[error("{name} lies outside the school year")]
    Outside {
        /// The field.
        field: String,
        /// Which.
        name: String,
    },
    /// Two half terms stand in the wrong order.
    #[error("{later} lies before {earlier}: give the half terms in the order of their days")]
    Order {
        /// The field of the one that stands second.
        field: String,
        /// The one that stands first.
        earlier: String,
        /// The one that stands second.
        later: String,
    },
    /// Two half terms share a day.
    #[error("{later} starts before {earlier} has ended")]
    Overlap {
        /// The field of the later one.
        field: String,
        /// The one that stands first.
        earlier: String,
        /// The one that stands second.
        later: String,
    },
    /// It names no half term.
    #[error("names no half term: the year would have no teaching day")]
    NoHalfTerm,
    /// A half term is a weekend.
    #[error("{name} holds no teaching day")]
    NoTeachingDay {
        /// The field.
        field: String,
        /// Which.
        name: String,
    },
    /// What is closed leaves nothing of it.
    #[error("the year would have no teaching day: all its days are closed")]
    AllClosed,
    /// Another school year holds some of the same days.
    #[error("the year shares days with the school year {0}")]
    YearsMeet(i32),
    /// A year cannot be longer than this.
    #[error("a school year lasts at most {0} days")]
    TooLong(i64),
}

impl CalendarError {
    /// The field at fault.
    pub fn field(&self) -> &str {
        match self {
            Self::Reversed { field, .. }
            | Self::Outside { field, .. }
            | Self::Order { field, .. }
            | Self::Overlap { field, .. }
            | Self::NoTeachingDay { field, .. }
            | Self::Twice { field } => field,
            Self::NoHalfTerm | Self::AllClosed => "half_terms",
            Self::Year => "year",
            Self::YearsMeet(_) | Self::StartsElsewhere => "starts_on",
            Self::TooLong(_) => "ends_on",
        }
    }
}

impl CalendarError {
    /// The name of the half term at fault.
    fn half_term(&self) -> Option<&String> {
        match self {
            Self::Reversed { name, .. }
            | Self::Outside { name, .. }
            | Self::NoTeachingDay { name, .. }
            | Self::Order { later: name, .. }
            | Self::Overlap { later: name, .. } => Some(name),
            _ => None,
        }
    }
}

/// The lessons a day can hold: they are told apart by slots, 1 to this.
pub const SLOTS: u8 = 9;

/// Nothing in a calendar lasts longer than this from its first day to its last, in days.
const LONGEST: i64 = 380;

fn longest(from: Date, until: Date) -> Result<(), i64> {
    if until.signed_duration_since(from).num_days() > LONGEST { Err(LONGEST) } else { Ok(()) }
}

fn is_weekend(on: Date) -> bool {
    matches!(on.weekday(), Weekday::Sat | Weekday::Sun)
}

/// Checks a school year against itself and the other years of the school.
///
/// # Errors
/// The first fault, naming both sides where two stand against each other.
pub fn check_year(plan: &YearPlan, year: i32, others: &[Year]) -> Result<(), CalendarError> {
    if !(2000..=2200).contains(&year) {
        return Err(CalendarError::Year);
    }
    if plan.starts_on.year() != year {
        return Err(CalendarError::StartsElsewhere);
    }
    for (n, term) in plan.half_terms.iter().enumerate() {
        if plan.half_terms[..n].iter().any(|earlier| one_name(earlier.name.as_str(), term.name.as_str())) {
            return Err(CalendarError::Twice { field: format!("half_terms[{n}].name") });
        }
    }
    if plan.ends_on < plan.starts_on {
        return Err(CalendarError::Reversed { field: "ends_on".into(), name: "the school year".into() });
    }
    longest(plan.starts_on, plan.ends_on).map_err(CalendarError::TooLong)?;
    if let Some(other) =
        others.iter().find(|o| o.year != year && plan.starts_on <= o.ends_on && o.starts_on <= plan.ends_on)
    {
        return Err(CalendarError::YearsMeet(other.year));
    }
    if plan.half_terms.is_empty() {
        return Err(CalendarError::NoHalfTerm);
    }
    for (n, term) in plan.half_terms.iter().enumerate() {
        let name = term.name.to_string();
        if term.ends_on < term.starts_on {
            return Err(CalendarError::Reversed { field: format!("half_terms[{n}].ends_on"), name });
        }
        if term.starts_on < plan.starts_on || term.ends_on > plan.ends_on {
            return Err(CalendarError::Outside { field: format!("half_terms[{n}]"), name });
        }
        if let Some(earlier) = plan.half_terms[..n].iter().find(|earlier| term.starts_on <= earlier.ends_on) {
            let (field, earlier_name) = (format!("half_terms[{n}].starts_on"), earlier.name.to_string());
            return Err(if term.ends_on < earlier.starts_on {
                CalendarError::Order { field, earlier: earlier_name, later: name }
            } else {
                CalendarError::Overlap { field, earlier: earlier_name, later: name }
            });
        }
        if days(term.starts_on, term.ends_on).all(is_weekend) {
            return Err(CalendarError::NoTeachingDay { field: format!("half_terms[{n}]"), name });
        }
    }
    Ok(())
}

/// The school's whole calendar.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Calendar {
    /// The school years known.
    pub years: Vec<Year>,
    /// What was closed inside half terms.
    pub closures: Vec<Closure>,
}

impl Calendar {
    /// The school year that holds the date.
    pub fn year_of(&self, on: Date) -> Option<&Year> {
        self.years.iter().find(|year| year.starts_on <= on && on <= year.ends_on)
    }

    /// The half term that holds the date.
    pub fn half_term_of(&self, on: Date) -> Option<&HalfTerm> {
        self.year_of(on)?.half_terms.iter().find(|term| term.starts_on <= on && on <= term.ends_on)
    }

    /// The half term with this id.
    pub fn half_term(&self, id: HalfTermId) -> Option<&HalfTerm> {
        self.years.iter().flat_map(|year| &year.half_terms).find(|term| term.id == id)
    }

    /// What the date is to the school, whatever closes it for some.
    pub fn day(&self, on: Date) -> DayKind {
        self.day_for(on, &Whom::default()).kind()
    }

    /// What half a date is to a pupil who is in a place.
    fn half_of(&self, on: Date, half: Half, place: Place<'_>) -> DayKind {
        match self.plain_day(on) {
            DayKind::Teaching => self
                .closed_by(on, half, place)
                .map(|plan| plan.kind)
                .min()
                .map_or(DayKind::Teaching, DayKind::from),
            other => other,
        }
    }

    /// What closes half a date, were it a school day, to a pupil who is in a place.
    fn closed_by<'a>(
        &'a self,
        on: Date,
        half: Half,
        place: Place<'a>,
    ) -> impl Iterator<Item = &'a ClosurePlan> {
        let plans = self.closures.iter().map(|closure| &closure.plan);
        plans.filter(move |plan| {
            let then = plan.from <= on && on <= plan.until && plan.part.halves().any(|one| one == half);
            then && plan.whom.holds(place)
        })
    }

    /// Whether who is in a place is elsewhere in half a date on which the school would teach: their class or year
    /// group is closed.
    fn is_away(&self, on: Date, half: Half, place: Place<'_>) -> bool {
        self.plain_day(on) == DayKind::Teaching
            && self.closed_by(on, half, place).any(|plan| plan.whom != ClosedFor::School)
    }

    /// What the date would be if nothing were closed.
    fn plain_day(&self, on: Date) -> DayKind {
        if self.year_of(on).is_none() {
            DayKind::OutOfYear
        } else if self.half_term_of(on).is_none() {
            DayKind::Holiday
        } else if is_weekend(on) {
            DayKind::Weekend
        } else {
            DayKind::Teaching
        }
    }

    /// The days from one date to another, both included, of which the school teaches at least half.
    pub fn teaching_days(&self, from: Date, to: Date) -> Vec<Date> {
        days(from, to).filter(|day| self.day(*day) == DayKind::Teaching).collect()
    }
}

#[cfg(test)]
mod tests;
