//! Who in the archive is a pupil, and what it says of each.

use std::collections::{BTreeMap, BTreeSet};

use plumbline_core::{
    roster::{
        Field, Upn, UpnError,
        file::{Beside, Note},
    },
    time::Date,
};

use super::{
    Mode, Part, Parts, Version,
    placement::{Placements, day},
    schools,
    table::{Record, Table},
};
use crate::files::bounds::{FileError, short};

/// A pupil as the archive has it.
#[derive(Default)]
pub struct Pupil<'a> {
    /// The line in `users.csv`; who is in another file only follows its last line.
    pub line: u64,
    /// What is said beside the cells.
    pub beside: Beside,
    id: &'a str,
    identifier: &'a str,
    upn: &'a str,
    given: &'a str,
    family: &'a str,
    preferred: &'a str,
    born: &'a str,
    sex: &'a str,
    grade: &'a str,
    class: &'a str,
}

/// A column of the sheet.
pub struct Column {
    /// Its heading: the standard's name where it has one.
    pub heading: &'static str,
    /// Whether the archive carries it.
    pub carried: fn(&Parts) -> bool,
    /// What a pupil has in it.
    pub of: for<'p> fn(&'p Pupil<'_>) -> &'p str,
}

const fn column(
    heading: &'static str,
    carried: fn(&Parts) -> bool,
    of: for<'p> fn(&'p Pupil<'_>) -> &'p str,
) -> Column {
    Column { heading, carried, of }
}

/// The sheet's columns.
pub const COLUMNS: [Column; 10] = [
    column("sourcedId", |_| true, |pupil| pupil.id),
    column("identifier", |parts| parts.users.is_some(), |pupil| pupil.identifier),
    column("UPN", |parts| parts.users.is_some(), |pupil| pupil.upn),
    column("givenName", |_| true, |pupil| pupil.given),
    column("familyName", |_| true, |pupil| pupil.family),
    column(
        "preferredGivenName",
        |parts| parts.users.is_some() && parts.version == Version::V1_2,
        |pupil| pupil.preferred,
    ),
    column("birthDate", |parts| parts.demographics.is_some(), |pupil| pupil.born),
    column("grades", |parts| parts.users.is_some(), |pupil| pupil.grade),
    column("class", |parts| parts.enrollments.is_some(), |pupil| pupil.class),
    column("sex", |parts| parts.demographics.is_some(), |pupil| pupil.sex),
];

/// What roles make of a user.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Standing {
    /// A pupil, today or to come.
    Pupil,
    /// A pupil's role was taken away, and there is no other.
    Left,
    /// Somebody else.
    Other,
}

/// The pupils, by line.
///
/// # Errors
/// A day that is none; pupils of several schools.
pub fn read(parts: &Parts, today: Date) -> Result<Vec<Pupil<'_>>, FileError> {
    let placements = Placements::read(parts, today)?;
    let standings = standings(parts, today)?;
    let births = births(parts);
    let enrolled: BTreeSet<&str> = placements.users().collect();
    let mut pupils = Vec::new();
    let (mut seen, mut last) = (BTreeSet::new(), 1);
    if let Some(Part { table, mode }) = &parts.users {
        for row in &table.rows {
            let id = table.cell(row, "sourcedId");
            seen.insert(id);
            last = row.line;
            let standing = match parts.version {
                Version::V1_1 if table.cell(row, "role") == "student" => Some(Standing::Pupil),
                Version::V1_1 => Some(Standing::Other),
                Version::V1_2 => standings.get(id).copied(),
            };
            // Who is enrolled as a pupil is one. Whoever else has no role in a file of changes may
            // be anybody, so that the row adds nobody.
            let known_only = match standing {
                Some(Standing::Other) => continue,
                Some(_) => false,
                None if enrolled.contains(id) => false,
                None if *mode == Mode::Bulk => continue,
                None => true,
            };
            let left = table.deleted(row) || standing == Some(Standing::Left);
            pupils.push(user(parts, table, row, Beside { known_only, left, ..Beside::default() }));
        }
    }
    let changes = parts.users.as_ref().is_none_or(|users| users.mode == Mode::Delta);
    let by_role = standings.iter().filter(|(_, standing)| **standing != Standing::Other).map(|(id, _)| *id);
    let born = births.keys().copied().filter(|_| changes);
    let others: BTreeSet<&str> = enrolled.iter().copied().chain(by_role).chain(born).collect();
    let others = others.into_iter().filter(|id| !seen.contains(id));
    let others = others.filter(|id| standings.get(id) != Some(&Standing::Other));
    pupils.extend((last + 1..).zip(others).map(|(line, id)| {
        let left = standings.get(id) == Some(&Standing::Left);
        Pupil { line, id, beside: Beside { known_only: true, left, ..Beside::default() }, ..Pupil::default() }
    }));
    schools::check(parts, &pupils.iter().filter(|pupil| !pupil.beside.left).map(|pupil| pupil.id).collect())?;
    for pupil in &mut pupils {
        (pupil.born, pupil.sex) = births.get(pupil.id).copied().unwrap_or_default();
        if !pupil.beside.left {
            pupil.class = placements.place(pupil.id, &mut pupil.beside);
        }
    }
    Ok(pupils)
}

