//! A release as people read it: its headings, words, rows and bars, for every form of it that is looked at. What is left
//! out is left out here, once: a row without a figure has a word, and nothing a bar could be drawn of.

use super::{
    national::Published,
    release::{By, Figure, Release, Row, Symbol, Table},
};
use crate::{
    disclosure::{Audience, Percent, PercentIs},
    time,
};

/// Above [`Paper::says`].
pub const SAYS: &str = "What it says, and what it does not";
/// Above [`Paper::nothing`].
pub const NOTHING: &str = "Of these there is no figure";
/// Above [`Paper::symbols`].
pub const INSTEAD: &str = "In the place of a figure";
/// Above [`Paper::basis`].
pub const BASIS: &str = "What it rests on";

/// A release in words, in the order in which it is read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Paper {
    /// What it is called.
    pub title: String,
    /// For whom it is, and how it may be passed on.
    pub readers: &'static str,
    /// As of which day.
    pub as_of: String,
    /// What it says and what it does not.
    pub says: Vec<String>,
    /// Measures of which there is any figure.
    pub measures: Vec<Measured>,
    /// A line of each measure of which there is none, and why.
    pub nothing: Vec<String>,
    /// What stands in the place of figures, and what that means.
    pub symbols: Vec<(String, String)>,
    /// What the figures rest on.
    pub basis: Vec<String>,
}

/// One measure.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Measured {
    /// As told.
    pub name: String,
    /// What it means.
    pub means: String,
    /// What else is to be said of it, published figures too.
    pub notes: Vec<String>,
    /// Headings of what is told of each group: only what is told of any.
    pub columns: Vec<&'static str>,
    /// The school, then each breakdown.
    pub parts: Vec<Part>,
}

/// The school, or the groups of one breakdown.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Part {
    /// By what pupils are told apart; none for the school.
    pub by: Option<String>,
    /// Its groups.
    pub lines: Vec<Line>,
}

/// A group.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// What it is called.
    pub name: String,
    /// What is said of it.
    pub said: Said,
}

/// What is said of a group.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Said {
    /// A figure: a text for each column, and how it is drawn.
    Figure {
        /// For each column, empty where it is not told of this group.
        cells: Vec<String>,
        /// Its bar.
        bar: Bar,
    },
    /// A symbol in the place of a figure, and the word for it.
    Instead(Symbol, &'static str),
}

/// How a figure is drawn on a line from 0 to 1000, tenths of a per cent, from what is told and nothing finer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bar {
    /// How far it reaches.
    pub to: u16,
    /// Where it ends, if that is not told.
    pub somewhere: Option<(u16, u16)>,
    /// The interval.
    pub interval: Option<(u16, u16)>,
}

/// What may be told of a group.
#[derive(Clone, Copy)]
enum Column {
    Pupils,
    NotKnown,
    Met,
    Percent,
    Interval,
}

impl Column {
    const ALL: [Self; 5] = [Self::Pupils, Self::NotKnown, Self::Met, Self::Percent, Self::Interval];

    const fn heading(self, audience: Audience) -> &'static str {
        match self {
            Self::Pupils => pupils_heading(audience),
            Self::NotKnown => "Not known",
            Self::Met => "Met it",
            Self::Percent => "Per cent",
            Self::Interval => "Likely range",
        }
    }

    fn cell(self, figure: &Figure) -> Option<String> {
        let number = |value: Option<u32>| value.map(|value| value.to_string());
        match self {
            Self::Pupils => number(figure.pupils),
            Self::NotKnown => number(figure.not_known),
            Self::Met => number(figure.met),
            Self::Percent => figure.percent.map(in_words),
            Self::Interval => {
                figure.interval.map(|(low, high)| format!("{} to {}%", whole(low), whole(high)))
            }
        }
    }
}

/// How many pupils there are is told everybody in round numbers.
#[must_use]
pub const fn pupils_heading(audience: Audience) -> &'static str {
    if matches!(audience, Audience::Published) { "Pupils, about" } else { "Pupils" }
}

/// Tenths of a per cent as whole per cent, half up.
const fn whole(tenths: u16) -> u16 {
    (tenths + 5) / 10
}

