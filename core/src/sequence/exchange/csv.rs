//! A draft as rows of cells: one an item. A lesson or step that holds nothing has a row of
//! its own with the rest empty.

use crate::{
    id::Id,
    sequence::{Draft, DraftItem, DraftLesson, DraftStep, Fault, Gpc, ItemKind},
    spreadsheet::{guarded, unguarded},
    text::Title,
};

/// The columns, in order.
///
/// - `step`, `lesson`: numbers that group rows: a new one begins where the number grows.
/// - `step_title`, `step_id`, `lesson_title`, `lesson_id`: the same on every row of one.
/// - `kind`: of the item, as in the API; empty where a lesson teaches nothing.
/// - `grapheme`, `phoneme`, `keyword`: of a GPC.
/// - `label`: as shown; needed but for a GPC.
/// - `item_id`: of the item. Leave ids empty for what is new.
pub const COLUMNS: [&str; 12] = [
    "step",
    "step_title",
    "step_id",
    "lesson",
    "lesson_title",
    "lesson_id",
    "kind",
    "grapheme",
    "phoneme",
    "label",
    "keyword",
    "item_id",
];

/// The cells of one row.
pub type Cells = [String; 12];

/// The rows of a draft, without the header.
pub fn write(draft: &Draft) -> Vec<Cells> {
    let mut rows = Vec::new();
    for (s, step) in draft.steps.iter().enumerate() {
        let mut head: Cells = Cells::default();
        head[0] = (s + 1).to_string();
        head[1] = guarded(step.title.as_str());
        head[2] = id_text(step.id);
        if step.lessons.is_empty() {
            rows.push(head);
            continue;
        }
        for (l, lesson) in step.lessons.iter().enumerate() {
            let mut head = head.clone();
            head[3] = (l + 1).to_string();
            head[4] = guarded(lesson.title.as_str());
            head[5] = id_text(lesson.id);
            if lesson.items.is_empty() {
                rows.push(head);
                continue;
            }
            rows.extend(lesson.items.iter().map(|item| item_cells(head.clone(), item)));
        }
    }
    rows
}

fn item_cells(mut row: Cells, item: &DraftItem) -> Cells {
    row[6] = item.kind.to_string();
    if let Some(gpc) = &item.gpc {
        row[7] = guarded(&gpc.grapheme);
        row[8] = guarded(&gpc.phoneme);
    }
    row[9] = guarded(item.label.as_ref().map_or("", Title::as_str));
    row[10] = guarded(item.keyword.as_ref().map_or("", Title::as_str));
    row[11] = id_text(item.id);
    row
}

fn id_text<K>(id: Option<Id<K>>) -> String {
    id.map_or_else(String::new, |id| id.to_string())
}

/// A draft that was read, and the line of each step, lesson and item.
#[derive(Debug, Default)]
pub struct ReadDraft {
    /// The draft.
    pub draft: Draft,
    /// Its places, as in `steps[2].lessons[0]`, with their lines.
    pub lines: Vec<(String, u64)>,
}

impl ReadDraft {
    /// A complaint about the draft, with the line of the file it is about.
    #[must_use]
    pub fn located(lines: &[(String, u64)], fault: Fault) -> Fault {
        let within = |place: &str| {
            let rest = fault.field.strip_prefix(place);
            rest.is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
        };
        let line = lines.iter().filter(|(place, _)| within(place)).max_by_key(|(place, _)| place.len());
        match line {
            Some((_, line)) => Fault { message: format!("{} (line {line})", fault.message), ..fault },
            None => fault,
        }
    }
}

/// Reads rows, each with its line in the file.
///
/// # Errors
/// Every fault found, its field being line and column, as in `line 7.kind`.
pub fn read(rows: &[(u64, Cells)]) -> Result<ReadDraft, Vec<Fault>> {
    let mut reading = Reading::default();
    for (line, cells) in rows {
        reading.row(&Row { line: *line, cells });
    }
    if reading.faults.is_empty() { Ok(reading.read) } else { Err(reading.faults) }
}

#[derive(Default)]
struct Reading {
    read: ReadDraft,
    /// Numbers of the step and lesson the row before belonged to.
    at: (u32, u32),
    faults: Vec<Fault>,
}

struct Row<'a> {
    line: u64,
    cells: &'a Cells,
}

