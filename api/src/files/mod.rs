//! Readers and writers of files: bytes in, core types out.

mod csv_text;
pub mod roster_csv;
pub mod sequence_csv;
