//! What the tests use: the served binary, over HTTP, on a store of its own.
//!
//! `PLUMBLINE_TEST_STORE` says which store (`sqlite` unless told, or `postgres` with an
//! administrator's URL in `PLUMBLINE_TEST_PG`), `PLUMBLINE_BIN` which binary.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::missing_panics_doc)]

mod class_round;
mod client;
mod database;
mod document;
mod school;
mod server;
mod steps;
mod token;

pub use class_round::ClassRound;
pub use client::{Answer, Client, header};
pub use database::Database;
pub use document::{Document, Operation};
pub use school::{Pupils, School, TODAY};
pub use serde_json::{Value, json};
pub use server::{Server, binary, run};
pub use steps::{column, item_ids, lesson_ids, text};
pub use token::Forge;