impl Row<'_> {
    fn fault(&self, column: usize, message: impl Into<String>) -> Fault {
        Fault { field: format!("line {}.{}", self.line, COLUMNS[column]), message: message.into() }
    }

    fn title(&self, column: usize) -> Result<Title, Fault> {
        Title::new(unguarded(&self.cells[column])).map_err(|error| self.fault(column, error.to_string()))
    }

    fn title_or_none(&self, column: usize) -> Result<Option<Title>, Fault> {
        if self.cells[column].trim().is_empty() { Ok(None) } else { self.title(column).map(Some) }
    }

    fn id<K>(&self, column: usize) -> Result<Option<Id<K>>, Fault> {
        match self.cells[column].trim() {
            "" => Ok(None),
            text => text.parse().map(Some).map_err(|_| self.fault(column, "is not an id")),
        }
    }

    fn number(&self, column: usize) -> Result<u32, Fault> {
        let number = self.cells[column].trim().parse().ok().filter(|number| *number > 0);
        number.ok_or_else(|| self.fault(column, "must be a whole number from 1"))
    }

    fn empty_from(&self, column: usize, why: &str) -> Result<(), Fault> {
        let filled = (column..COLUMNS.len()).find(|n| !self.cells[*n].trim().is_empty());
        filled.map_or(Ok(()), |n| Err(self.fault(n, format!("must be empty: {why}"))))
    }

    fn item(&self) -> Result<DraftItem, Fault> {
        let kind = ItemKind::parse(self.cells[6].trim()).ok_or_else(|| {
            let kinds: Vec<&str> = ItemKind::ALL.iter().map(|kind| kind.as_str()).collect();
            self.fault(6, format!("must be one of {}", kinds.join(", ")))
        })?;
        let (grapheme, phoneme) = (unguarded(&self.cells[7]), unguarded(&self.cells[8]));
        let gpc = (!grapheme.is_empty() || !phoneme.is_empty())
            .then(|| Gpc { grapheme: grapheme.to_owned(), phoneme: phoneme.to_owned() });
        Ok(DraftItem {
            id: self.id(11)?,
            kind,
            label: self.title_or_none(9)?,
            gpc,
            keyword: self.title_or_none(10)?,
        })
    }
}

impl Reading {
    fn row(&mut self, row: &Row<'_>) {
        if let Err(fault) = self.try_row(row) {
            self.faults.push(fault);
        }
    }

    fn try_row(&mut self, row: &Row<'_>) -> Result<(), Fault> {
        self.step(row)?;
        if row.cells[3].trim().is_empty() {
            row.empty_from(4, "the row names no lesson")?;
            let empty = self.read.draft.steps.last().is_some_and(|step| step.lessons.is_empty());
            return if empty { Ok(()) } else { Err(row.fault(3, "is missing")) };
        }
        let began = self.lesson(row)?;
        if row.cells[6].trim().is_empty() {
            row.empty_from(7, "the row names no kind")?;
            return if began { Ok(()) } else { Err(row.fault(6, "is missing")) };
        }
        let item = row.item()?;
        if let Some(step) = self.read.draft.steps.len().checked_sub(1)
            && let Some(lesson) = self.read.draft.steps[step].lessons.len().checked_sub(1)
        {
            let items = &mut self.read.draft.steps[step].lessons[lesson].items;
            let place = format!("steps[{step}].lessons[{lesson}].items[{}]", items.len());
            self.read.lines.push((place, row.line));
            items.push(item);
        }
        Ok(())
    }

    /// Goes to the row's step, which the number says is the last one or a new one.
    fn step(&mut self, row: &Row<'_>) -> Result<(), Fault> {
        let (number, title, id) = (row.number(0)?, row.title(1)?, row.id(2)?);
        if number < self.at.0 {
            return Err(row.fault(0, "is lower than in the row before"));
        }
        if number > self.at.0 {
            self.at = (number, 0);
            self.read.lines.push((format!("steps[{}]", self.read.draft.steps.len()), row.line));
            self.read.draft.steps.push(DraftStep { id, title, lessons: Vec::new() });
            return Ok(());
        }
        let same = |step: &DraftStep| (step.title == title, step.id == id);
        match self.read.draft.steps.last().map(same) {
            Some((false, _)) => Err(row.fault(1, "differs from an earlier row of this step")),
            Some((_, false)) => Err(row.fault(2, "differs from an earlier row of this step")),
            _ => Ok(()),
        }
    }

    /// Goes to the row's lesson; whether it is new.
    fn lesson(&mut self, row: &Row<'_>) -> Result<bool, Fault> {
        let (number, title, id) = (row.number(3)?, row.title(4)?, row.id(5)?);
        if number < self.at.1 {
            return Err(row.fault(3, "is lower than in the row before"));
        }
        let step = self.read.draft.steps.len().saturating_sub(1);
        let Some(lessons) = self.read.draft.steps.last_mut().map(|step| &mut step.lessons) else {
            return Err(row.fault(0, "is missing"));
        };
        if number > self.at.1 {
            self.at.1 = number;
            self.read.lines.push((format!("steps[{step}].lessons[{}]", lessons.len()), row.line));
            lessons.push(DraftLesson { id, title, items: Vec::new() });
            return Ok(true);
        }
        let same = |lesson: &DraftLesson| (lesson.title == title, lesson.id == id);
        match lessons.last().map(same) {
            Some((false, _)) => Err(row.fault(4, "differs from an earlier row of this lesson")),
            Some((_, false)) => Err(row.fault(5, "differs from an earlier row of this lesson")),
            _ => Ok(false),
        }
    }
}
