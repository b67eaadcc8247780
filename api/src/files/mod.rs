//! Readers and writers of files: bytes in, core types out.

pub mod book_csv;
mod csv_text;
pub mod roster_csv;
pub mod sequence_csv;
