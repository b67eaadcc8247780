//! The statutory check, as the rule pack describes it: who is to be checked in a window, what may be entered, what
//! a result means, and what is counted. It is given only under that year's official guidance; no words and no
//! answers to single words are known here, and practice is another type.
//!
//! - An outcome is worked out from the result and the threshold each time and kept nowhere, so that a threshold
//!   that comes late or changes is all it takes.
//! - A blank is no result and never 0; a code excludes a mark and has no outcome.
//! - Only pupils with a mark, or a code the pack counts, are in the denominator.

mod eligible;
mod entry;
mod figures;
mod letter;
mod outcome;
mod rule;
mod window;

pub use eligible::{EarlierResult, OfPupil, Reason, Standing, standing};
pub use entry::{Entry, EntryError, Stay, Typed, amendment_reason, entry};
pub use figures::{
    CodeCount, Counted, Figures, MarkCount, NearThreshold, figures, is_in_denominator, met, near_threshold,
};
pub use letter::{LetterText, letter};
pub use outcome::{CheckResult, Outcome, ResultError, Thresholds, read_result};
pub use rule::{
    DerivedCode, EligibleRule, EligibleYear, LetterRule, MethodBreak, NationalPoint, NationalSeries,
    NearThresholdRule, OfficialWindow, ResultCode, StatutoryRule, YearThreshold,
};
pub use window::{WindowDays, WindowError, open_window};
