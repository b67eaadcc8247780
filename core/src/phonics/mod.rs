//! The phonics engine.
pub mod align;
pub mod context;
mod data;
pub mod gpc;
pub mod grapheme;
pub mod inventory;
pub mod phoneme;
pub mod unit;

pub use data::DataError;
