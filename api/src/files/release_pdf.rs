//! A release as a PDF (ISO 32000, tagged as PDF/UA-1 asks): black on white, at most two sheets of A4 for a school of up
//! to twelve classes, by year group and class. It follows from the release alone: no clock, no chance, no name of whoever asked for it.

mod draw;
mod lay;
mod pages;
#[cfg(test)]
mod tests;
mod text;

use plumbline_core::{report::paper::Paper, time::Date};

/// The media type of a PDF.
pub const MEDIA_TYPE: &str = "application/pdf";

/// Sizes of letters to try, in points: the largest in which it takes two sheets, or the first where none does.
const SIZES: [f32; 3] = [10.0, 9.0, 8.0];
const SHEETS: usize = 2;

/// Why there is no file.
#[derive(Debug, thiserror::Error)]
#[error("a release cannot be written as a PDF: {0}")]
pub struct Unwritten(String);

/// Writes a release of this day.
///
/// # Errors
/// If the file would not be one that everybody can read.
pub fn write(paper: &Paper, day: Date) -> Result<Vec<u8>, Unwritten> {
    let mut setter = text::Setter::new();
    let fits = |items: &Vec<lay::Item>| pages::pages(items).len() <= SHEETS;
    let fitting = SIZES.into_iter().map(|size| lay::lay(paper, size, &mut setter)).find(fits);
    let items = fitting.unwrap_or_else(|| lay::lay(paper, SIZES[0], &mut setter));
    draw::document(paper, day, &pages::pages(&items), &mut setter)
}
