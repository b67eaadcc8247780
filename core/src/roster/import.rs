//! From the rows of a pupil file to what they would change. Nothing here writes: the plan
//! is shown, and only a confirmed plan is carried out. A pupil missing from the file is
//! never touched, an empty cell never blanks what is known.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::matching::Index;
use crate::{
    id::PupilId,
    rules::RulePack,
    text::{Name, search_key},
    time::Date,
};

crate::vocabulary! {
    /// A column of the file.
    pub enum Field {
        /// The school's own reference for the pupil.
        PupilRef = "pupil_ref",
        /// First name, or the only one.
        GivenName = "given_name",
        /// Family name.
        FamilyName = "family_name",
        /// The name the pupil is called by.
        PreferredName = "preferred_name",
        /// Date of birth.
        DateOfBirth = "date_of_birth",
        /// Year group, in any of the rule pack's spellings.
        YearGroup = "year_group",
        /// Class.
        ClassName = "class_name",
    }
}

/// A row that was understood.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Row {
    /// Line in the file; the header is line 1.
    pub line: u64,
    /// The school's reference.
    pub pupil_ref: Option<String>,
    /// First or only name.
    pub given_name: Name,
    /// Family name.
    pub family_name: Option<Name>,
    /// Name the pupil is called by.
    pub preferred_name: Option<Name>,
    /// Date of birth.
    pub date_of_birth: Option<Date>,
    /// Code of the rule pack.
    pub year_group: Option<String>,
    /// Class.
    pub class_name: Option<Name>,
}

/// Something about a row that stops it, or that a person should know.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = RowFinding))]
pub struct Finding {
    /// Line in the file; the header is line 1.
    pub line: u64,
    /// The column, where one is at fault.
    pub field: Option<Field>,
    /// What, for a person.
    pub message: String,
}

impl Row {
    /// Reads the cells of one line.
    ///
    /// # Errors
    /// Every cell that cannot be understood.
    pub fn read(line: u64, cells: &BTreeMap<Field, &str>, rules: &RulePack) -> Result<Self, Vec<Finding>> {
        let mut reading = Reading { line, cells, findings: Vec::new() };
        let given_name = reading.name(Field::GivenName);
        let family_name = reading.name(Field::FamilyName);
        let preferred_name = reading.name(Field::PreferredName);
        let class_name = reading.name(Field::ClassName);
        let pupil_ref = reading.name(Field::PupilRef).map(String::from);
        let date_of_birth = reading.date();
        let year_group = reading.year_group(rules);
        // A pupil with a family name only is a pupil with one name.
        let (given_name, family_name) = match (given_name, family_name) {
            (None, Some(only)) => (Some(only), None),
            names => names,
        };
        match given_name {
            Some(given_name) if reading.findings.is_empty() => Ok(Self {
                line,
                pupil_ref,
                given_name,
                family_name,
                preferred_name,
                date_of_birth,
                year_group,
                class_name,
            }),
            Some(_) => Err(reading.findings),
            None => {
                if reading.findings.is_empty() {
                    reading.find(Field::GivenName, "a pupil needs a name".into());
                }
                Err(reading.findings)
            }
        }
    }

    pub(super) fn name_key(&self) -> (String, String) {
        (
            search_key(self.given_name.as_str()),
            self.family_name.as_ref().map(|n| search_key(n.as_str())).unwrap_or_default(),
        )
    }
}

struct Reading<'a> {
    line: u64,
    cells: &'a BTreeMap<Field, &'a str>,
    findings: Vec<Finding>,
}

impl Reading<'_> {
    fn find(&mut self, field: Field, message: String) {
        self.findings.push(Finding { line: self.line, field: Some(field), message });
    }

    fn cell(&self, field: Field) -> Option<&str> {
        self.cells.get(&field).map(|cell| cell.trim()).filter(|cell| !cell.is_empty())
    }

    fn name(&mut self, field: Field) -> Option<Name> {
        match Name::new(self.cell(field)?) {
            Ok(name) => Some(name),
            Err(error) => {
                self.find(field, error.to_string());
                None
            }
        }
    }

    fn date(&mut self) -> Option<Date> {
        let cell = self.cell(Field::DateOfBirth)?;
        let read = Date::parse_from_str(cell, "%Y-%m-%d")
            .or_else(|_| Date::parse_from_str(cell, "%d/%m/%Y"))
            .ok()
            .filter(|date| (1900..2200).contains(&chrono::Datelike::year(date)));
        if read.is_none() {
            let message = format!("\"{cell}\" is not a date; write 2019-05-31 or 31/05/2019");
            self.find(Field::DateOfBirth, message);
        }
        read
    }

    fn year_group(&mut self, rules: &RulePack) -> Option<String> {
        let cell = self.cell(Field::YearGroup)?;
        let found = rules.year_group_by_label(cell).map(|year| year.code.clone());
        if found.is_none() {
            let known =
                rules.year_groups.iter().map(|year| year.name.as_str()).collect::<Vec<_>>().join(", ");
            let message = format!("\"{cell}\" is not a year group; known: {known}");
            self.find(Field::YearGroup, message);
        }
        found
    }
}

