//! From a sheet to rows: what each line says, what is wrong with it, what must be asked.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::{
    answers::{Answers, Hidden, Question},
    cell::{Cell, Line, Sheet, column_letters},
    columns::{Columns, HeaderFault, Headings, find_header, header_at},
    date::{DateOrder, Dates, Written, age_on, in_order},
    feed::Format,
    identifier::identifier,
    withheld::{Withheld, optional_columns},
};
use crate::{
    roster::{Field, Finding, Row, Upn},
    rules::RulePack,
    spreadsheet::unguarded,
    text::Name,
    time::{Date, in_words},
};

/// What a file is read by.
#[derive(Clone, Copy, Debug)]
pub struct Context<'a> {
    /// The school's local rules.
    pub rules: &'a RulePack,
    /// What headings are taken for.
    pub headings: &'a Headings,
    /// Today at the school.
    pub today: Date,
    /// The school year the file is for, by the calendar year it starts in.
    pub year: i32,
    /// The optional fields that are on.
    pub on: &'a BTreeSet<String>,
}

/// What a file was read as.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reading {
    /// The school year the year groups are of, by the calendar year it starts in.
    pub year: i32,
    /// The header's line; 0 where none was found.
    pub header_line: u64,
    /// The columns and what they are read as.
    pub columns: Columns,
    /// Fields the file does not carry: what the school holds of them stays.
    pub not_carried: Vec<Field>,
    /// Rows that were understood.
    pub rows: Vec<Row>,
    /// Rows that were not, and why.
    pub rejected: Vec<Finding>,
    /// What was left out of rows that were, and why.
    #[serde(default)]
    pub attention: Vec<Finding>,
    /// Columns that were not kept.
    #[serde(default)]
    pub withheld: Vec<Withheld>,
    /// Whether the file holds some of the school's pupils only.
    pub changes_only: bool,
    /// What must be answered before anything can be written.
    pub questions: Vec<Question>,
}

/// Reads a sheet with the answers given so far. Where a question is open, the rows show what the
/// usual answer would make of them.
#[must_use]
pub fn read(sheet: &Sheet, answers: &Answers, context: Context<'_>) -> Reading {
    let mut out = Reading { year: context.year, changes_only: sheet.changes_only, ..Reading::default() };
    let (at, columns, fault) = header(sheet, answers, context.headings);
    out.columns = columns;
    optional_columns(sheet, answers, context, &mut out);
    if let Some(fault) = fault.or_else(|| out.columns.check().err()) {
        out.questions.push(Question::Columns { why: fault.to_string() });
        return out;
    }
    let header = sheet.lines.get(at);
    out.header_line = header.map_or(0, |line| line.line);
    out.not_carried = Field::ALL.iter().copied().filter(|field| out.columns.of(*field).is_none()).collect();
    let body = sheet.lines.get(at + 1..).unwrap_or(&[]);
    let include = hidden(sheet, body, answers, &mut out);
    if answers.hidden == Some(Hidden::LeaveOut) {
        for n in &sheet.hidden_columns {
            if let Some(column) = out.columns.0.get_mut(*n) {
                column.field = None;
            }
        }
    }
    let lines: Vec<(u64, &Line)> = (1..).zip(body).filter(|(_, line)| include || !line.hidden).collect();
    let order = order(&lines, answers, context, &mut out);
    for (record, line) in lines {
        let (columns, format) = (&out.columns, sheet.format);
        let mut reading = RowReading {
            line,
            record,
            columns,
            context,
            format,
            order,
            findings: Vec::new(),
            attention: Vec::new(),
        };
        match reading.row() {
            Some(row) => {
                out.rows.push(row);
                out.attention.append(&mut reading.attention);
            }
            None => out.rejected.append(&mut reading.findings),
        }
    }
    if sheet.format == Format::OneRoster {
        out.questions.extend(grades(&out, answers));
    }
    out
}

/// The header's place, its columns with what was said of them, and what is wrong with it.
pub(super) fn header(
    sheet: &Sheet,
    answers: &Answers,
    headings: &Headings,
) -> (usize, Columns, Option<HeaderFault>) {
    let (at, mut columns, fault) = match answers.header_line {
        Some(line) => header_at(sheet, line, headings),
        None => find_header(sheet, headings),
    };
    for column in &mut columns.0 {
        if let Some(field) = answers.column(&column.column) {
            column.field = field;
        }
    }
    let fault = columns.check().err().or(fault.filter(|_| !columns.carry_a_name()));
    (at, columns, fault)
}

