//! Reports that leave: what is said of each pupil is frozen on a day, and figures of it are told by disclosure control
//! to those they are for. Who answers for the pupils reads [`crate::attainment::attainment_report`] instead.
//!
//! - A figure is about pupils, never about pairs of pupil and GPC: a measure is met by a pupil, or not, or unknown.
//!   Unknown is in no percentage.
//! - The statutory check is about those who were due for it when it was held, whoever is on roll by now; all else is about
//!   those on roll on the day.
//! - What a release says follows from the cohort, the choice, the rule and the earlier releases alone, so that it is
//!   the same byte for byte each time.

mod cohort;
mod compare;
mod figures;
mod groups;
mod judged;
mod ledger;
mod measure;
mod national;
pub mod paper;
mod progress;
mod release;
#[cfg(test)]
mod tests;
mod whom;

pub use cohort::{Basis, Cohort, Definitions, Line, OfCheck};
pub use compare::{CompareError, ComparedRow, ComparedTable, Differs, Points, compare};
pub use ledger::{PastCell, PastTable};
pub use measure::{LessonDays, LessonsHad, PupilSays, lessons_had, met, secure};
pub use national::{Published, PublishedFigure, PublishedFrom};
pub use progress::{Moved, Progress, ProgressError, ProgressRow, ProgressTable, progress};
pub use release::{By, Choice, Figure, Made, Release, Row, Symbol, Table, exact, release};
pub use whom::CheckTold;
