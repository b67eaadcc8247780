//! Rostering files in one archive (1EdTech OneRoster, CSV binding 1.1 and 1.2) as a sheet with a
//! line a pupil: who is a pupil by role, the class by enrolment, the date of birth by
//! demographics. Where the users are sent as changes, the sheet is of changes too.
//!
//! `sourcedId` is proposed as the school's reference, because every file of the archive goes by
//! it; an `identifier` that is a UPN becomes one, any other stands in a column of its own that the
//! school may choose instead. Grades are codes for the rule pack to read. Contacts, guardians, sex
//! and origin are not read, and an archive with a password in it is refused.

mod columns;
mod manifest;
mod placement;
mod pupils;
mod schools;
mod table;

#[cfg(test)]
mod tests;

use plumbline_core::{
    roster::file::{Beside, Cell, Format, Line, Sheet},
    time::Date,
};

use super::{
    archive::Archive,
    bounds::{FileError, MOST_ROWS},
};
use manifest::{Manifest, Mode, Version};
use table::{Columns, Table};

pub use manifest::FILE as MANIFEST;

/// A file with how it is to be taken.
struct Part {
    table: Table,
    mode: Mode,
}

/// The files that are read, each where it is there.
struct Parts {
    version: Version,
    users: Option<Part>,
    roles: Option<Part>,
    classes: Option<Part>,
    enrollments: Option<Part>,
    demographics: Option<Part>,
    orgs: Option<Part>,
}

/// Reads an archive; the classes are those of a day.
///
/// # Errors
/// What keeps the archive from being read at all, by file, line and column.
pub fn read(archive: &mut Archive<'_>, today: Date) -> Result<Sheet, FileError> {
    let manifest = archive
        .read(MANIFEST, |reader| Manifest::read(reader))?
        .ok_or_else(|| FileError::At { place: MANIFEST.into(), what: "is missing".into() })?;
    let parts = Parts::read(archive, &manifest)?;
    parts.check()?;
    let pupils = pupils::read(&parts, today)?;
    if pupils.len() > MOST_ROWS {
        return Err(FileError::TooManyRows);
    }
    let shown: Vec<&pupils::Column> =
        pupils::COLUMNS.iter().filter(|column| (column.carried)(&parts)).collect();
    let text = |text: &str| Cell::Text(text.to_owned());
    let header = shown.iter().map(|column| text(column.heading)).collect();
    let mut lines = vec![Line { line: 1, cells: header, ..Line::default() }];
    lines.extend(pupils.into_iter().map(|pupil| Line {
        line: pupil.line,
        cells: shown.iter().map(|column| text((column.of)(&pupil))).collect(),
        beside: Beside { foreign: true, ..pupil.beside },
        ..Line::default()
    }));
    Ok(Sheet {
        format: Format::OneRoster,
        version: Some(manifest.version.as_str().to_owned()),
        changes_only: parts.users.as_ref().is_none_or(|users| users.mode == Mode::Delta),
        lines,
        encoding: Some("UTF-8".to_owned()),
        delimiter: Some(','),
        ..Sheet::default()
    })
}

impl Parts {
    fn read(archive: &mut Archive<'_>, manifest: &Manifest) -> Result<Self, FileError> {
        let mut part = |file: &'static str, columns: Columns| {
            let name = file.trim_end_matches(".csv");
            let read =
                archive.read(file, |reader| Table::parse(file, &table::text(file, reader)?, columns))?;
            let wrong = |what: &str| {
                Err(FileError::At { place: MANIFEST.into(), what: format!("file.{name} {what}") })
            };
            match (manifest.mode(name), read) {
                (Some(mode), Some(table)) => {
                    table.check(mode)?;
                    Ok(Some(Part { table, mode }))
                }
                (Some(_), None) => wrong("names a file that is not in the archive"),
                (None, Some(_)) => wrong("must be bulk or delta: the file is in the archive"),
                (None, None) => Ok(None),
            }
        };
        Ok(Self {
            version: manifest.version,
            users: part("users.csv", columns::users(manifest.version))?,
            roles: match manifest.version {
                Version::V1_1 => None,
                Version::V1_2 => part("roles.csv", columns::roles())?,
            },
            classes: part("classes.csv", columns::classes())?,
            enrollments: part("enrollments.csv", columns::enrollments())?,
            demographics: part("demographics.csv", columns::demographics())?,
            orgs: part("orgs.csv", columns::orgs())?,
        })
    }

    fn check(&self) -> Result<(), FileError> {
        if self.users.is_none() && self.enrollments.is_none() {
            let what = "has neither users nor enrollments: there is nobody in the archive".into();
            return Err(FileError::At { place: MANIFEST.into(), what });
        }
        let users = self.users.as_ref();
        if let Some(users) = users
            && let Some(row) =
                users.table.rows.iter().find(|row| !users.table.cell(row, "password").is_empty())
        {
            let what = "holds a password, which must not be sent here; leave the column empty";
            return Err(users.table.wrong(row, "password", what));
        }
        let bulk = users.is_some_and(|users| users.mode == Mode::Bulk);
        if bulk && self.version == Version::V1_2 && self.roles.is_none() {
            let what = "file.roles is absent: without roles nobody is known to be a pupil".into();
            return Err(FileError::At { place: MANIFEST.into(), what });
        }
        Ok(())
    }
}
