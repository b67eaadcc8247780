//! An import on a terminal: plain text, in columns. Whatever comes from a file or a name is shown so
//! that a terminal cannot take it for a command.

use std::collections::BTreeSet;

use plumbline_core::{
    roster::{
        Finding,
        file::{Format, Question},
    },
    text::printable,
    time::Instant,
};

use crate::{
    http::v1::roster_imports::{CandidateBody, ChangeBody, ImportBody},
    store::ImportStatus,
};

/// What an import would change, row by row, and in numbers.
pub(super) fn preview(import: &ImportBody) -> String {
    let mut page = Page::default();
    page.line(&read_as(import));
    page.section("Columns", &columns(import));
    page.section("Not kept", &withheld(import));
    page.section("To be answered first", &import.questions.iter().map(question).collect::<Vec<_>>());
    page.section("Pupils to add", &created(import));
    page.section("Pupils to change", &changes(&import.updated));
    page.section("Pupils to complete", &changes(&import.completed));
    page.section("Held: say whom these rows are about", &held(import));
    page.section("Said to have left", &gone(import));
    let leave = import.answers.leavers.is_some();
    page.section("Missing from the file", &if leave { missing(import) } else { Vec::new() });
    page.section(
        "Classes to add",
        &import.new_classes.iter().map(|name| vec![name.clone()]).collect::<Vec<_>>(),
    );
    let repeats =
        import.repeats.iter().map(|row| vec![line(row.line), format!("says what line {} says", row.of)]);
    page.section("Repeated", &repeats.collect::<Vec<_>>());
    page.section("Left out as answered", &import.left_out.iter().map(|n| vec![line(*n)]).collect::<Vec<_>>());
    page.section("To look at", &import.attention.iter().map(finding).collect::<Vec<_>>());
    page.section("Not understood and left out", &import.rejected.iter().map(finding).collect::<Vec<_>>());
    page.section("In numbers", &numbers(import));
    page.text
}

/// What stands in the way of carrying an import out unseen; none where nothing does.
pub(super) fn open(import: &ImportBody) -> Option<String> {
    let mut open = Vec::new();
    let mut say = |many: usize, one: &str, more: &str| match many {
        0 => {}
        1 => open.push(format!("1 {one}")),
        many => open.push(format!("{many} {more}")),
    };
    say(import.questions.len(), "question is open", "questions are open");
    say(import.held.len(), "row is held", "rows are held");
    say(rejected(import), "row is not understood", "rows are not understood");
    open.extend(leavers_unmatched(import));
    (!open.is_empty()).then(|| open.join("; "))
}

/// That another number of leavers was told than there may be: the server refuses it.
fn leavers_unmatched(import: &ImportBody) -> Option<String> {
    let may_leave = import.absent + import.gone.len();
    let told = import.answers.leavers.filter(|told| *told != may_leave)?;
    Some(format!("{told} leavers are told, and {may_leave} are missing from the file or said to be gone"))
}

/// How many rows are not understood: one may be so for several reasons.
fn rejected(import: &ImportBody) -> usize {
    import.rejected.iter().map(|found| found.line).collect::<BTreeSet<_>>().len()
}

/// How an import that was only shown goes on.
pub(super) fn next(import: &ImportBody) -> String {
    let ImportBody { id, .. } = import;
    let mut page = Page::default();
    page.line("");
    match (import.status, import.kept_until) {
        (ImportStatus::Preview, Some(until)) => {
            page.line(&format!("Nothing is written. The server keeps this preview until {}.", moment(until)));
            if leavers_unmatched(import).is_none() {
                page.line(&format!("To carry this out: plumbline import --earlier {id} --confirm"));
            }
        }
        (ImportStatus::Confirmed, Some(until)) => page.line(&taken_back(import, until)),
        (status, _) => page.line(&format!("Import {id} is {status} already.")),
    }
    page.text
}

/// What came of an import that was carried out.
pub(super) fn done(import: &ImportBody) -> String {
    let mut page = Page::default();
    page.line("");
    let changed = import.updated.len() + import.completed.len();
    page.line(&format!(
        "Carried out: {} added, {changed} changed, {} left, {} added.",
        pupils(import.created.len()),
        import.leavers,
        classes(import.new_classes.len())
    ));
    if let Some(until) = import.kept_until {
        page.line(&taken_back(import, until));
    }
    page.text
}

/// What came of an import that was taken back.
pub(super) fn undone(import: &ImportBody) -> String {
    let changed = import.updated.len() + import.completed.len();
    format!(
        "Import {} is taken back: {} it added and {changed} it changed, {} it added, {} who had left.\n",
        import.id,
        pupils(import.created.len()),
        classes(import.new_classes.len()),
        import.leavers
    )
}

