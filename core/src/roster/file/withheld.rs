//! Columns of optional fields that the school has not switched on. Their cells are taken out before a
//! file is kept, for good: once the field is on, the file is sent again.

use std::collections::BTreeSet;

use serde::Serialize;

use super::{
    answers::Answers,
    cell::{Cell, Sheet},
    columns::{HEADER_WITHIN, Headings, heading_key},
    read::{Context, Reading, header},
};
use crate::rules::{OptionalField, RulePack};

/// A column that was not kept.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, serde::Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = WithheldColumn))]
pub struct Withheld {
    /// Its letters in a spreadsheet.
    pub column: String,
    /// Its heading, cleaned.
    pub heading: String,
    /// The optional field it is taken for.
    pub field: String,
    /// Why, for a person.
    pub why: String,
}

/// Takes out the cells below every heading that means an optional field which is not among those on.
/// Whether there were such columns that had not been taken out before.
#[must_use]
pub fn withhold(
    sheet: &mut Sheet,
    answers: &Answers,
    headings: &Headings,
    rules: &RulePack,
    on: &BTreeSet<String>,
) -> bool {
    let (at, _, fault) = header(sheet, answers, headings);
    // Where no line is known to be the header, any near the top may be. The first is read as one; in the
    // others a name may be spelled like a heading, so that there the cells below decide.
    let lines = if fault.is_none() { at..at + 1 } else { 0..HEADER_WITHIN };
    let mut found = Vec::new();
    for (line, cells) in lines.filter_map(|line| Some((line, &sheet.lines.get(line)?.cells))) {
        for (n, heading) in cells.iter().map(Cell::text).enumerate() {
            let off = rules.optional_field_by_heading(&heading).filter(|field| !on.contains(&field.field));
            let Some(field) = off else { continue };
            let taken = headings.get(&heading_key(&heading)).is_some_and(Option::is_some);
            let is_heading = fault.is_none() || line == at || says(sheet, line, n, field);
            if !taken && is_heading && !sheet.withheld.contains_key(&n) {
                found.push((line, n, field.field.clone()));
            }
        }
    }
    for (header, n, field) in &found {
        for cell in sheet.lines.iter_mut().skip(header + 1).filter_map(|line| line.cells.get_mut(*n)) {
            *cell = Cell::Text(String::new());
        }
        sheet.withheld.insert(*n, field.clone());
    }
    !found.is_empty()
}

/// Takes out the cells of columns that nothing was read from, for good: once a file is carried out nobody
/// needs them any more. Cells beyond the last column stay: a row is left out for them.
pub fn forget_unread(sheet: &mut Sheet, reading: &Reading) {
    let guarded = reading.columns.guarded();
    let unread = |n: &usize| {
        let column = reading.columns.0.get(*n).filter(|_| guarded != Some(*n));
        column.is_some_and(|column| column.field.is_none() && column.optional_field.is_none())
    };
    for line in sheet.lines.iter_mut().filter(|line| line.line > reading.header_line) {
        for n in (0..line.cells.len()).filter(unread) {
            line.cells[n] = Cell::Text(String::new());
        }
    }
}

/// Which columns are of optional fields: read where the field is on, unless somebody chose otherwise.
pub(super) fn optional_columns(sheet: &Sheet, answers: &Answers, context: Context<'_>, out: &mut Reading) {
    for (n, column) in out.columns.0.iter_mut().enumerate() {
        let (letters, heading) = (column.column.clone(), column.heading.clone());
        if let Some(field) = sheet.withheld.get(&n).cloned() {
            column.field = None;
            let why = "this school does not record it, so that nothing of the column was kept; once it is \
                       switched on, send the file again";
            out.withheld.push(Withheld { column: letters, heading, field, why: why.into() });
            continue;
        }
        let chosen =
            answers.column(&letters).is_some() || context.headings.contains_key(&heading_key(&heading));
        let known = context.rules.optional_field_by_heading(&heading).filter(|_| !chosen);
        column.optional_field =
            known.map(|known| known.field.clone()).filter(|field| context.on.contains(field));
    }
}

