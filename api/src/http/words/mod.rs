//! What operations on other nouns say about words.

pub mod draft;
pub mod lesson;
pub mod school;
