//! What may leave. Figures about attainment are made as [`Unreleased`], which cannot be
//! serialised; a grant to read the school's report turns them into [`Internal`], which
//! says on its face that it holds personal data. Figures for wider audiences are [`Released`], which only
//! [`crate::report::release`] makes, by what is decided here.
//!
//! Control is by leaving out: what is about too few pupils ([`decide`]), then what would let that be worked out, judged
//! by what a reader of this and every earlier release can know ([`Known`], [`before`]). Rounding alone protects nothing.

mod bounds;
mod decide;
mod linked;
mod past;
mod shown;
#[cfg(test)]
mod tests;

pub use bounds::{Known, Range};
pub use decide::{Fate, Why, decide};
pub use linked::{AtMost, Before, Breakdown, Cell, Linked};
pub use past::{Past, PastSaid, Population, before, nearly_the_same};
pub use shown::{Percent, PercentIs, could_be, percent, pupils_told, told, wilson};

use serde::Serialize;

use crate::{
    access::{Grant, act::Read, resource::SchoolReport},
    rules::InternalRule,
};

/// Figures nobody has been allowed to see yet.
#[derive(Debug)]
pub struct Unreleased<T>(T);

impl<T> Unreleased<T> {
    pub(crate) const fn new(figures: T) -> Self {
        Self(figures)
    }

    /// For the eyes of a reader the policy allowed, exact and unsuppressed.
    pub fn for_internal_reader(self, _proof: &Grant<Read, SchoolReport>, rule: &InternalRule) -> Internal<T> {
        Internal { audience: Audience::Internal, caution: rule.banner.clone(), figures: self.0 }
    }
}

/// Figures for those who answer for the pupils: exact, not for publication.
#[derive(Debug, Serialize)]
pub struct Internal<T> {
    /// Always `internal`.
    pub audience: Audience,
    /// To be shown with the figures, on screen and on paper.
    pub caution: String,
    /// The figures.
    #[serde(flatten)]
    pub figures: T,
}

/// Figures fit for those they were made for, and for nobody wider.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(transparent)]
pub struct Released<T>(T);

impl<T> Released<T> {
    pub(crate) const fn new(figures: T) -> Self {
        Self(figures)
    }

    /// The figures.
    pub const fn figures(&self) -> &T {
        &self.0
    }
}

impl<T: Serialize> Released<T> {
    /// As kept and handed out: the same figures are the same bytes.
    ///
    /// # Errors
    /// If the figures are no JSON, which none are.
    pub fn canonical(&self) -> Result<String, serde_json::Error> {
        serde_json::to_string(self)
    }
}

crate::vocabulary! {
    /// For whom figures were prepared.
    pub enum Audience {
        /// Staff who answer for these pupils.
        Internal = "internal",
        /// Governors, and staff who may not see every pupil's results.
        Closed = "closed",
        /// Everybody.
        Published = "published",
    }
}