fn taken_back(import: &ImportBody, until: Instant) -> String {
    let ImportBody { id, .. } = import;
    format!("Until {} it can be taken back: plumbline import --undo {id}", moment(until))
}

fn pupils(many: usize) -> String {
    if many == 1 { "1 pupil".into() } else { format!("{many} pupils") }
}

fn classes(many: usize) -> String {
    if many == 1 { "1 class".into() } else { format!("{many} classes") }
}

/// What the file was read as, in a line.
fn read_as(import: &ImportBody) -> String {
    let what = match import.format {
        Format::Text => "a text file",
        Format::Workbook => "a workbook",
        Format::OneRoster => "a OneRoster archive",
        Format::TransferFile => "a Common Transfer File",
    };
    let mut parts = vec![format!("Read as {what}")];
    parts.extend(import.format_version.as_ref().map(|version| format!("version {version}")));
    parts.extend(import.encoding.clone());
    parts.extend(import.delimiter.as_deref().map(|delimiter| match delimiter {
        "," => "cells parted by commas".into(),
        ";" => "cells parted by semicolons".into(),
        "\t" => "cells parted by tabs".into(),
        other => format!("cells parted by {other}"),
    }));
    parts.extend(import.sheet.as_ref().map(|sheet| format!("sheet {sheet}")));
    if !import.other_sheets.is_empty() {
        parts.push(format!("not sheet {}", import.other_sheets.join(", ")));
    }
    parts.push(match import.header_line {
        0 => "no header found".into(),
        line => format!("header in line {line}"),
    });
    if import.changes_only {
        parts.push("changes only".into());
    }
    parts.push(format!("year groups of {}-{:02}", import.year, (import.year + 1).rem_euclid(100)));
    parts.join("; ")
}

type Cells = Vec<String>;

fn columns(import: &ImportBody) -> Vec<Cells> {
    let read = import.columns.iter().map(|column| {
        let optional = column.optional_field.clone().unwrap_or_else(|| "not read".to_owned());
        let field = column.field.map_or(optional, |field| field.to_string());
        vec![column.column.clone(), field, column.heading.clone()]
    });
    let missing = import.not_carried.iter();
    let missing = missing
        .map(|field| vec!["-".into(), field.to_string(), "not in the file; what is known stays".into()]);
    read.chain(missing).collect()
}

fn withheld(import: &ImportBody) -> Vec<Cells> {
    let columns = import.withheld.iter();
    columns.map(|column| vec![column.column.clone(), column.field.clone(), column.why.clone()]).collect()
}

fn question(question: &Question) -> Cells {
    match question {
        Question::Columns { why } => vec!["columns".into(), why.clone()],
        Question::DateOrder { cell, day_first, month_first, .. } => {
            let said = format!("{cell} is {day_first} with day_first, {month_first} with month_first");
            vec!["date_order".into(), said]
        }
        Question::YearGroups { column, outside, of } => {
            let said = format!(
                "column {column} puts {outside} of {of} pupils outside their year of birth; is it year_group or null?"
            );
            vec!["columns".into(), said]
        }
        Question::Hidden { rows, columns } => {
            let said = format!(
                "{} rows and {} columns are hidden ({}); include or leave_out?",
                rows.len(),
                columns.len(),
                rows.iter()
                    .map(ToString::to_string)
                    .chain(columns.iter().cloned())
                    .collect::<Vec<_>>()
                    .join(", ")
            );
            vec!["hidden".into(), said]
        }
    }
}

fn created(import: &ImportBody) -> Vec<Cells> {
    let row = import.created.iter();
    row.map(|row| {
        let optional = row.optional_fields.iter().map(|(field, value)| format!("{field} {value}"));
        vec![
            line(row.line),
            or_none(row.class_name.as_ref()),
            or_none(row.year_group.as_ref()),
            row.date_of_birth.map_or_else(|| "-".into(), |born| born.to_string()),
            row.name.clone(),
            optional.collect::<Vec<_>>().join(", "),
        ]
    })
    .collect()
}

fn changes(changes: &[ChangeBody]) -> Vec<Cells> {
    changes
        .iter()
        .flat_map(|change| {
            let fields = change.fields.iter().map(|one| (one.field.to_string(), &one.old, &one.new));
            let optional = change.optional_fields.iter().map(|one| (one.field.clone(), &one.old, &one.new));
            fields.chain(optional).map(move |(field, old, new)| {
                vec![
                    line(change.line),
                    or_none(change.class_name.as_ref()),
                    change.name.clone(),
                    format!("by {}", change.matched_by),
                    field,
                    format!("{} -> {}", or_none(old.as_ref()), or_none(new.as_ref())),
                ]
            })
        })
        .collect()
}

