//! The Plumbline server: HTTP in front, a store behind, [`plumbline_core`] deciding between.

pub mod auth;
pub mod cli;
pub mod clock;
pub mod config;
pub mod demo;
pub mod files;
mod housekeeping;
pub mod http;
pub mod proposer;
mod remote;
mod stopping;
pub mod store;
pub mod telemetry;
pub mod tls;
