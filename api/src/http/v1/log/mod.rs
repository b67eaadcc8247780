//! The audit log.

pub mod list;
