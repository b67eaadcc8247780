//! A release: tables of a cohort for readers who may not see single pupils.

use serde::{Deserialize, Serialize};

use super::{
    cohort::{Basis, Cohort},
    groups::{Group, Groups},
};
use crate::{
    disclosure::{
        Audience, Before, Breakdown, Cell, Fate, Linked, Past, Percent, Population, Released, Unreleased,
        before, decide, percent, pupils_told, told, wilson,
    },
    rules::{MeasureRule, ReleaseRule, RulePack},
    time::Date,
};

/// By what pupils are told apart: one thing at a time. As text its word, or the code of the field.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(from = "String", into = "String")]
pub enum By {
    /// The year group.
    YearGroup,
    /// The class. Not for everybody.
    Class,
    /// The term of birth.
    TermOfBirth,
    /// An optional field, by its code.
    Field(String),
}

impl From<String> for By {
    fn from(word: String) -> Self {
        match word.as_str() {
            "year_group" => Self::YearGroup,
            "class" => Self::Class,
            "term_of_birth" => Self::TermOfBirth,
            _ => Self::Field(word),
        }
    }
}

impl From<By> for String {
    fn from(by: By) -> Self {
        match by {
            By::YearGroup => "year_group".to_owned(),
            By::Class => "class".to_owned(),
            By::TermOfBirth => "term_of_birth".to_owned(),
            By::Field(code) => code,
        }
    }
}

/// What is asked of a release.
#[derive(Clone, Debug)]
pub struct Choice<'a> {
    /// The measures, in the order asked.
    pub measures: Vec<&'a MeasureRule>,
    /// The breakdowns, in the order asked.
    pub by: Vec<By>,
    /// To everybody, or to a closed circle.
    pub published: bool,
    /// Whether the smaller of the rule's two smallest groups was chosen.
    pub smaller_groups: bool,
}

impl Choice<'_> {
    pub(super) fn rule<'r>(&self, rules: &'r RulePack) -> &'r ReleaseRule {
        if self.published { &rules.disclosure.published } else { &rules.disclosure.closed }
    }
}

/// A release, as its readers get it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(example = json!({
        "audience": "closed", "as_of": "2026-12-18", "half_term": "Autumn 2",
        "secure_means": {"right_on_days": 3, "days_after_teaching": 7, "carried_in_days": 1},
        "versions": [{"version_id": "0199f2c4-0000-7000-8000-00000000000d", "sequence": "Our sequence", "number": 1}],
        "cautions": [],
        "tables": [{"measure": "words", "name": "Words are read", "means": "At least 80 in 100 words were read right.", "rows": [
            {"by": null, "name": null, "symbol": null, "pupils": 50, "not_known": 1, "met": 35,
             "percent": {"percent": 70, "is": "about"}, "interval": [562, 809]},
            {"by": "class", "name": "Elm", "symbol": "c", "pupils": null, "not_known": null, "met": null,
             "percent": null, "interval": null}]}]
    })))]
pub struct Release {
    /// Whom it is for.
    pub audience: Audience,
    /// As of which day.
    pub as_of: Date,
    /// What the figures rest on.
    #[serde(flatten)]
    pub basis: Basis,
    /// One for each measure.
    pub tables: Vec<Table>,
}

/// What is told of one measure.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = ReleaseTable))]
pub struct Table {
    /// Its code.
    pub measure: String,
    /// As told.
    pub name: String,
    /// What it means.
    pub means: String,
    /// The school first, then each breakdown.
    pub rows: Vec<Row>,
}

/// A group of pupils.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = ReleaseRow))]
pub struct Row {
    /// By what they are told apart; none for the whole school.
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, example = "year_group"))]
    pub by: Option<By>,
    /// The year group, class, term or value; none for the whole school, and for pupils without one.
    pub name: Option<String>,
    /// What is told of them.
    #[serde(flatten)]
    pub figure: Figure,
}

/// What is told of a group: a figure, or a symbol in its place and then no number at all.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = ReleaseFigure))]
pub struct Figure {
    /// In the place of a figure.
    pub symbol: Option<Symbol>,
    /// Pupils the measure says something of; rounded for everybody.
    pub pupils: Option<u32>,
    /// Pupils of the group it says nothing of: not checked, or not enough. Not for everybody.
    pub not_known: Option<u32>,
    /// Of those it says something of, how many meet it. Not for everybody.
    pub met: Option<u32>,
    /// The part who meet it.
    pub percent: Option<Percent>,
    /// The 95 % interval, in tenths of a per cent. Not for everybody.
    pub interval: Option<(u16, u16)>,
}

