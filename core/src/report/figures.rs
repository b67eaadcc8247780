//! The figures of one measure, one for each population: of the groups first, then of what earlier releases said.

use std::collections::BTreeSet;

use super::{
    groups::{Group, Groups},
    ledger::{PastCell, PastTable},
    release::By,
};
use crate::{
    disclosure::{
        Before, Breakdown, Cell, Fate, Linked, Past, PastSaid, Population, Why, before, nearly_the_same,
    },
    rules::ReleaseRule,
    time::Date,
};

/// The figures of one measure.
pub(super) struct Figures {
    linked: Linked,
    populations: Vec<Population>,
    /// By figure, the optional field it comes of.
    fields: Vec<Option<String>>,
    /// By group, its figure: a class that is a whole year group has the year group's.
    of_group: Vec<usize>,
}

impl Group<'_> {
    /// How many there are.
    pub(super) fn pupils(&self) -> u32 {
        count(self.lines.len())
    }

    fn field(&self) -> Option<String> {
        match &self.by {
            Some(By::Field(code)) => Some(code.clone()),
            _ => None,
        }
    }
}

fn count(pupils: usize) -> u32 {
    u32::try_from(pupils).unwrap_or(u32::MAX)
}

impl Figures {
    pub fn of(groups: &Groups<'_>, measure: &str) -> Self {
        let mut made = Self {
            linked: Linked::default(),
            populations: Vec::new(),
            fields: Vec::new(),
            of_group: Vec::new(),
        };
        for group in &groups.groups {
            let says = group.lines.iter().filter_map(|line| Some((line.pupil, *line.met.get(measure)?)));
            let met = count(says.clone().filter(|(_, met)| *met).count());
            let population: Population = says.map(|(pupil, _)| pupil).collect();
            let place = made.place_of(&population, met, group.field());
            made.linked.cells[place].may_be_told |= group.has_row;
            made.of_group.push(place);
        }
        for (total, parts) in &groups.breakdowns {
            let of = |group: &usize| made.of_group[*group];
            made.break_down(of(total), parts.iter().map(of).collect());
        }
        made
    }

    pub const fn linked(&self) -> &Linked {
        &self.linked
    }

    pub fn cell(&self, group: usize) -> Cell {
        self.linked.cells[self.of_group[group]]
    }

    pub fn fate(&self, group: usize, fates: &[Fate]) -> Fate {
        fates[self.of_group[group]]
    }

    /// The figure of so many of these pupils, made if there is none. One that two groups have comes of a field only if
    /// both do.
    fn place_of(&mut self, population: &Population, met: u32, field: Option<String>) -> usize {
        let known = self.populations.iter().zip(&self.linked.cells);
        let found = known.enumerate().find(|(_, (known, cell))| *known == population && cell.met == met);
        if let Some((place, _)) = found {
            if field.is_none() {
                self.fields[place] = None;
            }
            return place;
        }
        self.linked.cells.push(Cell { may_be_told: false, ..Cell::new(count(population.len()), met) });
        self.populations.push(population.clone());
        self.fields.push(field);
        self.populations.len() - 1
    }

    /// Ties a whole and its parts. Parts without pupils tell nothing, and what has one part is that part.
    fn break_down(&mut self, total: usize, mut parts: Vec<usize>) {
        parts.retain(|part| self.linked.cells[*part].pupils > 0);
        parts.sort_unstable();
        let one = Breakdown { total, parts };
        if one.parts.len() > 1 && !self.linked.breakdowns.contains(&one) {
            self.linked.breakdowns.push(one);
        }
    }

