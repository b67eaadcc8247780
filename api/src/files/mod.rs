//! Readers and writers of files: bytes in, core types out.

pub mod roster_csv;
pub mod sequence_csv;
