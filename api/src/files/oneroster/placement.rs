//! Which class a pupil is in, by enrolments.

use std::collections::BTreeMap;

use plumbline_core::{
    roster::{
        Field,
        file::{Beside, Note},
    },
    text::Name,
    time::Date,
};

use super::{
    Mode, Part, Parts,
    table::{Record, Table},
};
use crate::files::bounds::{FileError, short};

/// A class.
struct Class<'a> {
    title: &'a str,
    homeroom: bool,
}

/// A pupil's enrolment in a class.
struct Enrolment<'a> {
    class: &'a str,
    begins: Option<Date>,
    ends: Option<Date>,
    primary: bool,
    deleted: bool,
}

/// The pupils' enrolments by user.
pub struct Placements<'a> {
    classes: BTreeMap<&'a str, Class<'a>>,
    of: BTreeMap<&'a str, Vec<Enrolment<'a>>>,
    changes: bool,
    today: Date,
}

/// A day, if there is one.
///
/// # Errors
/// A cell that holds something else.
pub fn day(table: &Table, row: &Record, column: &str) -> Result<Option<Date>, FileError> {
    match table.cell(row, column) {
        "" => Ok(None),
        text => match text.parse() {
            Ok(day) => Ok(Some(day)),
            Err(_) => Err(table.wrong(row, column, "must be a day such as 2026-09-01")),
        },
    }
}

impl<'a> Placements<'a> {
    /// Reads classes and enrolments.
    ///
    /// # Errors
    /// A day that is none.
    pub fn read(parts: &'a Parts, today: Date) -> Result<Self, FileError> {
        let mut classes = BTreeMap::new();
        if let Some(Part { table, .. }) = &parts.classes {
            for row in &table.rows {
                let homeroom = table.cell(row, "classType") == "homeroom";
                let class = Class { title: table.cell(row, "title"), homeroom };
                classes.insert(table.cell(row, "sourcedId"), class);
            }
        }
        let mut of: BTreeMap<&str, Vec<Enrolment<'_>>> = BTreeMap::new();
        if let Some(Part { table, .. }) = &parts.enrollments {
            for row in table.rows.iter().filter(|row| table.cell(row, "role") == "student") {
                of.entry(table.cell(row, "userSourcedId")).or_default().push(Enrolment {
                    class: table.cell(row, "classSourcedId"),
                    begins: day(table, row, "beginDate")?,
                    ends: day(table, row, "endDate")?,
                    primary: table.cell(row, "primary") == "true",
                    deleted: table.deleted(row),
                });
            }
        }
        let changes = parts.enrollments.as_ref().is_some_and(|part| part.mode == Mode::Delta);
        Ok(Self { classes, of, changes, today })
    }

    /// Whose enrolments there are.
    pub fn users(&self) -> impl Iterator<Item = &'a str> {
        self.of.keys().copied()
    }

    /// The class of a pupil by title, empty where the file does not tell which; what the pupil has
    /// left, and what somebody should know, goes beside.
    pub fn place(&self, user: &str, beside: &mut Beside) -> &'a str {
        let all = self.of.get(user).map(Vec::as_slice).unwrap_or_default();
        let over = |one: &&Enrolment<'_>| one.deleted || one.ends.is_some_and(|last| last < self.today);
        let (over, open): (Vec<_>, Vec<_>) = all.iter().partition(over);
        let title = self.title(&open, beside);
        if self.changes {
            for one in over {
                match self.classes.get(one.class) {
                    Some(class) => beside.left_classes.extend(Name::new(class.title)),
                    None => note(beside, format!("left class {}, {UNKNOWN}", one.class)),
                }
            }
        }
        title
    }

    /// Of the classes of the day, or where there are none of the next ones to come, the class that
    /// a school registers in, or else the one that is marked.
    fn title(&self, open: &[&Enrolment<'_>], beside: &mut Beside) -> &'a str {
        let begun = |one: &&Enrolment<'_>| one.begins.is_none_or(|first| first <= self.today);
        let first = open.iter().filter_map(|one| one.begins).min();
        let on_the_day: Vec<_> = match open.iter().any(&begun) {
            true => open.iter().filter(|one| begun(one)).collect(),
            false => open.iter().filter(|one| one.begins == first).collect(),
        };
        let mut known = Vec::new();
        for one in on_the_day {
            match self.classes.get(one.class) {
                Some(class) => known.push((class, one.primary)),
                None => note(beside, format!("is in class {}, {UNKNOWN}", one.class)),
            }
        }
        if known.iter().any(|(class, _)| class.homeroom) {
            known.retain(|(class, _)| class.homeroom);
        }
        if known.iter().any(|(_, primary)| *primary) {
            known.retain(|(_, primary)| *primary);
        }
        let mut titles: Vec<&str> = known.into_iter().map(|(class, _)| class.title).collect();
        titles.sort_unstable();
        titles.dedup();
        match titles.as_slice() {
            [] => "",
            [one] => one,
            several => {
                note(beside, format!("is in several classes, say by hand in which: {}", several.join(", ")));
                ""
            }
        }
    }
}

/// Why a class cannot be named.
const UNKNOWN: &str = "which classes.csv does not name: nothing is done about it";

fn note(beside: &mut Beside, message: String) {
    beside.notes.push(Note { field: Some(Field::ClassName), message: short(&message) });
}
