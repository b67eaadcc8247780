//! Proposing a sequence: a beam search for an order that unlocks words children know early, keeps
//! confusable pairs apart and does not open like an order in common use.
//!
//! [`Search::new`] checks the [`Constraints`]; [`Search::run`] takes from under a second to minutes,
//! by their size, tells how far it is and can be stopped. A [`Proposal`] says what it achieves and
//! which constraints it could not keep; [`Proposal::draft`] makes it a draft for a person to edit.

mod constraints;
mod draft;
mod figures;
mod ideas;
mod opening;
mod search;

pub use constraints::{Constraints, MOST_BEAM, MOST_STEPS};
pub use draft::{Proposed, exception_title};
pub use figures::Figures;
pub use opening::opens_familiar;
pub use search::Search;

use super::sequence::Sequence;

/// A proposed order, exception words placed, for a person to edit.
#[derive(Debug, Clone)]
pub struct Proposal {
    /// The steps, one idea each.
    pub sequence: Sequence,
    /// What it achieves.
    pub figures: Figures,
}

/// How far a search is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Progress {
    /// The part that is done, 0 to 1.
    pub done: f64,
    /// The step being filled, from 1.
    pub step: usize,
    /// Of how many.
    pub steps: usize,
}