fn in_words(told: Percent) -> String {
    match told.is {
        PercentIs::About => format!("{}%", told.percent),
        PercentIs::Above => format!("above {}%", told.percent),
        PercentIs::Below => format!("below {}%", told.percent),
    }
}

impl Bar {
    fn of(told: Percent, interval: Option<(u16, u16)>) -> Self {
        let limit = u16::from(told.percent) * 10;
        let (to, somewhere) = match told.is {
            PercentIs::About => (limit, None),
            PercentIs::Above => (limit, Some((limit, 1000))),
            PercentIs::Below => (0, Some((0, limit))),
        };
        Self { to, somewhere, interval }
    }
}

impl Symbol {
    /// What stands beside it, in a word or two.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Confidential => "left out",
            Self::NotAvailable => "nothing known",
            Self::NotApplicable => "nobody due",
        }
    }
}

impl By {
    /// As a heading. `field` names an optional field by its code.
    #[must_use]
    pub fn heading(&self, field: impl Fn(&str) -> Option<String>) -> String {
        match self {
            Self::YearGroup => "Year group".to_owned(),
            Self::Class => "Class".to_owned(),
            Self::TermOfBirth => "Term of birth".to_owned(),
            Self::Field(code) => field(code).unwrap_or_else(|| code.clone()),
        }
    }
}

impl Row {
    /// What the group is called.
    #[must_use]
    pub fn called(&self) -> String {
        let nameless = match self.by {
            None => "Whole school",
            Some(By::YearGroup) => "In no year group",
            Some(By::Class) => "In no class",
            Some(By::TermOfBirth | By::Field(_)) => "Not recorded",
        };
        self.name.clone().unwrap_or_else(|| nameless.to_owned())
    }
}

impl Said {
    fn of(figure: &Figure, columns: &[Column]) -> Self {
        match (figure.symbol, figure.percent) {
            (None, Some(told)) => {
                let cells = columns.iter().map(|column| column.cell(figure).unwrap_or_default());
                Self::Figure { cells: cells.collect(), bar: Bar::of(told, figure.interval) }
            }
            (symbol, _) => {
                let symbol = symbol.unwrap_or(Symbol::NotAvailable);
                Self::Instead(symbol, symbol.word())
            }
        }
    }
}

impl Measured {
    fn of(table: &Table, audience: Audience, field: impl Fn(&str) -> Option<String> + Copy) -> Self {
        let told = |column: &Column| table.rows.iter().any(|row| column.cell(&row.figure).is_some());
        let columns: Vec<Column> = Column::ALL.into_iter().filter(told).collect();
        let rows: Vec<&Row> = table.rows.iter().filter(|row| !table.goes_without_saying(row)).collect();
        let line = |row: &&Row| Line { name: table.called(row), said: Said::of(&row.figure, &columns) };
        let part = |rows: &[&Row]| Part {
            by: rows.first().and_then(|row| Some(row.by.as_ref()?.heading(field))),
            lines: rows.iter().map(line).collect(),
        };
        Self {
            name: table.name.clone(),
            means: table.means.clone(),
            notes: table
                .notes
                .iter()
                .cloned()
                .chain(table.published.iter().flat_map(Published::in_words))
                .collect(),
            parts: rows.chunk_by(|a, b| a.by == b.by).map(part).collect(),
            columns: columns.into_iter().map(|column| column.heading(audience)).collect(),
        }
    }
}

impl Paper {
    /// Of a release. `field` names an optional field by its code.
    #[must_use]
    pub fn of(release: &Release, field: impl Fn(&str) -> Option<String> + Copy) -> Self {
        let (some, none): (Vec<&Table>, Vec<&Table>) = release
            .tables
            .iter()
            .partition(|table| table.rows.iter().any(|row| row.figure.percent.is_some()));
        let measures: Vec<Measured> =
            some.into_iter().map(|table| Measured::of(table, release.audience, field)).collect();
        let lines = || measures.iter().flat_map(|measure| &measure.parts).flat_map(|part| &part.lines);
        let stands = |code: &str| {
            lines().any(|line| matches!(line.said, Said::Instead(symbol, _) if symbol.as_str() == code))
        };
        let symbols = release.symbols.iter().filter(|symbol| stands(&symbol.code));
        let symbols = symbols.map(|symbol| (symbol.code.clone(), symbol.label.clone())).collect();
        Self {
            title: format!("{}: phonics, {}", release.basis.school, release.basis.half_term),
            readers: readers(release.audience),
            as_of: format!("As of {}.", time::in_words(release.as_of)),
            says: says(release),
            nothing: none.into_iter().map(nothing).collect(),
            symbols,
            measures,
            basis: basis(release),
        }
    }
}

