//! What may leave. Figures about attainment are made as [`Unreleased`], which cannot be
//! serialised; a grant to read the school's report turns them into [`Internal`], which
//! says on its face that it holds personal data. Releases to wider audiences pass
//! disclosure control and are not made yet.

use serde::Serialize;

use crate::access::{Grant, act::Read, resource::SchoolReport};

/// Figures nobody has been allowed to see yet.
#[derive(Debug)]
pub struct Unreleased<T>(T);

impl<T> Unreleased<T> {
    pub(crate) const fn new(figures: T) -> Self {
        Self(figures)
    }

    /// For the eyes of a reader the policy allowed, exact and unsuppressed.
    pub fn for_internal_reader(self, _proof: &Grant<Read, SchoolReport>) -> Internal<T> {
        Internal { audience: Audience::Internal, caution: CAUTION, figures: self.0 }
    }
}

/// Figures for those who answer for the pupils: exact, not for publication.
#[derive(Debug, Serialize)]
pub struct Internal<T> {
    /// Always `internal`.
    pub audience: Audience,
    /// To be shown with the figures, on screen and on paper.
    pub caution: &'static str,
    /// The figures.
    #[serde(flatten)]
    pub figures: T,
}

const CAUTION: &str = "Contains personal data, do not publish. Small numbers: read with care.";

crate::vocabulary! {
    /// For whom figures were prepared.
    pub enum Audience {
        /// Staff who answer for these pupils.
        Internal = "internal",
    }
}