/// What `roles.csv` makes of users.
fn standings(parts: &Parts, today: Date) -> Result<BTreeMap<&str, Standing>, FileError> {
    let mut standings = BTreeMap::new();
    let Some(Part { table, .. }) = &parts.roles else { return Ok(standings) };
    for row in &table.rows {
        let over = day(table, row, "endDate")?.is_some_and(|last| last < today);
        day(table, row, "beginDate")?;
        let standing = match (table.cell(row, "role"), table.deleted(row)) {
            ("student", true) => Standing::Left,
            ("student", false) if !over => Standing::Pupil,
            _ => Standing::Other,
        };
        // A pupil by one role is a pupil, whatever the others.
        let known = standings.entry(table.cell(row, "userSourcedId")).or_insert(standing);
        match (*known, standing) {
            (_, Standing::Pupil) | (Standing::Other, Standing::Left) => *known = standing,
            _ => {}
        }
    }
    Ok(standings)
}

/// Day of birth and sex by user, as written.
fn births(parts: &Parts) -> BTreeMap<&str, (&str, &str)> {
    let Some(Part { table, .. }) = &parts.demographics else { return BTreeMap::new() };
    let rows = table.rows.iter().filter(|row| !table.deleted(row));
    rows.map(|row| {
        let [id, born, sex] = ["sourcedId", "birthDate", "sex"].map(|column| table.cell(row, column));
        (id, (born, sex))
    })
    .collect()
}

fn user<'a>(parts: &Parts, table: &'a Table, row: &'a Record, mut beside: Beside) -> Pupil<'a> {
    let mut note =
        |field, message: String| beside.notes.push(Note { field: Some(field), message: short(&message) });
    let identifier = table.cell(row, "identifier");
    let (identifier, upn) = match Upn::new(identifier) {
        Ok(_) => ("", identifier),
        Err(UpnError::Form) => (identifier, ""),
        Err(error) => {
            note(Field::Upn, format!("the identifier looks like a UPN and is not taken for one: {error}"));
            (identifier, "")
        }
    };
    let grades: Vec<&str> = table.cell(row, "grades").split(',').map(str::trim).collect();
    let grade = match grades.as_slice() {
        [one] => *one,
        several => {
            note(Field::YearGroup, format!("is in several grades: {}; none is taken", several.join(", ")));
            ""
        }
    };
    let preferred = match parts.version {
        Version::V1_1 => "",
        Version::V1_2 => table.cell(row, "preferredGivenName"),
    };
    Pupil {
        line: row.line,
        id: table.cell(row, "sourcedId"),
        identifier,
        upn,
        given: table.cell(row, "givenName"),
        family: table.cell(row, "familyName"),
        preferred,
        grade,
        beside,
        ..Pupil::default()
    }
}