crate::vocabulary! {
    /// What stands in the place of a figure.
    pub enum Symbol as "FigureSymbol" {
        /// It would say too much of too few.
        Confidential = "c",
        /// There are pupils, and nothing is known of them.
        NotAvailable = "x",
        /// There are no pupils.
        NotApplicable = "z",
    }
}

/// A figure as the ledger of releases keeps it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PastCell {
    /// Whom it was about.
    pub population: Population,
    /// How many of them met the measure.
    pub met: u32,
    /// Whether it was told.
    pub told: bool,
}

/// What an earlier release, to the same readers or to more, told of one measure as of one day.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PastTable {
    /// The measure.
    pub measure: String,
    /// As of which day.
    pub as_of: Date,
    /// Its figures.
    pub cells: Vec<PastCell>,
    /// Which of them make up which: a whole and its parts, by place.
    pub breakdowns: Vec<(usize, Vec<usize>)>,
}

/// A release and what the ledger keeps of it.
#[derive(Debug)]
pub struct Made {
    /// For its readers.
    pub release: Released<Release>,
    /// For the ledger.
    pub ledger: Vec<PastTable>,
}

/// The same tables for those who answer for the pupils: every figure there is, however small.
#[must_use]
pub fn exact(cohort: &Cohort, choice: &Choice<'_>, rules: &RulePack) -> Unreleased<Release> {
    let groups = Groups::of(cohort, choice, rules);
    let table = |measure: &&MeasureRule| {
        let cells = Figures::of(&groups, &measure.code, cohort.as_of).linked.cells;
        let told = |(group, cell): (&Group<'_>, &Cell)| {
            let figure = figure(group, *cell, Fate::Told, choice, &rules.disclosure.closed);
            group.shown.then(|| group.row(figure))
        };
        Table::of(measure, groups.groups.iter().zip(&cells).filter_map(told).collect())
    };
    let tables = choice.measures.iter().map(table).collect();
    let (as_of, basis) = (cohort.as_of, cohort.basis.clone());
    Unreleased::new(Release { audience: Audience::Internal, as_of, basis, tables })
}

/// Makes a release. `past` is what is out already, to the same readers or to more.
#[must_use]
pub fn release(cohort: &Cohort, choice: &Choice<'_>, rules: &RulePack, past: &[PastTable]) -> Made {
    let rule = choice.rule(rules);
    let minimum = match rule.minimum_group_option {
        Some(smaller) if choice.smaller_groups => smaller,
        _ => rule.minimum_group,
    };
    let groups = Groups::of(cohort, choice, rules);
    let (mut tables, mut ledger) = (Vec::new(), Vec::new());
    for measure in &choice.measures {
        let mut figures = Figures::of(&groups, &measure.code, cohort.as_of);
        let alike = |one: &&PastTable| one.measure == measure.code;
        figures.add_past(past.iter().filter(alike), rule);
        let fates = decide(&figures.linked, rule, minimum);
        let told = |group: &Group<'_>, place: usize| {
            figure(group, figures.linked.cells[place], fates[place], choice, rule)
        };
        let shown = groups.groups.iter().enumerate().filter(|(_, group)| group.shown);
        let rows = shown.map(|(place, group)| group.row(told(group, place)));
        tables.push(Table::of(measure, rows.collect()));
        ledger.push(figures.kept(&fates));
    }
    let audience = if choice.published { Audience::Published } else { Audience::Closed };
    Made {
        release: Released::new(Release {
            audience,
            as_of: cohort.as_of,
            basis: cohort.basis.clone(),
            tables,
        }),
        ledger,
    }
}

fn figure(group: &Group<'_>, cell: Cell, fate: Fate, choice: &Choice<'_>, rule: &ReleaseRule) -> Figure {
    let instead = |symbol| Figure { symbol: Some(symbol), ..Figure::default() };
    match (group.lines.len(), cell.pupils, fate) {
        (0, ..) => instead(Symbol::NotApplicable),
        (_, 0, _) => instead(Symbol::NotAvailable),
        (_, _, Fate::LeftOut(_)) => instead(Symbol::Confidential),
        (_, pupils, Fate::Told) => Figure {
            symbol: None,
            pupils: Some(pupils_told(pupils, rule)),
            not_known: (!choice.published)
                .then_some(u32::try_from(group.lines.len()).unwrap_or(u32::MAX) - pupils),
            met: (!choice.published).then_some(cell.met),
            percent: percent(cell.met, pupils).map(|part| told(part, rule)),
            interval: if choice.published { None } else { wilson(cell.met, pupils) },
        },
    }
}