/// A pupil the school has.
#[derive(Clone, Debug)]
pub struct Existing {
    /// The pupil.
    pub id: PupilId,
    /// What the school holds, as a row.
    pub row: Row,
    /// Whether the pupil's last day here is over.
    pub left: bool,
}

/// A pupil whose record the file would change.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Change {
    /// The pupil.
    pub pupil: PupilId,
    /// The fields that differ.
    pub fields: Vec<Field>,
    /// What the file says.
    pub row: Row,
}

/// What a file would change.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Plan {
    /// Pupils to create.
    pub created: Vec<Row>,
    /// Pupils to change.
    pub updated: Vec<Change>,
    /// Rows that say what the school holds already.
    pub unchanged: usize,
    /// Classes to create, as first spelled in the file.
    pub new_classes: Vec<Name>,
    /// Rows that are left out, and why.
    pub rejected: Vec<Finding>,
}

/// Matches rows to pupils, by reference first, then by name and date of birth.
/// `classes` are the names of the school's classes.
pub fn plan(rows: Vec<Row>, rejected: Vec<Finding>, pupils: &[Existing], classes: &[String]) -> Plan {
    let mut planning = Planning {
        plan: Plan { rejected, ..Plan::default() },
        pupils,
        known: pupils.iter().map(|pupil| &pupil.row).collect(),
        rows_of: BTreeMap::new(),
        seen: Index::default(),
        lines: Vec::new(),
    };
    planning.classes(&rows, classes);
    for row in rows {
        planning.row(row);
    }
    planning.plan.rejected.sort_by_key(|finding| finding.line);
    planning.plan
}

struct Planning<'a> {
    plan: Plan,
    pupils: &'a [Existing],
    known: Index,
    rows_of: BTreeMap<PupilId, u64>,
    seen: Index,
    lines: Vec<u64>,
}

impl Planning<'_> {
    fn classes(&mut self, rows: &[Row], known: &[String]) {
        let mut keys: BTreeSet<String> = known.iter().map(|name| class_key(name)).collect();
        for name in rows.iter().filter_map(|row| row.class_name.as_ref()) {
            if keys.insert(class_key(name.as_str())) {
                self.plan.new_classes.push(name.clone());
            }
        }
    }

    fn reject(&mut self, line: u64, field: Option<Field>, message: String) {
        self.plan.rejected.push(Finding { line, field, message });
    }

    fn row(&mut self, row: Row) {
        if let Some(earlier) = self.seen.same(&row).first() {
            let message =
                format!("the same pupil stands on line {}; this row is left out", self.lines[*earlier]);
            let line = row.line;
            return self.reject(line, None, message);
        }
        self.seen.add(&row);
        self.lines.push(row.line);
        let found: Vec<&Existing> = self.known.same(&row).into_iter().map(|n| &self.pupils[n]).collect();
        match found.as_slice() {
            [] if self.known.is_unclear(&row) => {
                let message =
                    "the school has a pupil of this name; give the date of birth or the pupil reference"
                        .to_owned();
                self.reject(row.line, Some(Field::DateOfBirth), message);
            }
            [] => self.plan.created.push(row),
            [pupil] => match self.rows_of.insert(pupil.id, row.line) {
                Some(earlier) => {
                    self.reject(
                        row.line,
                        None,
                        format!("line {earlier} is about the same pupil; this row is left out"),
                    );
                }
                None => self.compare(pupil, row),
            },
            [_, _, ..] => {
                let message =
                    "two or more pupils of the school match this row; give the pupil reference".to_owned();
                self.reject(row.line, Some(Field::PupilRef), message);
            }
        }
    }

    /// An old export must not put a leaver back into a class.
    fn compare(&mut self, pupil: &Existing, row: Row) {
        if pupil.left {
            let message = "this pupil has left; if the pupil is back, clear the last day first".to_owned();
            return self.reject(row.line, None, message);
        }
        let old = &pupil.row;
        let class_differs = match (&row.class_name, &old.class_name) {
            (Some(new), Some(old)) => class_key(new.as_str()) != class_key(old.as_str()),
            (new, _) => new.is_some(),
        };
        let differs = [
            (Field::PupilRef, row.pupil_ref.is_some() && row.pupil_ref != old.pupil_ref),
            (Field::GivenName, row.given_name != old.given_name),
            (Field::FamilyName, row.family_name.is_some() && row.family_name != old.family_name),
            (Field::PreferredName, row.preferred_name.is_some() && row.preferred_name != old.preferred_name),
            (Field::DateOfBirth, row.date_of_birth.is_some() && row.date_of_birth != old.date_of_birth),
            (Field::YearGroup, row.year_group.is_some() && row.year_group != old.year_group),
            (Field::ClassName, class_differs),
        ];
        let fields: Vec<Field> =
            differs.iter().filter(|(_, differs)| *differs).map(|(field, _)| *field).collect();
        if fields.is_empty() {
            self.plan.unchanged += 1;
        } else {
            self.plan.updated.push(Change { pupil: pupil.id, fields, row });
        }
    }
}

/// "Oak", "oak " and "OAK" are one class; "Oak 2" is another. Letters of other scripts that
/// look alike stay different and show up as a class to be created.
pub fn class_key(name: &str) -> String {
    name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}

#[cfg(test)]
mod tests;
