//! Where the demonstration lives: a folder of its own, kept or gone at the end.

use crate::cli::migrate::private_folder;
use std::{
    fs, io,
    path::{Path, PathBuf},
};

use plumbline_core::time::Date;
use serde::{Deserialize, Serialize};

use super::Failure;

/// File that tells a demonstration's folder from any other.
const MARKER: &str = "demo.json";
const FORMAT: u32 = 1;

/// What a finished demonstration left in its folder.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Marker {
    pub(super) format: u32,
    /// The school made.
    pub(super) school: String,
    /// The seed it was made with.
    pub(super) seed: u64,
    /// The school's day when it was made.
    pub(super) today: Date,
    /// Whether that day was given and stays the school's today.
    pub(super) fixed: bool,
    /// The half term reported.
    pub(super) half_term_id: String,
    /// The day of the report.
    pub(super) as_of: Date,
}

impl Marker {
    pub(super) fn new(school: &str, seed: u64, today: Date, fixed: bool) -> Self {
        let (school, half_term_id) = (school.to_owned(), String::new());
        Self { format: FORMAT, school, seed, today, fixed, half_term_id, as_of: today }
    }
}

/// The folder, open.
#[derive(Debug)]
pub(super) struct Folder {
    path: PathBuf,
    temporary: bool,
}

/// What a folder is to a demonstration.
#[derive(Debug)]
pub(super) enum Found {
    /// Empty, or not there before.
    New(Folder),
    /// Holds a finished demonstration.
    Made(Folder, Marker),
}

impl Folder {
    /// A folder to keep. One that holds anything but this school's demonstration is refused
    /// untouched.
    pub(super) fn open(path: &Path, school: &str) -> Result<Found, Failure> {
        let shown = path.display();
        let folder = Self { path: path.to_owned(), temporary: false };
        match fs::read_to_string(path.join(MARKER)) {
            Ok(text) => {
                let marker: Marker = serde_json::from_str(&text)
                    .map_err(|_| format!("{shown}: {MARKER} was not written by this version"))?;
                if marker.format != FORMAT {
                    return Err(format!("{shown}: {MARKER} was not written by this version").into());
                }
                if marker.school != school {
                    return Err(format!("{shown} holds another school, {}", marker.school).into());
                }
                return Ok(Found::Made(folder, marker));
            }
            Err(error) if error.kind() == io::ErrorKind::NotFound => {}
            Err(error) => return Err(format!("{shown}: {error}").into()),
        }
        match fs::read_dir(path).map(|mut entries| entries.next().is_none()) {
            Ok(true) => {}
            Ok(false) if path.join("plumbline.db").exists() => {
                return Err(format!(
                    "{shown} holds a store that is no finished demonstration; give an empty or new folder"
                )
                .into());
            }
            Ok(false) => return Err(format!("{shown} is not empty; give an empty or new folder").into()),
            Err(error) if error.kind() == io::ErrorKind::NotFound => create(path)?,
            Err(error) => return Err(format!("{shown}: {error}").into()),
        }
        Ok(Found::New(folder))
    }

    /// A folder that is gone when dropped.
    pub(super) fn temporary() -> Result<Self, Failure> {
        let path = std::env::temp_dir().join(format!("plumbline-demo-{}", uuid::Uuid::now_v7().simple()));
        create(&path)?;
        Ok(Self { path, temporary: true })
    }

    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    pub(super) const fn is_temporary(&self) -> bool {
        self.temporary
    }

    /// Marks the demonstration as finished.
    pub(super) fn mark(&self, marker: &Marker) -> Result<(), Failure> {
        write_whole(&self.path.join(MARKER), &serde_json::to_string_pretty(marker)?)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        if self.temporary
            && let Err(error) = fs::remove_dir_all(&self.path)
        {
            eprintln!("plumbline: {} is left behind: {error}", self.path.display());
        }
    }
}

/// Makes a folder that nobody else may read.
fn create(path: &Path) -> Result<(), Failure> {
    Ok(private_folder(path).map_err(|error| format!("{}: {error}", path.display()))?)
}

/// Writes a file so that a reader finds all of it or none, and no other user reads it.
pub(super) fn write_whole(path: &Path, text: &str) -> Result<(), Failure> {
    let mut aside = path.as_os_str().to_owned();
    aside.push(".new");
    let aside = PathBuf::from(aside);
    let mut options = fs::OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options
        .open(&aside)
        .and_then(|mut file| {
            io::Write::write_all(&mut file, format!("{text}\n").as_bytes())?;
            file.sync_all()
        })
        .and_then(|()| fs::rename(&aside, path))
        .map_err(|error| format!("{}: {error}", path.display()))?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn marker(school: &str) -> Marker {
        Marker::new(school, 1, "2026-11-25".parse().unwrap(), true)
    }

    #[test]
    fn a_kept_folder_is_made_and_found_again() {
        let parent = Folder::temporary().unwrap();
        let path = parent.path().join("a/b");
        let Found::New(folder) = Folder::open(&path, "Marrowby").unwrap() else { panic!("not new") };
        folder.mark(&marker("Marrowby")).unwrap();
        drop(folder);
        let Found::Made(_, found) = Folder::open(&path, "Marrowby").unwrap() else { panic!("not found") };
        assert_eq!(found, marker("Marrowby"));
        let other = Folder::open(&path, "Farholt").unwrap_err().to_string();
        assert!(other.contains("holds another school, Marrowby"), "{other}");
    }

    #[test]
    fn other_folders_are_refused() {
        let folder = Folder::temporary().unwrap();
        fs::write(folder.path().join("letter.txt"), "x").unwrap();
        let refused = || Folder::open(folder.path(), "Marrowby").unwrap_err().to_string();
        assert!(refused().contains("is not empty"));
        fs::write(folder.path().join("plumbline.db"), "x").unwrap();
        assert!(refused().contains("holds a store"));
        fs::write(folder.path().join(MARKER), "{}").unwrap();
        assert!(refused().contains("not written by this version"));
    }

    #[test]
    fn a_temporary_folder_is_gone_afterwards() {
        let folder = Folder::temporary().unwrap();
        let path = folder.path().to_owned();
        assert!(path.is_dir());
        drop(folder);
        assert!(!path.exists());
    }
}
