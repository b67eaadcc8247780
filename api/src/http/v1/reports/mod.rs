//! Reports.

pub mod attainment;
