//! A zip archive that is not trusted: few entries, and no more bytes than allowed, whatever the
//! archive says of itself.

use std::{
    borrow::Cow,
    io::{BufReader, Cursor, Read},
};

use super::bounds::{FileError, MOST_ENTRIES, MOST_UNPACKED};

/// An archive, with how much may still be unpacked.
pub struct Archive<'a> {
    zip: zip::ZipArchive<Cursor<&'a [u8]>>,
    left: u64,
}

impl<'a> Archive<'a> {
    /// Opens an archive.
    ///
    /// # Errors
    /// [`FileError::Damaged`], or [`FileError::Unpacked`] by what it says of itself.
    pub fn open(bytes: &'a [u8]) -> Result<Self, FileError> {
        let mut zip = zip::ZipArchive::new(Cursor::new(bytes))
            .map_err(|error| FileError::Damaged(error.to_string()))?;
        let mut said: u64 = 0;
        for n in 0..zip.len().min(MOST_ENTRIES) {
            said = said.saturating_add(zip.by_index_raw(n).map_or(0, |entry| entry.size()));
        }
        if zip.len() > MOST_ENTRIES || said > MOST_UNPACKED {
            return Err(FileError::Unpacked);
        }
        Ok(Self { zip, left: MOST_UNPACKED })
    }

    /// The names of the entries, without those that are no text.
    pub fn names(&self) -> Vec<String> {
        self.zip.file_names().flatten().map(Cow::into_owned).collect()
    }

    /// Reads an entry with a function that sees no more than may still be unpacked; none where
    /// there is no such entry.
    ///
    /// # Errors
    /// What the function answers, or [`FileError::Unpacked`] where the entry holds more.
    pub fn read<T>(
        &mut self,
        name: &str,
        with: impl FnOnce(&mut dyn std::io::BufRead) -> Result<T, FileError>,
    ) -> Result<Option<T>, FileError> {
        let entry = match self.zip.by_name(name) {
            Ok(entry) => entry,
            Err(zip::result::ZipError::FileNotFound) => return Ok(None),
            Err(error) => return Err(FileError::Damaged(error.to_string())),
        };
        // One byte more than allowed, so that reaching the end tells which.
        let mut bounded = BufReader::new(entry.take(self.left + 1));
        let found = with(&mut bounded);
        let used = (self.left + 1).saturating_sub(bounded.get_ref().limit());
        if used > self.left {
            return Err(FileError::Unpacked);
        }
        self.left -= used;
        found.map(Some)
    }
}