fn held(import: &ImportBody) -> Vec<Cells> {
    let candidates = import.held.iter().flat_map(|row| row.candidates.iter().map(move |one| (row, one)));
    candidates
        .map(|(row, one)| {
            let CandidateBody { pupil_id, matched_by, name, pupil_ref, date_of_birth, class_name } = one;
            let mut known = vec![name.clone()];
            known.extend(class_name.clone());
            known.extend(date_of_birth.map(|born| format!("born {born}")));
            known.extend(pupil_ref.as_ref().map(|known| format!("reference {known}")));
            let by = format!("by {matched_by}");
            vec![
                line(row.line),
                row.name.clone(),
                "may be".into(),
                pupil_id.to_string(),
                by,
                known.join(", "),
            ]
        })
        .collect()
}

fn missing(import: &ImportBody) -> Vec<Cells> {
    let pupils = import.missing.iter();
    pupils.map(|pupil| vec![or_none(pupil.class_name.as_ref()), pupil.name.clone()]).collect()
}

fn gone(import: &ImportBody) -> Vec<Cells> {
    let rows = import.gone.iter();
    rows.map(|row| {
        let from =
            row.class_name.as_ref().map_or_else(|| "from the school".into(), |class| format!("from {class}"));
        vec![line(row.line), row.name.clone(), from]
    })
    .collect()
}

fn finding(found: &Finding) -> Cells {
    let cell = found.cell.clone().unwrap_or_default();
    let field = found.field.map_or_else(String::new, |field| field.to_string());
    let likely = found.suggest.as_ref().map_or_else(String::new, |suggest| format!("; perhaps {suggest}"));
    vec![line(found.line), cell, field, format!("{}{likely}", found.message)]
}

fn numbers(import: &ImportBody) -> Vec<Cells> {
    let numbers = [
        ("rows", import.rows),
        ("to add", import.created.len()),
        ("to change", import.updated.len()),
        ("to complete", import.completed.len()),
        ("unchanged", import.unchanged),
        ("held", import.held.len()),
        ("repeated", import.repeats.len()),
        ("left out as answered", import.left_out.len()),
        ("not understood", rejected(import)),
        ("classes to add", import.new_classes.len()),
        ("pupils not in the file", import.absent),
        ("pupils said to have left", import.gone.len()),
        ("pupils who will leave", import.leavers),
    ];
    numbers.map(|(what, many)| vec![what.to_owned(), many.to_string()]).into()
}

fn line(n: u64) -> String {
    format!("line {n}")
}

fn or_none(text: Option<&String>) -> String {
    text.map_or_else(|| "-".to_owned(), Clone::clone)
}

/// A moment to the minute.
fn moment(at: Instant) -> String {
    let text = at.to_string();
    format!("{} UTC", text.get(..16).unwrap_or(&text).replace('T', " "))
}

/// Text as it grows.
#[derive(Default)]
struct Page {
    text: String,
}

impl Page {
    fn line(&mut self, line: &str) {
        self.text.push_str(&printable(line));
        self.text.push('\n');
    }

    /// Rows in columns under a title; nothing where there is no row.
    fn section(&mut self, title: &str, rows: &[Cells]) {
        let Some(columns) = rows.iter().map(Vec::len).max() else { return };
        let rows: Vec<Cells> =
            rows.iter().map(|row| row.iter().map(|cell| printable(cell)).collect()).collect();
        let width =
            |n: usize| rows.iter().filter_map(|row| row.get(n)).map(|cell| cell.chars().count()).max();
        let widths: Vec<usize> = (0..columns).map(|n| width(n).unwrap_or(0)).collect();
        self.text.push_str(&format!("\n{title}\n"));
        for row in &rows {
            let cells = row.iter().zip(&widths).filter(|(_, width)| **width > 0);
            let cells: String = cells.map(|(cell, width)| format!("  {cell:<width$}")).collect();
            self.text.push_str(cells.trim_end());
            self.text.push('\n');
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Page;

    #[test]
    fn rows_stand_in_columns_and_obey_nobody() {
        let mut page = Page::default();
        let row = |cells: [&str; 3]| cells.map(str::to_owned).to_vec();
        page.section("None", &[]);
        page.section("Some", &[row(["line 2", "", "Zoë\u{1b}[31m"]), row(["line 10", "", "Max\n0 faults"])]);
        assert_eq!(page.text, "\nSome\n  line 2   Zoë\\u{1b}[31m\n  line 10  Max\\u{a}0 faults\n");
    }
}
