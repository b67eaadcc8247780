//! The teaching year: half terms, closures, and which days are taught.

use serde::{Deserialize, Serialize};

use crate::{
    id::{ClosureId, HalfTermId},
    text::Title,
    time::{Date, days},
};
use chrono::{Datelike as _, Weekday};

crate::vocabulary! {
    /// Why a day inside a half term is not taught.
    pub enum ClosureKind {
        /// Staff training without pupils.
        Inset = "inset",
        /// The school is shut: weather, building, election.
        Closure = "closure",
    }
}

crate::vocabulary! {
    /// What a date is to the school.
    pub enum DayKind {
        /// Lessons are due.
        Teaching = "teaching",
        /// Staff training without pupils.
        Inset = "inset",
        /// The school is shut.
        Closure = "closure",
        /// Saturday or Sunday inside a half term.
        Weekend = "weekend",
        /// Inside the school year, outside every half term.
        Holiday = "holiday",
        /// In no school year the calendar knows.
        OutOfYear = "out_of_year",
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

/// A day without lessons inside a half term.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Closure {
    /// Its id.
    pub id: ClosureId,
    /// The day.
    pub on: Date,
    /// Why.
    pub kind: ClosureKind,
}

/// What is wrong with a school year.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CalendarError {
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
    /// Two half terms share a day, or stand in the wrong order.
    #[error("{later} starts before {earlier} has ended")]
    Overlap {
        /// The field of the later one.
        field: String,
        /// The one that stands first.
        earlier: String,
        /// The one that stands second.
        later: String,
    },
    /// Another school year holds some of the same days.
    #[error("the year shares days with the school year {0}")]
    YearsMeet(i32),
    /// A year cannot be longer than this.
    #[error("a school year lasts at most 380 days")]
    TooLong,
}

impl CalendarError {
    /// The field at fault.
    pub fn field(&self) -> &str {
        match self {
            Self::Reversed { field, .. } | Self::Outside { field, .. } | Self::Overlap { field, .. } => field,
            Self::YearsMeet(_) => "starts_on",
            Self::TooLong => "ends_on",
        }
    }
}

/// Checks a school year against itself and the other years of the school.
///
/// # Errors
/// The first fault, naming both sides where two stand against each other.
pub fn check_year(plan: &YearPlan, year: i32, others: &[Year]) -> Result<(), CalendarError> {
    if plan.ends_on < plan.starts_on {
        return Err(CalendarError::Reversed { field: "ends_on".into(), name: "the school year".into() });
    }
    if plan.ends_on.signed_duration_since(plan.starts_on).num_days() > 380 {
        return Err(CalendarError::TooLong);
    }
    if let Some(other) =
        others.iter().find(|o| o.year != year && plan.starts_on <= o.ends_on && o.starts_on <= plan.ends_on)
    {
        return Err(CalendarError::YearsMeet(other.year));
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
            return Err(CalendarError::Overlap {
                field: format!("half_terms[{n}].starts_on"),
                earlier: earlier.name.to_string(),
                later: name,
            });
        }
    }
    Ok(())
}

/// The school's whole calendar.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Calendar {
    /// The school years known.
    pub years: Vec<Year>,
    /// The days without lessons inside half terms.
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

    /// What the date is to the school.
    pub fn day(&self, on: Date) -> DayKind {
        if self.year_of(on).is_none() {
            DayKind::OutOfYear
        } else if self.half_term_of(on).is_none() {
            DayKind::Holiday
        } else if matches!(on.weekday(), Weekday::Sat | Weekday::Sun) {
            DayKind::Weekend
        } else {
            match self.closures.iter().find(|closure| closure.on == on).map(|closure| closure.kind) {
                None => DayKind::Teaching,
                Some(ClosureKind::Inset) => DayKind::Inset,
                Some(ClosureKind::Closure) => DayKind::Closure,
            }
        }
    }

    /// The teaching days from one date to another, both included.
    pub fn teaching_days(&self, from: Date, to: Date) -> Vec<Date> {
        days(from, to).filter(|day| self.day(*day) == DayKind::Teaching).collect()
    }
}

#[cfg(test)]
mod tests;