impl Table {
    fn of(measure: &MeasureRule, rows: Vec<Row>) -> Self {
        let MeasureRule { code, name, means, .. } = measure.clone();
        Self { measure: code, name, means, rows }
    }
}

/// The figures of one measure: those of the groups first, then those earlier releases add.
struct Figures {
    measure: String,
    as_of: Date,
    linked: Linked,
    populations: Vec<Population>,
    own: (usize, usize),
}

impl Figures {
    fn of(groups: &Groups<'_>, measure: &str, as_of: Date) -> Self {
        let known = |group: &Group<'_>| -> (Population, u32) {
            let says = group.lines.iter().filter_map(|line| Some((line.pupil, *line.met.get(measure)?)));
            let met = says.clone().filter(|(_, met)| *met).count();
            (says.map(|(pupil, _)| pupil).collect(), u32::try_from(met).unwrap_or(u32::MAX))
        };
        let mut linked = Linked { cells: Vec::new(), breakdowns: groups.breakdowns.clone() };
        let mut populations = Vec::new();
        for group in &groups.groups {
            let (population, met) = known(group);
            let mut cell = Cell::new(u32::try_from(population.len()).unwrap_or(u32::MAX), met);
            if !group.shown && cell.pupils > 0 {
                cell.before = Before::LeftOut;
            }
            linked.cells.push(cell);
            populations.push(population);
        }
        let own = (linked.cells.len(), linked.breakdowns.len());
        Self { measure: measure.to_owned(), as_of, linked, populations, own }
    }

    /// What earlier releases tell of these figures, and what they tell and leave out beside them.
    fn add_past<'p>(&mut self, past: impl Iterator<Item = &'p PastTable> + Clone, rule: &ReleaseRule) {
        let cells = past.clone().flat_map(|table| table.cells.iter().map(move |cell| (table, cell)));
        let known: Vec<Past<'_>> = cells
            .map(|(table, cell)| Past {
                measure: &table.measure,
                as_of: table.as_of,
                population: &cell.population,
                told: cell.told,
            })
            .collect();
        for (cell, population) in self.linked.cells.iter_mut().zip(&self.populations) {
            if cell.before == Before::Nothing && cell.pupils > 0 {
                cell.before = before(&self.measure, self.as_of, population, &known, rule);
            }
        }
        let as_of = self.as_of;
        for table in past.filter(|table| table.as_of == as_of) {
            let places: Vec<usize> = table.cells.iter().map(|cell| self.place_of(cell)).collect();
            let placed = |(total, parts): &(usize, Vec<usize>)| {
                let parts = parts.iter().map(|part| places[*part]).collect();
                Breakdown { total: places[*total], parts }
            };
            for one in table.breakdowns.iter().map(placed) {
                if !self.linked.breakdowns.contains(&one) {
                    self.linked.breakdowns.push(one);
                }
            }
        }
    }

    fn place_of(&mut self, past: &PastCell) -> usize {
        if let Some(place) = self.populations.iter().position(|known| *known == past.population) {
            return place;
        }
        let pupils = u32::try_from(past.population.len()).unwrap_or(u32::MAX);
        let before = if past.told { Before::Told } else { Before::LeftOut };
        self.linked.cells.push(Cell { pupils, met: past.met, before });
        self.populations.push(past.population.clone());
        self.populations.len() - 1
    }

    fn kept(self, fates: &[Fate]) -> PastTable {
        let (cells, breakdowns) = self.own;
        let kept = |((population, cell), fate): ((Population, &Cell), &Fate)| PastCell {
            population,
            met: cell.met,
            told: fate.is_told(),
        };
        PastTable {
            measure: self.measure,
            as_of: self.as_of,
            cells: self
                .populations
                .into_iter()
                .zip(&self.linked.cells)
                .zip(fates)
                .take(cells)
                .map(kept)
                .collect(),
            breakdowns: self
                .linked
                .breakdowns
                .into_iter()
                .take(breakdowns)
                .map(|one| (one.total, one.parts))
                .collect(),
        }
    }
}
