//! Devices that work offline: what they hold, what they sent, and how far they have read.
//!
//! The server keeps a feed for each unit of visibility, a scope: the latest change of each record, by the version of
//! the school it was made in. A device keeps one cursor a scope. [`plan`] says from which cursors a pull goes on,
//! [`advance`] how far it came, [`receive`] what becomes of an operation by its number. Here is no store and no clock:
//! `model` plays devices against a store in memory, with faults put in, in thousands of schedules.

mod cursor;
#[cfg(test)]
mod model;
mod op;
mod pulling;

pub use cursor::{Cursor, CursorError, Place, Rec};
pub use op::{Receipt, receive};
pub use pulling::{Advance, Plan, advance, plan};