    /// Ties the figures to what earlier releases say of them and beside them, where they are of the same answers, and to
    /// one another where one group lies in another or two are nearly the same.
    pub fn tie<'p>(
        &mut self,
        past: impl Iterator<Item = &'p PastTable> + Clone,
        is_of_the_same: impl Fn(&PastTable) -> bool,
        rule: &ReleaseRule,
    ) {
        let own = self.linked.cells.len();
        let said: Vec<Past<'_>> = past
            .clone()
            .flat_map(|table| {
                let of_this_half_term = is_of_the_same(table);
                table.cells.iter().map(move |cell| Past {
                    population: &cell.population,
                    met: cell.met,
                    said: cell.said,
                    of_this_half_term,
                })
            })
            .collect();
        for place in 0..own {
            let cell = self.linked.cells[place];
            if cell.pupils > 0 {
                self.linked.cells[place].before = before(&self.populations[place], cell.met, &said, rule);
            }
        }
        for table in past.filter(|table| is_of_the_same(table)) {
            self.tie_table(table, own);
        }
        self.tie_nested(own);
        self.tie_near(own, rule);
    }

    fn tie_table(&mut self, table: &PastTable, own: usize) {
        let place = |cell: &PastCell| {
            let place = self.place_of(&cell.population, cell.met, cell.field.clone());
            let one = &mut self.linked.cells[place];
            match cell.said {
                PastSaid::Told => one.before = Before::Told,
                PastSaid::LeftOut if place >= own && one.before == Before::Nothing => {
                    one.before = Before::LeftOut;
                }
                PastSaid::LeftOut | PastSaid::Nothing => {}
            }
            place
        };
        let places: Vec<usize> = table.cells.iter().map(place).collect();
        for (total, parts) in &table.breakdowns {
            self.break_down(places[*total], parts.iter().map(|part| places[*part]).collect());
        }
    }

    /// Whether readers may come to know the figure.
    fn may_be_known(&self, place: usize) -> bool {
        let cell = self.linked.cells[place];
        cell.pupils > 0 && (cell.may_be_told || cell.before == Before::Told)
    }

    /// Where one group lies in another, both told tell of the rest too.
    fn tie_nested(&mut self, own: usize) {
        let known: Vec<usize> =
            (0..self.linked.cells.len()).filter(|place| self.may_be_known(*place)).collect();
        let pairs = known.iter().flat_map(|whole| known.iter().map(move |part| (*whole, *part)));
        for (whole, part) in pairs.filter(|(whole, part)| *whole < own || *part < own) {
            let (larger, smaller) = (&self.populations[whole], &self.populations[part]);
            if smaller.len() >= larger.len() || self.is_within(part, whole) || !smaller.is_subset(larger) {
                continue;
            }
            let (of, met) = (self.linked.cells[whole], self.linked.cells[part].met);
            let rest: Population = larger.difference(smaller).copied().collect();
            // Other numbers than these were of other answers.
            let Some(met) = of.met.checked_sub(met).filter(|met| *met <= count(rest.len())) else { continue };
            let field = self.fields[whole].clone().or_else(|| self.fields[part].clone());
            let rest = self.place_of(&rest, met, field);
            self.break_down(whole, vec![part, rest]);
        }
    }

    /// Whether a group is a part of another, or of a part of it.
    fn is_within(&self, part: usize, whole: usize) -> bool {
        let parts = self.linked.breakdowns.iter().filter(|one| one.total == whole).flat_map(|one| &one.parts);
        parts.into_iter().any(|one| *one == part || self.is_within(part, *one))
    }

    fn tie_near(&mut self, own: usize, rule: &ReleaseRule) {
        let known: Vec<usize> = (0..own).filter(|place| self.may_be_known(*place)).collect();
        for (n, one) in known.iter().enumerate() {
            for other in &known[n + 1..] {
                if nearly_the_same(&self.populations[*one], &self.populations[*other], rule) {
                    self.linked.nearly_the_same.push((*one, *other));
                }
            }
        }
    }

    /// What later releases have to know. `asked` are the groups a row is about.
    pub fn kept(self, measure: &str, half_term_from: Date, asked: &[usize], fates: &[Fate]) -> PastTable {
        let shown: Vec<usize> = asked.iter().map(|group| self.of_group[*group]).collect();
        let own = self.of_group.iter().max().map_or(0, |last| last + 1);
        let said = |place: usize| match fates[place] {
            Fate::Told if shown.contains(&place) => PastSaid::Told,
            Fate::Told | Fate::LeftOut(Why::NoRow) => PastSaid::Nothing,
            Fate::LeftOut(_) => PastSaid::LeftOut,
        };
        let cells = self.populations.into_iter().zip(&self.linked.cells).zip(self.fields).take(own);
        let cell = |(place, ((population, cell), field)): (usize, ((Population, &Cell), Option<String>))| {
            PastCell { population, met: cell.met, said: said(place), field }
        };
        let within = |one: &Breakdown| one.places().all(|place| place < own);
        PastTable {
            measure: measure.to_owned(),
            half_term_from,
            cells: cells.enumerate().map(cell).collect(),
            breakdowns: self
                .linked
                .breakdowns
                .into_iter()
                .filter(within)
                .map(|one| (one.total, one.parts))
                .collect(),
            forgotten: BTreeSet::new(),
        }
    }
}
