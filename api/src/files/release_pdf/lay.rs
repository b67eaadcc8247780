//! The lines of a release, one under the other, before it is known on which page each stands.

use plumbline_core::report::paper::{BASIS, Bar, INSTEAD, Line, Measured, NOTHING, Paper, SAYS, Said};

use super::text::{NO_LETTER, Set, Setter, Style};

/// A sheet of A4 and what of it is printed on, in points.
pub const SHEET: (f32, f32) = (595.28, 841.89);
pub const MARGIN: f32 = 40.0;
pub const WIDTH: f32 = SHEET.0 - 2.0 * MARGIN;
/// How wide the bars are.
pub const DRAWN: f32 = 150.0;
/// Between a cell's text and the next.
const GAP: f32 = 6.0;
/// Above and below the text of a row.
pub const PAD: f32 = 1.2;

/// One thing under the other.
pub struct Item {
    pub what: What,
    /// With the room below it.
    pub height: f32,
    /// Whether the next stands on the same page.
    pub keep: bool,
}

pub enum What {
    Heading {
        level: u16,
        text: String,
        set: Set,
    },
    Paragraph(Set),
    /// A row of a table, by the table's number.
    Row(usize, Row),
}

/// What a cell of a table is to the others.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Is {
    ColumnHead,
    RowHead,
    Figure,
}

pub struct Cell {
    pub is: Is,
    pub span: u32,
    /// Each from so far to the right.
    pub texts: Vec<(f32, Set)>,
}

/// What stands where bars are drawn.
pub enum Drawn {
    Nothing,
    Axis(Vec<(f32, Set)>),
    Bar(Bar),
}

pub struct Row {
    pub cells: Vec<Cell>,
    pub drawn: Drawn,
}

impl Row {
    /// Whether it heads its table, and is repeated where that goes on.
    pub fn is_head(&self) -> bool {
        matches!(self.drawn, Drawn::Axis(_))
    }

    pub fn text_height(&self) -> f32 {
        let texts = self.cells.iter().flat_map(|cell| &cell.texts);
        texts.map(|(_, set)| set.height()).fold(0.0, f32::max)
    }
}

/// Lays a release out in this size of letters, in points.
pub fn lay(paper: &Paper, size: f32, setter: &mut Setter) -> Vec<Item> {
    let mut laid = Laid { size, setter, items: Vec::new() };
    laid.heading(1, &paper.title);
    laid.paragraph(paper.readers, true, 1.0);
    laid.paragraph(&paper.as_of, false, 1.0);
    laid.heading(2, SAYS);
    for said in &paper.says {
        laid.paragraph(said, false, 1.0);
    }
    for (table, measure) in paper.measures.iter().enumerate() {
        laid.heading(2, &measure.name);
        for said in std::iter::once(&measure.means).chain(&measure.notes) {
            laid.paragraph(said, false, 1.0);
            laid.keep();
        }
        laid.table(table, measure);
    }
    if !paper.nothing.is_empty() {
        laid.heading(2, NOTHING);
    }
    for said in &paper.nothing {
        laid.paragraph(said, false, 1.0);
    }
    if !paper.symbols.is_empty() {
        laid.heading(2, INSTEAD);
    }
    for (code, label) in &paper.symbols {
        laid.paragraph(&format!("{code}: {label}"), false, 0.9);
    }
    laid.heading(2, BASIS);
    for said in &paper.basis {
        laid.paragraph(said, false, 0.9);
    }
    if laid.setter.misses {
        laid.paragraph(&format!("{NO_LETTER}: a letter of which this file has no shape"), false, 0.9);
    }
    laid.items
}

struct Laid<'a> {
    size: f32,
    setter: &'a mut Setter,
    items: Vec<Item>,
}

