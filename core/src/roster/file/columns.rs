//! Which line is the header, and what each column means.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::{
    cell::{Cell, Line, Sheet, column_letters},
    export::GUARDED,
};
use crate::{roster::Field, text::search_key};

/// How far down a header is looked for, below titles and dates that reports put above it.
pub(super) const HEADER_WITHIN: usize = 10;

/// A column of a file and what it is taken for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = FileColumn))]
pub struct Column {
    /// Its letters in a spreadsheet.
    pub column: String,
    /// Its heading, cleaned.
    pub heading: String,
    /// What it is read as; not read where null.
    pub field: Option<Field>,
    /// The optional field it is read as instead.
    #[serde(default)]
    pub optional_field: Option<String>,
}

impl Column {
    /// What it is read as, by name.
    fn read_as(&self) -> Option<&str> {
        self.field.map(Field::as_str).or(self.optional_field.as_deref())
    }
}

/// The columns of a file, first to last.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Columns(pub Vec<Column>);

/// Why a header cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum HeaderFault {
    /// No line names a column that holds a name.
    #[error("no line near the top names a column with the pupils' names")]
    NotFound,
    /// Two columns for one field.
    #[error("{field} stands twice: columns {first} and {second}; say which one counts")]
    Twice {
        /// The heading, or the field where the headings differ.
        field: String,
        /// The first column's letters.
        first: String,
        /// The second's.
        second: String,
    },
}

/// What headings are taken for: the field's own name, the rule pack's labels and what the school
/// chose before, by [`heading_key`]. `None` is a column the school chose not to read.
pub type Headings = BTreeMap<String, Option<Field>>;

/// What makes two headings the same: letters and digits, whatever case, accents and signs.
#[must_use]
pub fn heading_key(heading: &str) -> String {
    search_key(heading)
}

/// The header's place among the lines with its columns. Where none is found, the first line's,
/// and the fault: a person says which columns to read.
#[must_use]
pub fn find_header(sheet: &Sheet, headings: &Headings) -> (usize, Columns, Option<HeaderFault>) {
    let carries_a_name = |line: &Line| columns(&line.cells, headings).carry_a_name();
    let found = sheet.lines.iter().take(HEADER_WITHIN).position(carries_a_name);
    of_line(sheet, found, headings)
}

/// The columns of a header a person pointed at.
#[must_use]
pub fn header_at(sheet: &Sheet, line: u64, headings: &Headings) -> (usize, Columns, Option<HeaderFault>) {
    let found = sheet.lines.iter().position(|found| found.line == line);
    of_line(sheet, found, headings)
}

fn of_line(
    sheet: &Sheet,
    found: Option<usize>,
    headings: &Headings,
) -> (usize, Columns, Option<HeaderFault>) {
    let at = found.unwrap_or(0);
    let columns = sheet.lines.get(at).map(|line| columns(&line.cells, headings)).unwrap_or_default();
    let fault = columns.check().err().or((!columns.carry_a_name()).then_some(HeaderFault::NotFound));
    (at, columns, fault)
}

fn columns(cells: &[Cell], headings: &Headings) -> Columns {
    let column = |(n, cell): (usize, &Cell)| {
        let heading = cell.text();
        let field = headings.get(&heading_key(&heading)).copied().flatten();
        Column { column: column_letters(n), heading, field, optional_field: None }
    };
    Columns(cells.iter().enumerate().map(column).collect())
}

impl Columns {
    /// The place of a field's column.
    #[must_use]
    pub fn of(&self, field: Field) -> Option<usize> {
        self.0.iter().position(|column| column.field == Some(field))
    }

    /// The place of the column in which an export says what it put behind an apostrophe.
    #[must_use]
    pub fn guarded(&self) -> Option<usize> {
        self.0.iter().position(|column| column.field.is_none() && heading_key(&column.heading) == GUARDED)
    }

    /// The places of the columns that are read as optional fields, with the fields' keys.
    pub fn optional(&self) -> impl Iterator<Item = (usize, &str)> {
        self.0.iter().enumerate().filter_map(|(n, column)| Some((n, column.optional_field.as_deref()?)))
    }

    /// Whether some column is read as a name.
    #[must_use]
    pub fn carry_a_name(&self) -> bool {
        self.of(Field::GivenName).is_some() || self.of(Field::FamilyName).is_some()
    }

    /// Refuses two columns for one field.
    ///
    /// # Errors
    /// [`HeaderFault::Twice`].
    pub fn check(&self) -> Result<(), HeaderFault> {
        let mut seen: BTreeMap<&str, &Column> = BTreeMap::new();
        for column in &self.0 {
            let Some(field) = column.read_as() else { continue };
            if let Some(first) = seen.insert(field, column) {
                let same = heading_key(&first.heading) == heading_key(&column.heading);
                let named = if same { column.heading.clone() } else { field.to_owned() };
                let (first, second) = (first.column.clone(), column.column.clone());
                return Err(HeaderFault::Twice { field: named, first, second });
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headings() -> Headings {
        let own = Field::ALL.iter().map(|field| (heading_key(field.as_str()), Some(*field)));
        own.chain([("forename".into(), Some(Field::GivenName)), ("note".into(), None)]).collect()
    }

    fn sheet(lines: &[&str]) -> Sheet {
        let line = |(n, text): (u64, &&str)| Line {
            line: n,
            cells: text.split(',').map(|cell| Cell::Text(cell.to_owned())).collect(),
            ..Line::default()
        };
        Sheet { lines: (1..).zip(lines).map(line).collect(), ..Sheet::default() }
    }

    #[test]
    fn a_header_is_found_below_titles_whatever_its_spelling() {
        let file = sheet(&[
            "Class list,,",
            "printed 10 March",
            "\u{feff}Pupil Ref,FORENAME ,Family\u{a0}name,Shoe size",
        ]);
        let (at, columns, fault) = find_header(&file, &headings());
        assert_eq!(fault, None);
        assert_eq!(at, 2);
        let fields: Vec<_> = columns.0.iter().map(|column| column.field).collect();
        assert_eq!(fields, [Some(Field::PupilRef), Some(Field::GivenName), Some(Field::FamilyName), None]);
        assert_eq!((columns.0[3].heading.as_str(), columns.of(Field::FamilyName)), ("Shoe size", Some(2)));
    }

    #[test]
    fn a_field_that_stands_twice_is_named_with_both_columns() {
        let file = sheet(&["pupil_ref,given_name,x,family_name,a,b,c,d,Family Name"]);
        let fault = find_header(&file, &headings()).2.unwrap().to_string();
        assert_eq!(fault, "Family Name stands twice: columns D and I; say which one counts");
        let file = sheet(&["given_name,Forename"]);
        let fault = find_header(&file, &headings()).2.unwrap().to_string();
        assert_eq!(fault, "given_name stands twice: columns A and B; say which one counts");
    }

    #[test]
    fn a_file_without_a_header_is_said_to_have_none() {
        let none = |sheet: &Sheet| find_header(sheet, &headings()).2;
        assert_eq!(none(&sheet(&["Ada,Swift", "Bo,Reyes"])), Some(HeaderFault::NotFound));
        assert_eq!(none(&Sheet::default()), Some(HeaderFault::NotFound));
    }
}
