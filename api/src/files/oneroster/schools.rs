//! An archive of several schools is for none of them: its pupils must not get into one.

use std::collections::{BTreeMap, BTreeSet};

use super::{Part, Parts};
use crate::files::bounds::FileError;

/// Refuses pupils of several schools.
///
/// # Errors
/// The schools, by name where `orgs.csv` has one.
pub fn check(parts: &Parts, pupils: &BTreeSet<&str>) -> Result<(), FileError> {
    let orgs: BTreeMap<&str, (&str, bool)> = parts.orgs.as_ref().map(named).unwrap_or_default();
    let mut schools = BTreeSet::new();
    let cells = [
        (&parts.users, "sourcedId", "orgSourcedIds"),
        (&parts.roles, "userSourcedId", "orgSourcedId"),
        (&parts.enrollments, "userSourcedId", "schoolSourcedId"),
    ];
    for (part, user, school) in cells {
        let Some(Part { table, .. }) = part else { continue };
        for row in table.rows.iter().filter(|row| !table.deleted(row)) {
            let role = table.cell(row, "role");
            if !pupils.contains(table.cell(row, user)) || !(role.is_empty() || role == "student") {
                continue;
            }
            let ids: Vec<&str> =
                table.cell(row, school).split(',').map(str::trim).filter(|id| !id.is_empty()).collect();
            // Where nothing tells a school from its district, only who belongs to one counts.
            let tells = !orgs.is_empty() || ids.len() == 1;
            schools
                .extend(ids.into_iter().filter(|id| tells && orgs.get(id).is_none_or(|(_, school)| *school)));
        }
    }
    if schools.len() < 2 {
        return Ok(());
    }
    let names: Vec<&str> = schools.iter().map(|id| orgs.get(id).map_or(*id, |(name, _)| *name)).collect();
    let what = format!("holds pupils of several schools, send those of one: {}", names.join(", "));
    Err(FileError::At { place: "the archive".into(), what })
}

/// Names by id, and whether each is a school.
fn named(part: &Part) -> BTreeMap<&str, (&str, bool)> {
    let table = &part.table;
    let org =
        |row| (table.cell(row, "sourcedId"), (table.cell(row, "name"), table.cell(row, "type") == "school"));
    table.rows.iter().map(org).collect()
}
