//! A teaching sequence: steps, their lessons, and the items each lesson teaches.

mod analysis;
mod compare;
mod content;
mod course;
mod draft;
pub mod exchange;
pub(crate) mod label;
mod proposing;

pub use analysis::{Analysis, Finding, KindCount, Severity, analyse};
pub use compare::{Difference, MovedItem, MovedLesson, PlacedItem, Relabelled, RetitledLesson, compare};
pub use content::{Content, Gpc, Item, ItemKind, Lesson, Place, Step};
pub use course::{Course, InTheWay, Published, Turn};
pub use draft::{Draft, DraftItem, DraftLesson, DraftStep, Fault, Known, UNKNOWN_ID, settle};
pub use proposing::{INTERRUPTED, ProposalStatus, SILENT_SECONDS, silent_before};
