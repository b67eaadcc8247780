//! Links that open a group's cover page on one day without an account.

pub mod create;
pub mod list;
pub mod revoke;