const fn readers(audience: Audience) -> &'static str {
    match audience {
        Audience::Internal => "For those who answer for these pupils. Do not pass it on.",
        Audience::Closed => "For governors and staff. Keep it among them.",
        Audience::Published => "For everybody. It may be passed on.",
    }
}

/// Why there is no figure of a measure, and what its notes say of that.
fn nothing(table: &Table) -> String {
    let stands = |symbol: Symbol| table.rows.iter().any(|row| row.figure.symbol == Some(symbol));
    let why = if stands(Symbol::Confidential) {
        "left out, as it would say too much about too few pupils."
    } else if stands(Symbol::NotAvailable) {
        "nothing is known of the pupils it is about."
    } else {
        "nobody was due."
    };
    let notes = table.notes.iter().filter(|_| stands(Symbol::Confidential)).map(String::as_str);
    let said: Vec<&str> = std::iter::once(why).chain(notes).collect();
    format!("{}: {}", table.name, said.join(" "))
}

impl Table {
    /// What a group of it is called.
    #[must_use]
    pub fn called(&self, row: &Row) -> String {
        match &self.check {
            Some(check) if self.others_now && row.by.is_none() => {
                format!("{} (other children than those in {} now)", row.called(), check.year_group)
            }
            _ => row.called(),
        }
    }

    /// Of a check, that nobody was due in other groups than those it was of, and that its year group is all of them.
    fn goes_without_saying(&self, row: &Row) -> bool {
        let Some(check) = &self.check else { return false };
        let is_all = row.by == Some(By::YearGroup) && row.name.as_ref() == Some(&check.year_group);
        is_all || (row.by.is_some() && row.figure.symbol == Some(Symbol::NotApplicable))
    }
}

fn says(release: &Release) -> Vec<String> {
    let figures = || release.tables.iter().flat_map(|table| &table.rows).map(|row| row.figure);
    let told = || figures().filter_map(|figure| figure.percent);
    let mut says = vec![
        "Each figure is about a group: how many of its pupils met a measure, out of those for whom that is known. Pupils \
         for whom it is not known are in no figure."
            .to_owned(),
        "It says nothing about any one pupil and gives no reasons; it is no diagnosis and no forecast.".to_owned(),
    ];
    if figures().any(|figure| figure.interval.is_some()) {
        says.push(
            "The likely range, where there are bars a line with two ends below each, is how far chance alone could move a \
             figure (a 95% Wilson interval). Where two ranges overlap, read no difference into the two figures."
                .to_owned(),
        );
    }
    if release.audience == Audience::Published {
        says.push("Numbers of pupils are rounded.".to_owned());
    }
    if told().any(|told| told.is != PercentIs::About) {
        says.push(
            "Where a figure is only above or below a limit, it lies in the dashed part of the bar."
                .to_owned(),
        );
    }
    if figures().any(|figure| figure.symbol == Some(Symbol::Confidential)) {
        says.push(
            "A figure is left out where it would say too much about too few pupils, or would let such a figure be worked \
             out. That says nothing good or bad about a group."
                .to_owned(),
        );
    }
    says
}

fn basis(release: &Release) -> Vec<String> {
    let basis = &release.basis;
    let versions: Vec<String> =
        basis.versions.iter().map(|one| format!("{}, version {}", one.sequence, one.number)).collect();
    let taught = (!versions.is_empty()).then(|| format!("Taught from: {}.", versions.join("; ")));
    taught.into_iter().chain([basis.secure_means.in_words()]).chain(basis.cautions.iter().cloned()).collect()
}

#[cfg(test)]
mod tests;
