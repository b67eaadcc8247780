//! A release: tables of a cohort for readers who may not see single pupils.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::cohort::{Cohort, Line};
use crate::{
    disclosure::{
        Audience, Before, Breakdown, Cell, Fate, Linked, Past, Percent, Population, Released, before, decide,
        percent, pupils_told, told, wilson,
    },
    rules::{MeasureRule, ReleaseRule, RulePack},
    time::Date,
};

/// By what pupils are told apart: one thing at a time.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
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
    fn rule<'r>(&self, rules: &'r RulePack) -> &'r ReleaseRule {
        if self.published { &rules.disclosure.published } else { &rules.disclosure.closed }
    }
}

/// A release, as its readers get it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Release {
    /// Whom it is for.
    pub audience: Audience,
    /// As of which day.
    pub as_of: Date,
    /// One for each measure.
    pub tables: Vec<Table>,
}

/// What is told of one measure.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
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
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Row {
    /// By what they are told apart; none for the whole school.
    pub by: Option<By>,
    /// The year group, class, term or value; none for the whole school, and for pupils without one.
    pub name: Option<String>,
    /// What is told of them.
    #[serde(flatten)]
    pub figure: Figure,
}

/// What is told of a group: a figure, or a symbol in its place and then no number at all.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Figure {
    /// In the place of a figure.
    pub symbol: Option<Symbol>,
    /// Pupils the measure says something of; rounded for everybody.
    pub pupils: Option<u32>,
    /// Of these, how many meet it. Not for everybody.
    pub met: Option<u32>,
    /// The part who meet it.
    pub percent: Option<Percent>,
    /// The 95 % interval, in tenths of a per cent. Not for everybody.
    pub interval: Option<(u16, u16)>,
}

crate::vocabulary! {
    /// What stands in the place of a figure.
    pub enum Symbol {
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
        let rows = shown.map(|(place, group)| Row {
            by: group.by.clone(),
            name: group.name.clone(),
            figure: told(group, place),
        });
        tables.push(Table {
            measure: measure.code.clone(),
            name: measure.name.clone(),
            means: measure.means.clone(),
            rows: rows.collect(),
        });
        ledger.push(figures.kept(&fates));
    }
    let audience = if choice.published { Audience::Published } else { Audience::Closed };
    Made { release: Released::new(Release { audience, as_of: cohort.as_of, tables }), ledger }
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
            met: (!choice.published).then_some(cell.met),
            percent: percent(cell.met, pupils).map(|part| told(part, rule)),
            interval: if choice.published { None } else { wilson(cell.met, pupils) },
        },
    }
}

/// A group of pupils and its place among the breakdowns.
struct Group<'a> {
    by: Option<By>,
    name: Option<String>,
    lines: Vec<&'a Line>,
    /// Whether a row is about it: the part of a mixed-age class in one year group only ties the two.
    shown: bool,
}

/// The groups of a release: the school first.
struct Groups<'a> {
    groups: Vec<Group<'a>>,
    breakdowns: Vec<Breakdown>,
}

impl<'a> Groups<'a> {
    fn of(cohort: &'a Cohort, choice: &Choice<'_>, rules: &RulePack) -> Self {
        let school = Group { by: None, name: None, lines: cohort.lines.iter().collect(), shown: true };
        let mut made = Self { groups: vec![school], breakdowns: Vec::new() };
        for by in &choice.by {
            match by {
                By::Class if !choice.rule(rules).class_level => {}
                By::Class if choice.by.contains(&By::YearGroup) => {}
                By::Class => made.part(by, |line| line.class.clone(), &[]),
                By::YearGroup => {
                    let order: Vec<String> = rules.year_groups.iter().map(|year| year.name.clone()).collect();
                    made.part(by, |line| line.year_group.clone(), &order);
                    if choice.by.contains(&By::Class) && choice.rule(rules).class_level {
                        made.classes_of_years();
                    }
                }
                By::TermOfBirth => {
                    let terms = &rules.reports.terms_of_birth;
                    let order: Vec<String> = terms.iter().map(|term| term.coded.label.clone()).collect();
                    made.part(by, |line| line.term_of_birth.clone(), &order);
                }
                By::Field(code) => {
                    let field = rules.optional_fields.fields.iter().find(|one| one.field == *code);
                    let values = field.map_or(&[][..], |field| field.values.as_slice());
                    let order: Vec<String> = values.iter().map(|value| value.name.clone()).collect();
                    made.part(by, |line| line.fields.get(code).cloned(), &order);
                }
            }
        }
        made
    }

    /// The school by something: in the order given, then what is not in it by name, then those without.
    fn part(&mut self, by: &By, of: impl Fn(&Line) -> Option<String>, order: &[String]) {
        let mut parts: BTreeMap<(usize, Option<String>), Vec<&'a Line>> = BTreeMap::new();
        for line in &self.groups[0].lines {
            let name = of(line);
            let place = name.as_ref().map_or(usize::MAX, |name| {
                order.iter().position(|known| known == name).unwrap_or(order.len())
            });
            parts.entry((place, name)).or_default().push(line);
        }
        let first = self.groups.len();
        let group = |((_, name), lines)| Group { by: Some(by.clone()), name, lines, shown: true };
        self.groups.extend(parts.into_iter().map(group));
        self.breakdowns.push(Breakdown { total: 0, parts: (first..self.groups.len()).collect() });
    }

    /// The year groups by class, and the classes by year group where ages are mixed.
    fn classes_of_years(&mut self) {
        let years: Vec<usize> =
            (0..self.groups.len()).filter(|place| self.groups[*place].by == Some(By::YearGroup)).collect();
        let mut classes: BTreeMap<Option<String>, Vec<(usize, Vec<&'a Line>)>> = BTreeMap::new();
        for year in &years {
            let mut here: BTreeMap<Option<String>, Vec<&'a Line>> = BTreeMap::new();
            for line in &self.groups[*year].lines {
                here.entry(line.class.clone()).or_default().push(line);
            }
            for (class, lines) in here {
                classes.entry(class).or_default().push((*year, lines));
            }
        }
        let mut of_year: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        let named_first = |class: &Option<String>| (class.is_none(), class.clone());
        let mut classes: Vec<_> = classes.into_iter().collect();
        classes.sort_by_key(|(class, _)| named_first(class));
        for (name, parts) in classes {
            let mixed = parts.len() > 1;
            let mut add = |lines: Vec<&'a Line>, shown: bool| {
                self.groups.push(Group { by: Some(By::Class), name: name.clone(), lines, shown });
                self.groups.len() - 1
            };
            let whole = mixed.then(|| add(parts.iter().flat_map(|(_, lines)| lines.clone()).collect(), true));
            let mut within = Vec::new();
            for (year, lines) in parts {
                let place = add(lines, !mixed);
                of_year.entry(year).or_default().push(place);
                within.push(place);
            }
            if let Some(total) = whole {
                self.breakdowns.push(Breakdown { total, parts: within });
            }
        }
        self.breakdowns.extend(of_year.into_iter().map(|(total, parts)| Breakdown { total, parts }));
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
