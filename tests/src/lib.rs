//! What the tests use: the served binary, over HTTP, on a store of its own.
//!
//! `PLUMBLINE_TEST_STORE` says which store (`sqlite` unless told, or `postgres` with an
//! administrator's URL in `PLUMBLINE_TEST_PG`), `PLUMBLINE_BIN` which binary.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::missing_panics_doc)]

mod alder;
mod browser;
mod class_round;
mod client;
mod database;
mod document;
mod engine;
mod events;
mod line;
mod replica;
mod school;
mod server;
pub mod shown;
mod steps;
mod sync_client;
mod token;
mod told;

pub use alder::Alder;
pub use browser::Browser;
pub use class_round::ClassRound;
pub use client::{Answer, Client, header};
pub use database::Database;
pub use document::{Document, Operation};
pub use engine::Engine;
pub use events::Events;
pub use line::{Line, Weather};
pub use replica::{Replica, new_id};
pub use school::{Pupils, School, TODAY};
pub use serde_json::{Value, json};
pub use server::{Server, binary, run};
pub use steps::{calendar_file, column, held_op, item_ids, lesson_ids, text};
pub use sync_client::{Device, Fault, Kept, Op, Record, Stop};
pub use token::Forge;
pub use told::ClassTold;
