//! A table of answers carried in, from a file: who in the first columns, then a column a GPC.
//! Nobody is guessed: a line that does not say whose it is, or says it of two, is refused.

use std::collections::{BTreeMap, BTreeSet};

use super::{Outcome, carried::CarriedRow};
use crate::{
    id::{ItemId, PupilId},
    roster::{
        Field, Upn,
        file::{
            Cell, DateOrder, Dates, Headings, Line, Sheet, Written, column_letters, heading_key, identifier,
            in_order,
        },
    },
    rules::CarriedCells,
    sequence::{Content, Fault, Gpc, Item},
    text::search_key,
    time::Date,
};

/// A pupil of the group, as the school knows it.
#[derive(Clone, Debug, Default)]
pub struct KnownPupil {
    /// The school's reference.
    pub reference: Option<String>,
    /// Unique pupil number.
    pub upn: Option<Upn>,
    /// First name; empty where only a family name is known.
    pub given_name: String,
    /// Family name.
    pub family_name: Option<String>,
    /// Name the pupil is called by.
    pub preferred_name: Option<String>,
    /// Date of birth.
    pub born: Option<Date>,
}

/// What a file is read against.
#[derive(Clone, Copy, Debug)]
pub struct SheetContext<'a> {
    /// The sequence version whose GPCs the columns are.
    pub content: &'a Content,
    /// The group's pupils.
    pub members: &'a BTreeMap<PupilId, KnownPupil>,
    /// What headings of pupil files mean.
    pub headings: &'a Headings,
    /// How cells are spelled.
    pub cells: &'a CarriedCells,
    /// Today at the school.
    pub today: Date,
}

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Column {
    Who(Field),
    Answer(ItemId),
    /// Without a heading, as spreadsheets leave them at the end.
    Nothing,
}

/// Reads a table. The first line is the header.
///
/// # Errors
/// Every fault, as `line 4.C4`; no cell of a pupil's is repeated.
pub fn read_carried(sheet: &Sheet, context: SheetContext<'_>) -> Result<Vec<CarriedRow>, Vec<Fault>> {
    let Some((header, lines)) = sheet.lines.split_first() else {
        return Err(vec![Fault { field: "file".into(), message: "is empty".into() }]);
    };
    let columns = columns(header, context)?;
    let born = columns.iter().position(|column| *column == Column::Who(Field::DateOfBirth));
    let dates = lines.iter().filter_map(|line| line.cells.get(born?)).map(Written::read);
    let reading = Reading { columns: &columns, order: Dates::of(dates).order(), context };
    let (mut rows, mut faults) = (Vec::new(), Vec::new());
    let mut met: BTreeMap<PupilId, u64> = BTreeMap::new();
    for line in lines {
        match reading.row(line) {
            Ok(row) => {
                if let Some(first) = met.insert(row.pupil, row.place) {
                    let message = format!("means the pupil that line {first} means");
                    faults.push(Fault { field: format!("line {}", line.line), message });
                }
                rows.push(row);
            }
            Err(found) => faults.extend(found),
        }
    }
    if faults.is_empty() { Ok(rows) } else { Err(faults) }
}

fn columns(header: &Line, context: SheetContext<'_>) -> Result<Vec<Column>, Vec<Fault>> {
    let gpcs: Vec<&Item> = context.content.items().filter(|item| item.gpc.is_some()).collect();
    let (mut columns, mut faults) = (Vec::new(), Vec::new());
    for (n, cell) in header.cells.iter().enumerate() {
        let heading = cell.text();
        let field = context.headings.get(&heading_key(&heading)).copied().flatten();
        let found = match field {
            Some(field) => Ok(Column::Who(field)),
            None if cell.is_empty() => {
                columns.push(Column::Nothing);
                continue;
            }
            None => gpc(&heading, &gpcs).map(Column::Answer),
        };
        let found = found.and_then(|column| match columns.iter().position(|known| *known == column) {
            Some(first) => Err(format!("means the same as column {}", column_letters(first))),
            None => Ok(column),
        });
        match found {
            Ok(column) => columns.push(column),
            Err(message) => {
                faults.push(Fault {
                    field: format!("line {}.{}{}", header.line, column_letters(n), header.line),
                    message,
                });
            }
        }
    }
    let whole = |message: &str| Fault { field: format!("line {}", header.line), message: message.into() };
    let has = |field| columns.contains(&Column::Who(field));
    let named = (has(Field::GivenName) || has(Field::FamilyName)) && has(Field::DateOfBirth);
    if faults.is_empty() && !(has(Field::Upn) || has(Field::PupilRef) || named) {
        faults.push(whole("needs a column pupil_ref or upn, or the name and date_of_birth"));
    }
    if faults.is_empty() && !columns.iter().any(|column| matches!(column, Column::Answer(_))) {
        faults.push(whole("has no column of a GPC"));
    }
    if faults.is_empty() { Ok(columns) } else { Err(faults) }
}

