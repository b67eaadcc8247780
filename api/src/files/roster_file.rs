//! A pupil file of any sort. What it is, its content says: files get sent under wrong names and
//! media types.

use plumbline_core::{roster::file::Sheet, time::Date};

use super::{
    archive::Archive,
    bounds::FileError,
    delimited, oneroster, transfer_file,
    workbook::{self, is_archive},
};

/// Reads a file; where it dates classes, as they are on a day.
///
/// # Errors
/// What keeps the file from being read at all.
pub fn read(bytes: &[u8], today: Date) -> Result<Sheet, FileError> {
    if is_archive(bytes) {
        return archived(bytes, today);
    }
    if transfer_file::is_xml(bytes) {
        return transfer_file::read(bytes);
    }
    delimited::read(bytes)
}

fn archived(bytes: &[u8], today: Date) -> Result<Sheet, FileError> {
    let mut archive = Archive::open(bytes)?;
    let names = archive.names();
    if names.iter().any(|name| name == oneroster::MANIFEST) {
        return oneroster::read(&mut archive, today);
    }
    let damaged = |what: String| Err(FileError::Damaged(what));
    let inside =
        names.iter().find_map(|name| name.strip_suffix(oneroster::MANIFEST)?.strip_suffix(['/', '\\']));
    if let Some(folder) = inside {
        let folder: String = folder.chars().take(40).collect();
        return damaged(format!(
            "its files stand in the folder {folder}; they must stand at the archive's top"
        ));
    }
    if names.iter().any(|name| name == "users.csv" || name == "enrollments.csv") {
        return damaged(format!("there is no {} in the archive", oneroster::MANIFEST));
    }
    workbook::read(bytes)
}