/// Grade codes are those of another country. Where most of them put pupils outside their year of
/// birth, the file means something else by them, and which is asked.
fn grades(out: &Reading, answers: &Answers) -> Option<Question> {
    let column = &out.columns.0[out.columns.of(Field::YearGroup)?];
    let told = out.rows.iter().filter_map(|row| row.year_group.as_ref().zip(row.cohort.as_ref()));
    let (outside, within): (Vec<_>, Vec<_>) = told.partition(|(given, cohort)| given != cohort);
    let asks = outside.len() > within.len() && answers.column(&column.column).is_none();
    asks.then(|| Question::YearGroups {
        column: column.column.clone(),
        outside: outside.len(),
        of: outside.len() + within.len(),
    })
}

/// Whether hidden lines are read; asks where nobody said.
fn hidden(sheet: &Sheet, body: &[Line], answers: &Answers, out: &mut Reading) -> bool {
    let rows: Vec<u64> = body.iter().filter(|line| line.hidden).map(|line| line.line).collect();
    let columns: Vec<String> = sheet.hidden_columns.iter().map(|n| column_letters(*n)).collect();
    if answers.hidden.is_none() && !(rows.is_empty() && columns.is_empty()) {
        out.questions.push(Question::Hidden { rows, columns });
    }
    answers.hidden == Some(Hidden::Include)
}

/// The order of days in the file; asks where neither the file nor a person says.
fn order(lines: &[(u64, &Line)], answers: &Answers, context: Context<'_>, out: &mut Reading) -> DateOrder {
    let usual = context.rules.date_order;
    let Some(column) = out.columns.of(Field::DateOfBirth) else { return usual };
    let cells = || lines.iter().filter_map(|(_, line)| line.cells.get(column));
    if let Some(order) = answers.date_order.or_else(|| Dates::of(cells().map(Written::read)).order()) {
        return order;
    }
    let shown = |cell: &Cell, order| {
        let day = in_order(Written::read(cell), order, context.today);
        day.map(in_words).unwrap_or_default()
    };
    let unclear = cells().find(|cell| Dates::of([Written::read(cell)].into_iter()).unclear);
    let cell =
        unclear.or_else(|| cells().find(|cell| matches!(Written::read(cell), Written::Slashed { .. })));
    if let Some(cell) = cell {
        out.questions.push(Question::DateOrder {
            usual,
            cell: cell.text(),
            day_first: shown(cell, DateOrder::DayFirst),
            month_first: shown(cell, DateOrder::MonthFirst),
        });
    }
    usual
}

struct RowReading<'a> {
    line: &'a Line,
    record: u64,
    columns: &'a Columns,
    context: Context<'a>,
    format: Format,
    order: DateOrder,
    findings: Vec<Finding>,
    attention: Vec<Finding>,
}

