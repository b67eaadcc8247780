//! What schools of a trust show it, and how that stands side by side.
//!
//! - What leaves a school is cut out of a release it made, and says nothing that release does not: the whole school and
//!   its year groups. No class, no other part, no pupil; what was left out there is left out here.
//! - Schools stand side by side where their sequences teach the same in the same order, or where a school said how its own
//!   maps on to the others'. Whoever does neither is named, with the reason.
//! - No order by a figure, no sum, no average: schools come by name.

mod comparison;
mod fingerprint;
mod shared;
#[cfg(test)]
mod tests;

pub use comparison::{
    Alike, Apart, Comparison, Coverage, Member, NotCompared, TrustLine, TrustRow, TrustSchool, TrustTable,
    compare,
};
pub use fingerprint::{Fingerprint, NoFingerprint};
pub use shared::{MapsOn, NotForTrust, Shared, SharedFigures};