/// The GPC a heading names: by its label, as `ai:eɪ`, or by its grapheme where only one has it.
fn gpc(heading: &str, gpcs: &[&Item]) -> Result<ItemId, String> {
    if let Some(item) = gpcs.iter().find(|item| item.label.as_str() == heading) {
        return Ok(item.id);
    }
    let pair = heading.split_once(':').or_else(|| {
        let (grapheme, phoneme) = heading.split_once('/')?;
        Some((grapheme, phoneme.strip_suffix('/')?))
    });
    if let Some((grapheme, phoneme)) = pair {
        let (gpc, faults) = Gpc { grapheme: grapheme.into(), phoneme: phoneme.into() }.settled();
        let found = gpcs.iter().find(|item| faults.is_empty() && item.gpc.as_ref() == Some(&gpc));
        return found.map(|item| item.id).ok_or_else(|| unknown(gpcs));
    }
    let grapheme = heading.to_lowercase();
    let mut found: Vec<&&Item> = Vec::new();
    for item in gpcs.iter().filter(|item| item.gpc.as_ref().is_some_and(|gpc| gpc.grapheme == grapheme)) {
        if !found.iter().any(|known| known.id == item.id) {
            found.push(item);
        }
    }
    match found.as_slice() {
        [] => Err(unknown(gpcs)),
        [one] => Ok(one.id),
        several => {
            let labels: Vec<&str> = several.iter().map(|item| item.label.as_str()).collect();
            Err(format!("stands for several GPCs: write {}", labels.join(" or ")))
        }
    }
}

fn unknown(gpcs: &[&Item]) -> String {
    let first: Vec<&str> = gpcs.iter().take(3).map(|item| item.label.as_str()).collect();
    format!(
        "is neither a GPC of the group's sequence, such as {}, nor a column that says whose a line is",
        first.join(", ")
    )
}

struct Reading<'a> {
    columns: &'a [Column],
    order: Option<DateOrder>,
    context: SheetContext<'a>,
}

/// What a line says of whose it is.
#[derive(Default)]
struct Who {
    upn: Option<Upn>,
    reference: Option<String>,
    given: Option<String>,
    family: Option<String>,
    preferred: Option<String>,
    born: Option<Date>,
}