impl RowReading<'_> {
    fn row(&mut self) -> Option<Row> {
        self.surplus();
        let given_name = self.name(Field::GivenName);
        let family_name = self.name(Field::FamilyName);
        let preferred_name = self.name(Field::PreferredName);
        let class_name = self.name(Field::ClassName);
        let pupil_ref = self.identifier(Field::PupilRef);
        let upn = self.upn();
        let date_of_birth = self.born();
        let year_group = self.year_group();
        let beside = &self.line.beside;
        let known = (beside.known_only || beside.left) && (pupil_ref.is_some() || upn.is_some());
        if given_name.is_none() && family_name.is_none() && !known && self.findings.is_empty() {
            self.find(Field::GivenName, "a pupil needs a name".into(), None);
        }
        if !self.findings.is_empty() {
            return None;
        }
        let cohort = date_of_birth.and_then(|born| self.context.rules.cohort(born, self.context.year));
        Some(Row {
            line: self.line.line,
            record: self.record,
            pupil_ref,
            upn,
            given_name,
            family_name,
            preferred_name,
            date_of_birth,
            year_group,
            cohort: cohort.map(|year| year.code.clone()),
            class_name,
            optional: self.optional(),
            beside: self.line.beside.clone(),
        })
    }

    /// Optional fields; a cell that says none of the values says nothing, and is not repeated.
    fn optional(&mut self) -> BTreeMap<String, String> {
        let mut values = BTreeMap::new();
        for (n, key) in self.columns.optional() {
            let Some(cell) = self.line.cells.get(n).filter(|cell| !cell.is_empty()) else { continue };
            let Some(field) = self.context.rules.optional_field(key) else { continue };
            match field.value_by_spelling(&cell.text()) {
                Some(value) => {
                    values.insert(key.to_owned(), value.code.clone());
                }
                None => self.attention.push(Finding {
                    line: self.line.line,
                    record: self.record,
                    cell: Some(self.address(n)),
                    field: None,
                    message: format!(
                        "{}: the cell says none of {}; what is recorded stays",
                        field.name,
                        field.codes()
                    ),
                    suggest: None,
                }),
            }
        }
        values
    }

    /// Text beyond the last column belongs to no column.
    fn surplus(&mut self) {
        let width = self.columns.0.len();
        if let Some(n) = (width..self.line.cells.len()).find(|n| !self.line.cells[*n].is_empty()) {
            let message = "there is text beyond the last column: a separator too many before it?".into();
            self.findings.push(Finding {
                line: self.line.line,
                record: self.record,
                cell: Some(self.address(n)),
                field: None,
                message,
                suggest: None,
            });
        }
    }

    fn address(&self, column: usize) -> String {
        format!("{}{}", column_letters(column), self.line.line)
    }

    fn find(&mut self, field: Field, message: String, suggest: Option<String>) {
        let cell = self.columns.of(field).map(|column| self.address(column));
        let (line, record) = (self.line.line, self.record);
        self.findings.push(Finding { line, record, cell, field: Some(field), message, suggest });
    }

    /// The cell of a field; none where the column or the cell is missing.
    fn cell(&mut self, field: Field) -> Option<Cell> {
        let mut cell = self.line.cells.get(self.columns.of(field)?)?.clone();
        if self.is_guarded(field) {
            cell = Cell::Text(unguarded(&cell.text()).to_owned());
        }
        if let Cell::Bad(what) = &cell {
            self.find(field, format!("the cell holds {what} instead of a value"), None);
            return None;
        }
        Some(cell).filter(|cell| !cell.is_empty())
    }

    /// Whether the file, an export, says that it put this cell behind an apostrophe.
    fn is_guarded(&self, field: Field) -> bool {
        let said = self.columns.guarded().and_then(|column| self.line.cells.get(column));
        said.is_some_and(|cell| cell.text().split(' ').any(|name| name == field.as_str()))
    }

    fn name(&mut self, field: Field) -> Option<Name> {
        let text = self.cell(field)?.text();
        Name::new(&text).map_err(|error| self.find(field, error.to_string(), None)).ok()
    }

    fn identifier(&mut self, field: Field) -> Option<String> {
        let cell = self.cell(field)?;
        let text = identifier(&cell).map_err(|damage| self.find(field, damage.to_string(), None)).ok()??;
        Name::new(&text).map_err(|error| self.find(field, error.to_string(), None)).ok().map(String::from)
    }

    fn upn(&mut self) -> Option<Upn> {
        let text = self.identifier(Field::Upn)?;
        Upn::new(&text).map_err(|error| self.find(Field::Upn, error.to_string(), None)).ok()
    }

    fn born(&mut self) -> Option<Date> {
        let cell = self.cell(Field::DateOfBirth)?;
        let (field, shown) = (Field::DateOfBirth, cell.text());
        let written = Written::read(&cell);
        if let Written::Serial(likely) = written {
            let suggest = likely.map(|day| day.to_string());
            let message = format!("{shown} is a number and not a date; format the column as a date");
            self.find(field, message, suggest);
            return None;
        }
        let Some(born) = in_order(written, self.order, self.context.today) else {
            let message = format!("\u{201c}{shown}\u{201d} is not a date; write 2019-05-31 or 31/05/2019");
            self.find(field, message, None);
            return None;
        };
        let ages = &self.context.rules.pupil_ages;
        let age = age_on(born, self.context.today);
        if !(ages.min..=ages.max).contains(&age) {
            let message = format!(
                "\u{201c}{shown}\u{201d} makes the pupil {age} years old; expected are {} to {}",
                ages.min, ages.max
            );
            self.find(field, message, None);
            return None;
        }
        Some(born)
    }

    fn year_group(&mut self) -> Option<String> {
        let text = self.cell(Field::YearGroup)?.text();
        let rules = self.context.rules;
        let graded = self.format == Format::OneRoster;
        let found = match graded {
            true => rules.grade_codes.get(&text.to_uppercase()).cloned(),
            false => rules.year_group_by_label(&text).map(|year| year.code.clone()),
        };
        if found.is_none() {
            let names = || rules.year_groups.iter().map(|year| year.name.as_str()).collect::<Vec<_>>();
            let message = match graded {
                true => {
                    let known = rules.grade_codes.keys().map(String::as_str).collect::<Vec<_>>().join(", ");
                    format!(
                        "\u{201c}{text}\u{201d} is a grade that no year group here belongs to; known: {known}"
                    )
                }
                false => format!("\u{201c}{text}\u{201d} is not a year group; known: {}", names().join(", ")),
            };
            self.find(Field::YearGroup, message, None);
        }
        found
    }
}

/// What headings are taken for: the fields' own names, the rule pack's labels, and what the
/// school chose, which counts most.
#[must_use]
pub fn headings(rules: &RulePack, chosen: &Headings) -> Headings {
    let own = Field::ALL.iter().map(|field| (super::heading_key(field.as_str()), Some(*field)));
    let labels = rules
        .file_headings
        .iter()
        .flat_map(|(field, labels)| labels.iter().map(|label| (super::heading_key(label), Some(*field))));
    let mut all: BTreeMap<_, _> = labels.chain(own).collect();
    all.extend(chosen.iter().map(|(key, field)| (key.clone(), *field)));
    all
}

#[cfg(test)]
mod tests;
