//! `manifest.csv`: which version the archive follows, and how each file is to be taken.

use std::{collections::BTreeMap, io::BufRead};

use super::table::{self, Columns, Table};
use crate::files::bounds::FileError;

/// Its name.
pub const FILE: &str = "manifest.csv";

/// Its columns.
const COLUMNS: Columns = Columns { all: &["propertyName", "value"], more: false };

/// A version of the binding that is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Version {
    /// 1.1: a user's role stands with the user.
    V1_1,
    /// 1.2: roles are a file of their own.
    V1_2,
}

impl Version {
    /// As written.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::V1_1 => "1.1",
            Self::V1_2 => "1.2",
        }
    }
}

/// How a file is to be taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// It holds everything.
    Bulk,
    /// It holds what has changed.
    Delta,
}

/// What a manifest says.
pub struct Manifest {
    /// The version of the binding.
    pub version: Version,
    files: BTreeMap<String, Option<Mode>>,
}

impl Manifest {
    /// Reads it.
    ///
    /// # Errors
    /// What is missing or not as the standard says, by line.
    pub fn read(reader: &mut dyn BufRead) -> Result<Self, FileError> {
        let table = Table::parse(FILE, &table::text(FILE, reader)?, COLUMNS)?;
        let (mut versions, mut files) = (BTreeMap::new(), BTreeMap::new());
        for row in &table.rows {
            let (name, value) = (table.cell(row, "propertyName"), table.cell(row, "value"));
            let wrong = |what: String| FileError::at(FILE, row.line, Some("value"), what);
            if let Some(file) = name.strip_prefix("file.") {
                let mode = match value {
                    "bulk" => Some(Mode::Bulk),
                    "delta" => Some(Mode::Delta),
                    "absent" => None,
                    _ => return Err(wrong(format!("{name} must be bulk, delta or absent"))),
                };
                if files.insert(file.to_owned(), mode).is_some() {
                    return Err(wrong(format!("{name} stands twice")));
                }
            } else if versions.insert(name.to_owned(), (row.line, value.to_owned())).is_some() {
                return Err(wrong(format!("{name} stands twice")));
            }
        }
        let version = |name: &str, read: &[&str]| match versions.get(name) {
            Some((_, value)) if read.contains(&value.as_str()) => Ok(value.clone()),
            Some((line, value)) => {
                let what = format!("{name} is \u{201c}{value}\u{201d}; read is {}", read.join(" or "));
                Err(FileError::at(FILE, *line, Some("value"), what))
            }
            None => Err(FileError::At { place: FILE.into(), what: format!("does not say {name}") }),
        };
        version("manifest.version", &["1.0"])?;
        let version = match version("oneroster.version", &["1.1", "1.2"])?.as_str() {
            "1.1" => Version::V1_1,
            _ => Version::V1_2,
        };
        Ok(Self { version, files })
    }

    /// How a file, by its name without `.csv`, is to be taken; none where it is absent.
    pub fn mode(&self, file: &str) -> Option<Mode> {
        self.files.get(file).copied().flatten()
    }
}
