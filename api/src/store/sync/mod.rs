//! Devices that work offline: who works on them, what they sent, and what they are given.
//!
//! A pull gives changes of whole scopes; what stands in them is loaded kind by kind ([`records`], [`learning`]), one
//! query or few for a page. A pull's ids come from the change log alone, and only of scopes the policy lets the reader
//! hold.

mod backup;
mod compact;
mod kinds;
mod learning;
mod ops;
mod places;
mod pull;
mod records;
mod replica;

pub use kinds::RecordKind;
pub use learning::AnsweringNow;
pub use ops::{AnsweredOp, NewOp};
pub(super) use places::member_id;
pub use pull::{Pulled, PulledRow};
pub use records::{ClassNow, GroupNow, MemberNow};
pub use replica::{Arrival, ReplicaRow};
