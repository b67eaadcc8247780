//! What revoked tablets still sent, for the lead to look at.

pub mod discard;
pub mod list;