/// Whether a column says something, and nothing but values of a field.
fn says(sheet: &Sheet, header: usize, n: usize, field: &OptionalField) -> bool {
    let below = sheet.lines.iter().skip(header + 1).filter_map(|line| line.cells.get(n));
    let mut said = below.filter(|cell| !cell.is_empty()).peekable();
    said.peek().is_some() && said.all(|cell| field.value_by_spelling(&cell.text()).is_some())
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;
    use crate::roster::file::{Line, headings};

    fn sheet(lines: &[&str]) -> Sheet {
        let line = |(n, text): (u64, &&str)| Line {
            line: n,
            cells: text.split(',').map(|cell| Cell::Text(cell.to_owned())).collect(),
            ..Line::default()
        };
        Sheet { lines: (1..).zip(lines).map(line).collect(), ..Sheet::default() }
    }

    fn kept(lines: &[&str], answers: &Answers, on: &[&str]) -> (Vec<String>, Vec<usize>) {
        let rules = crate::rules::pack("england").unwrap();
        let mut sheet = sheet(lines);
        let on = on.iter().map(|field| (*field).to_owned()).collect();
        let headings = headings(rules, &BTreeMap::new());
        let found = withhold(&mut sheet, answers, &headings, rules, &on);
        assert_eq!(found, !sheet.withheld.is_empty());
        assert!(!withhold(&mut sheet, answers, &headings, rules, &on), "once is enough");
        let text = |line: &Line| line.cells.iter().map(Cell::text).collect::<Vec<_>>().join(",");
        (sheet.lines.iter().map(text).collect(), sheet.withheld.into_keys().collect())
    }

    #[test]
    fn what_nothing_was_read_from_is_forgotten() {
        let rules = crate::rules::pack("england").unwrap();
        let mut sheet = sheet(&[
            "Forename,Address,Surname,Sex,Religion,guarded",
            "Zoe,1 Mill Lane,Bell,F,none,given_name",
            "Max,2 Mill Lane,Bell,M,none,,more",
        ]);
        let (headings, answers) = (headings(rules, &BTreeMap::new()), Answers::default());
        let on = &BTreeSet::from(["sex".to_owned()]);
        let today = "2026-11-25".parse().unwrap();
        let context = Context { rules, headings: &headings, today, year: 2026, on };
        let reading = super::super::read(&sheet, &answers, context);
        forget_unread(&mut sheet, &reading);
        let text = |line: &Line| line.cells.iter().map(Cell::text).collect::<Vec<_>>().join(",");
        let kept: Vec<String> = sheet.lines.iter().map(text).collect();
        assert_eq!(
            kept,
            [
                "Forename,Address,Surname,Sex,Religion,guarded",
                "Zoe,,Bell,F,,given_name",
                "Max,,Bell,M,,,more"
            ]
        );
    }

    #[test]
    fn cells_below_a_heading_that_is_off_are_taken_out() {
        let file = ["Class list,,,", "Forename,Sex,Gender,SEN status", "Zoe,F,girl,K", "Max,M,boy,anything"];
        let (lines, columns) = kept(&file, &Answers::default(), &[]);
        assert_eq!(lines, ["Class list,,,", "Forename,Sex,Gender,SEN status", "Zoe,,,", "Max,,,"]);
        assert_eq!(columns, [1, 2, 3]);
        let (lines, columns) = kept(&file, &Answers::default(), &["sex"]);
        assert_eq!((lines[2].as_str(), columns), ("Zoe,F,girl,", vec![3]));
        assert_eq!(kept(&file, &Answers::default(), &["sex", "sen"]).1, Vec::<usize>::new());
    }

    #[test]
    fn without_a_header_only_columns_of_such_values_are() {
        let file = ["Autumn,", "Moniker,SEN", "Zoe,K", "Max,N"];
        assert_eq!(kept(&file, &Answers::default(), &[]).0, ["Autumn,", "Moniker,SEN", "Zoe,", "Max,"]);
        // The first line is read as a header, whatever else is in the column.
        let first = ["Moniker,SEN", "Zoe,anything"];
        assert_eq!(kept(&first, &Answers::default(), &[]).0, ["Moniker,SEN", "Zoe,"]);
        // A family name that reads like a heading.
        let names = ["Ada,Bell", "Bo,Sen", "Ida,Reyes"];
        assert_eq!(kept(&names, &Answers::default(), &[]).0, names);
        // Pointed at, it is a heading.
        let pointed = Answers { header_line: Some(2), ..Answers::default() };
        assert_eq!(kept(&names, &pointed, &[]).0, ["Ada,Bell", "Bo,Sen", "Ida,"]);
    }
}