impl Laid<'_> {
    fn style(&self, bold: bool, right: bool) -> Style {
        Style { size: self.size, bold, right }
    }

    fn heading(&mut self, level: u16, text: &str) {
        let times = if level == 1 { 1.6 } else { 1.2 };
        let style = Style { size: self.size * times, bold: true, right: false };
        let set = self.setter.set(text, style, WIDTH);
        let height = set.height() + 2.0;
        if level > 1 {
            self.room(self.size * 0.6);
        }
        self.items.push(Item {
            what: What::Heading { level, text: text.to_owned(), set },
            height,
            keep: true,
        });
    }

    fn paragraph(&mut self, text: &str, bold: bool, times: f32) {
        let style = Style { size: self.size * times, bold, right: false };
        let set = self.setter.set(text, style, WIDTH);
        let height = set.height() + self.size * 0.2;
        self.items.push(Item { what: What::Paragraph(set), height, keep: false });
    }

    /// Room below what stands last.
    fn room(&mut self, height: f32) {
        if let Some(last) = self.items.last_mut() {
            last.height += height;
        }
    }

    fn keep(&mut self) {
        if let Some(last) = self.items.last_mut() {
            last.keep = true;
        }
    }

    fn table(&mut self, table: usize, measure: &Measured) {
        let widths: Vec<f32> = (0..measure.columns.len()).map(|column| self.wide(measure, column)).collect();
        let names = WIDTH - DRAWN - GAP - widths.iter().map(|width| width + GAP).sum::<f32>();
        let starts: Vec<f32> = widths
            .iter()
            .scan(names + GAP, |next, width| Some(std::mem::replace(next, *next + width + GAP)))
            .collect();
        let head = self.head(measure, names, &starts, &widths);
        self.row(table, head, true);
        for part in &measure.parts {
            if let Some(by) = &part.by {
                let set = self.setter.set(by, self.style(true, false), WIDTH - DRAWN - GAP);
                let span = count(measure.columns.len() + 1);
                let cells = vec![Cell { is: Is::RowHead, span, texts: vec![(0.0, set)] }];
                self.row(table, Row { cells, drawn: Drawn::Nothing }, true);
            }
            for line in &part.lines {
                let row = self.line(line, names, &starts, &widths);
                self.row(table, row, false);
            }
        }
    }

    /// How wide a column is: as its heading or what is longest in it.
    fn wide(&mut self, measure: &Measured, column: usize) -> f32 {
        let lines = measure.parts.iter().flat_map(|part| &part.lines);
        let told = lines.filter_map(|line| match &line.said {
            Said::Figure { cells, .. } => cells.get(column),
            Said::Instead(..) => None,
        });
        let longest = told.max_by_key(|cell| cell.chars().count()).map_or("", String::as_str);
        let texts = [(measure.columns.get(column).copied().unwrap_or_default(), true), (longest, false)];
        let widths = texts.map(|(text, bold)| self.setter.set(text, self.style(bold, false), WIDTH).width());
        // What fits to a hair may be broken all the same.
        widths[0].max(widths[1]) + 1.0
    }

    fn row(&mut self, table: usize, row: Row, keep: bool) {
        let height = row.text_height() + 2.0 * PAD;
        self.items.push(Item { what: What::Row(table, row), height, keep });
    }

    fn head(&mut self, measure: &Measured, names: f32, starts: &[f32], widths: &[f32]) -> Row {
        let group = self.setter.set("Group", self.style(true, false), names);
        let mut cells = vec![Cell { is: Is::ColumnHead, span: 1, texts: vec![(0.0, group)] }];
        for (heading, (start, width)) in measure.columns.iter().zip(starts.iter().zip(widths)) {
            let set = self.setter.set(heading, self.style(true, true), *width);
            cells.push(Cell { is: Is::ColumnHead, span: 1, texts: vec![(*start, set)] });
        }
        let third = DRAWN / 3.0;
        let small = |right| Style { size: self.size * 0.8, bold: false, right };
        let middle = self.setter.set("50", small(false), third);
        let centre = (DRAWN - middle.width()) / 2.0;
        let axis = vec![
            (0.0, self.setter.set("0", small(false), third)),
            (centre, middle),
            (DRAWN - third, self.setter.set("100%", small(true), third)),
        ];
        Row { cells, drawn: Drawn::Axis(axis) }
    }

    fn line(&mut self, line: &Line, names: f32, starts: &[f32], widths: &[f32]) -> Row {
        let name = self.setter.set(&line.name, self.style(false, false), names);
        let mut cells = vec![Cell { is: Is::RowHead, span: 1, texts: vec![(0.0, name)] }];
        let right = self.style(false, true);
        let drawn = match &line.said {
            Said::Figure { cells: told, bar } => {
                for (text, (start, width)) in told.iter().zip(starts.iter().zip(widths)) {
                    let set = self.setter.set(text, right, *width);
                    cells.push(Cell { is: Is::Figure, span: 1, texts: vec![(*start, set)] });
                }
                Drawn::Bar(*bar)
            }
            Said::Instead(symbol, word) => {
                let from = names + GAP;
                let code = self.setter.set(symbol.as_str(), right, WIDTH - DRAWN - GAP - from);
                let word = self.setter.set(word, self.style(false, false), DRAWN);
                let texts = vec![(from, code), (WIDTH - DRAWN, word)];
                cells.push(Cell { is: Is::Figure, span: count(starts.len()), texts });
                Drawn::Nothing
            }
        };
        Row { cells, drawn }
    }
}

fn count(columns: usize) -> u32 {
    u32::try_from(columns).unwrap_or(1)
}
