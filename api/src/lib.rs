//! The Plumbline server: HTTP in front, a store behind, [`plumbline_core`] deciding between.

pub mod clock;
pub mod store;