impl Reading<'_> {
    fn row(&self, line: &Line) -> Result<CarriedRow, Vec<Fault>> {
        let (mut who, mut answers, mut faults) = (Who::default(), Vec::new(), Vec::new());
        for (n, cell) in line.cells.iter().enumerate().filter(|(_, cell)| !cell.is_empty()) {
            let done = match self.columns.get(n) {
                None | Some(Column::Nothing) => Err("stands under no heading".into()),
                Some(Column::Who(field)) => self.who(&mut who, *field, cell),
                Some(Column::Answer(item)) => self.answer(cell).map(|outcome| answers.push((*item, outcome))),
            };
            if let Err(message) = done {
                let field = format!("line {}.{}{}", line.line, column_letters(n), line.line);
                faults.push(Fault { field, message });
            }
        }
        if !faults.is_empty() {
            return Err(faults);
        }
        let pupil = self
            .whose(&who)
            .map_err(|message| vec![Fault { field: format!("line {}", line.line), message }])?;
        Ok(CarriedRow { place: line.line, pupil, answers })
    }

    fn who(&self, who: &mut Who, field: Field, cell: &Cell) -> Result<(), String> {
        let key = || Some(search_key(&cell.text()));
        match field {
            Field::PupilRef => who.reference = identifier(cell).map_err(|_| "is damaged by a spreadsheet")?,
            Field::Upn => who.upn = Some(Upn::new(&cell.text()).map_err(|error| error.to_string())?),
            Field::GivenName => who.given = key(),
            Field::FamilyName => who.family = key(),
            Field::PreferredName => who.preferred = key(),
            Field::DateOfBirth => who.born = Some(self.born(cell)?),
            // Where a pupil belongs is the roster's to say.
            Field::YearGroup | Field::ClassName => {}
        }
        Ok(())
    }

    fn born(&self, cell: &Cell) -> Result<Date, String> {
        let day = match (Written::read(cell), self.order) {
            (Written::Plain(day), _) => Some(day),
            (written, Some(order)) => in_order(written, order, self.context.today),
            (Written::Slashed { .. }, None) => {
                return Err("may be read day first or month first; write 2020-05-31".into());
            }
            _ => None,
        };
        day.ok_or_else(|| "is not a date; write 2020-05-31".into())
    }

    fn answer(&self, cell: &Cell) -> Result<Outcome, String> {
        let cells = self.context.cells;
        let text = cell.text().to_lowercase();
        let means = [
            (&cells.right, Outcome::Right),
            (&cells.wrong, Outcome::Wrong),
            (&cells.no_response, Outcome::NoResponse),
            (&cells.not_offered, Outcome::NotOffered),
        ];
        let found = means.iter().find(|(spellings, _)| spellings.contains(&text));
        found.map(|(_, outcome)| *outcome).ok_or_else(|| {
            let all: Vec<String> = means
                .iter()
                .map(|(spellings, outcome)| format!("{outcome}: {}", spellings.join(", ")))
                .collect();
            format!("write {}; leave it empty to say nothing", all.join("; "))
        })
    }

    /// The one pupil of the group that everything a line says agrees with.
    fn whose(&self, who: &Who) -> Result<PupilId, String> {
        let named = (who.given.is_some() || who.family.is_some()) && who.born.is_some();
        if who.upn.is_none() && who.reference.is_none() && !named {
            return Err("does not say whose it is: a pupil_ref, a UPN, or name and date of birth".into());
        }
        let members = self.context.members.iter();
        let found: BTreeSet<PupilId> =
            members.filter(|(_, known)| agrees(who, known)).map(|(pupil, _)| *pupil).collect();
        match (found.first(), found.len()) {
            (Some(pupil), 1) => Ok(*pupil),
            (None, _) => Err("is about nobody in the group: nobody agrees with all it says".into()),
            _ => Err("may be about several pupils of the group: give the pupil_ref or UPN".into()),
        }
    }
}

/// Whether all a line says is what the school knows. Only of a pupil known by a number may the
/// date of birth be unknown.
fn agrees(who: &Who, known: &KnownPupil) -> bool {
    let numbered = who.upn.is_some() || who.reference.is_some();
    let (family, preferred) = (known.family_name.as_deref(), known.preferred_name.as_deref());
    let is = |name: Option<&str>, key: &str| name.is_some_and(|name| search_key(name) == key);
    who.upn.as_ref().is_none_or(|upn| known.upn.as_ref() == Some(upn))
        && who.reference.as_ref().is_none_or(|reference| known.reference.as_ref() == Some(reference))
        && who.given.as_ref().is_none_or(|key| is(Some(&known.given_name), key) || is(preferred, key))
        && who.family.as_ref().is_none_or(|key| is(family, key))
        && who.preferred.as_ref().is_none_or(|key| is(preferred, key) || is(Some(&known.given_name), key))
        && who.born.is_none_or(|day| known.born.map_or(numbered, |born| born == day))
}

#[cfg(test)]
mod tests;
