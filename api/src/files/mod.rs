//! Readers and writers of files: bytes in, core types out.

mod archive;
pub mod book_csv;
pub mod bounds;
pub mod calendar_ics;
pub mod chart;
pub mod csv_text;
pub mod delimited;
pub mod oneroster;
pub mod release_pdf;
pub mod release_workbook;
pub mod roster_file;
pub mod sequence_csv;
pub mod transfer_file;
pub mod workbook;
