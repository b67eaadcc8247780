//! The figures of one measure, one for each population: of the groups first, then of what earlier releases said.

use std::{
    collections::{BTreeMap, BTreeSet},
    ops::Range,
};

use super::{
    groups::{Group, Groups},
    ledger::{PastCell, PastTable},
    release::By,
};
use crate::{
    disclosure::{
        AtMost, Before, Breakdown, Cell, Fate, Linked, Past, PastSaid, Population, Why, before,
        nearly_the_same,
    },
    rules::ReleaseRule,
    time::Date,
};

/// The figures of one measure, or of checks that follow one another.
#[derive(Default)]
pub(super) struct Figures {
    linked: Linked,
    populations: Vec<Population>,
    /// By figure, the answers counted: two of one pupil who took a check again.
    answers: Vec<Population>,
    /// By figure, the place of its measure: who met an earlier check has met a later one.
    places: Vec<usize>,
    /// By figure, the optional field it comes of.
    fields: Vec<Option<String>>,
    own: Vec<Own>,
}

/// One of the measures.
struct Own {
    place: usize,
    /// By pupil, the year of the check that counts; nothing where it is of no check.
    years: BTreeMap<u64, i32>,
    /// Which figures are its own.
    figures: Range<usize>,
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

/// A pupil's answer in the check of a year. Pseudonyms have 53 bits.
pub(super) const fn answer(pupil: u64, year: i32) -> u64 {
    pupil | (year as u64 & 0x7ff) << 53
}

pub(super) const fn year_of(answer: u64) -> u64 {
    answer >> 53
}

pub(super) const fn pupil_of(answer: u64) -> u64 {
    answer & ((1 << 53) - 1)
}

/// What an earlier release told, of the same answers or of others of nearly the same pupils.
#[derive(Clone, Copy)]
pub(super) struct Earlier<'p> {
    pub table: &'p PastTable,
    /// The place of its measure; none where its answers are others than those of any here.
    pub place: Option<usize>,
}

impl Figures {
    /// Adds those of a measure. `years` says of each pupil which year's check counts; of checks that follow one another the
    /// later has the later place.
    pub fn add(&mut self, groups: &Groups<'_>, measure: &str, years: &BTreeMap<u64, i32>, place: usize) {
        let from = self.answers.len();
        let mut of_group = Vec::with_capacity(groups.groups.len());
        for group in &groups.groups {
            let says = group.lines.iter().filter_map(|line| Some((line.pupil, *line.met.get(measure)?)));
            let met = count(says.clone().filter(|(_, met)| *met).count());
            let counts = |pupil: u64| answer(pupil, years.get(&pupil).copied().unwrap_or_default());
            let answers: Population = says.map(|(pupil, _)| counts(pupil)).collect();
            let figure = self.place_of(&answers, met, group.field(), place);
            self.linked.cells[figure].may_be_told |= group.has_row;
            of_group.push(figure);
        }
        for (total, parts) in &groups.breakdowns {
            let of = |group: &usize| of_group[*group];
            self.break_down(of(total), parts.iter().map(of).collect());
        }
        let figures = from..self.answers.len();
        self.own.push(Own { place, years: years.clone(), figures, of_group });
    }

    pub const fn linked(&self) -> &Linked {
        &self.linked
    }

    /// The figure of a group, by the measures' order and the groups'.
    pub fn cell(&self, measure: usize, group: usize) -> Cell {
        self.linked.cells[self.own[measure].of_group[group]]
    }

    pub fn fate(&self, measure: usize, group: usize, fates: &[Fate]) -> Fate {
        fates[self.own[measure].of_group[group]]
    }

    /// The figure of so many of these answers, made if there is none. One that two groups have comes of a field only if
    /// both do.
    fn place_of(&mut self, answers: &Population, met: u32, field: Option<String>, of: usize) -> usize {
        let known = self.answers.iter().zip(&self.places).zip(&self.linked.cells);
        let is_it = |((known, place), cell): &((&Population, &usize), &Cell)| {
            *known == answers && **place == of && cell.met == met
        };
        let found = known.enumerate().find(|(_, one)| is_it(one));
        if let Some((place, _)) = found {
            if field.is_none() {
                self.fields[place] = None;
            }
            return place;
        }
        self.linked.cells.push(Cell { may_be_told: false, ..Cell::new(count(answers.len()), met) });
        self.populations.push(answers.iter().map(|one| pupil_of(*one)).collect());
        self.answers.push(answers.clone());
        self.places.push(of);
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

    /// Ties the figures to what earlier releases say of them and beside them, where they are of the same answers or of a
    /// check that comes before or after, and to one another where one group lies in another or two are nearly the same.
    pub fn tie(&mut self, past: &[Earlier<'_>], rule: &ReleaseRule) {
        let own = self.linked.cells.len();
        let answers: Vec<Vec<Population>> = past.iter().map(|one| self.answers_in(one)).collect();
        for place in self.own.iter().map(|own| own.place).collect::<Vec<_>>() {
            let said: Vec<Past<'_>> = past
                .iter()
                .zip(&answers)
                .flat_map(|(one, answers)| {
                    let of_this_half_term = one.place == Some(place);
                    one.table.cells.iter().zip(answers).map(move |(cell, answers)| Past {
                        population: &cell.population,
                        answers,
                        met: cell.met,
                        said: cell.said,
                        of_this_half_term,
                    })
                })
                .collect();
            for figure in (0..own).filter(|figure| self.places[*figure] == place) {
                let cell = self.linked.cells[figure];
                if cell.pupils > 0 {
                    let whom = (&self.populations[figure], &self.answers[figure]);
                    self.linked.cells[figure].before = before(whom, cell.met, &said, rule);
                }
            }
        }
        for (one, answers) in past.iter().zip(&answers) {
            if let Some(place) = one.place {
                self.tie_table(one.table, answers, place, own);
            }
        }
        self.tie_nested(own, rule);
        self.tie_near(own, rule);
        self.tie_ordered(rule);
    }

    /// The answers an earlier release counted. Where it kept no years, they are taken to be those here.
    fn answers_in(&self, earlier: &Earlier<'_>) -> Vec<Population> {
        let here = self.own.iter().find(|own| Some(own.place) == earlier.place);
        let year = |pupil: &u64| {
            let kept = earlier.table.years.get(pupil);
            kept.or_else(|| here?.years.get(pupil)).copied().unwrap_or_default()
        };
        let of = |pupil: &u64| answer(*pupil, year(pupil));
        earlier.table.cells.iter().map(|cell| cell.population.iter().map(of).collect()).collect()
    }

    fn tie_table(&mut self, table: &PastTable, answers: &[Population], of: usize, own: usize) {
        let place = |(cell, answers): (&PastCell, &Population)| {
            let place = self.place_of(answers, cell.met, cell.field.clone(), of);
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
        let places: Vec<usize> = table.cells.iter().zip(answers).map(place).collect();
        for (total, parts) in &table.breakdowns {
            self.break_down(places[*total], parts.iter().map(|part| places[*part]).collect());
        }
    }

    /// Whether readers may come to know the figure.
    fn may_be_known(&self, place: usize) -> bool {
        let cell = self.linked.cells[place];
        cell.pupils > 0 && (cell.may_be_told || cell.before == Before::Told)
    }

    /// Where one group lies in another, both told tell of the rest too. Of the part of several years' checks that is of one
    /// of them so do a few who took it again.
    fn tie_nested(&mut self, own: usize, rule: &ReleaseRule) {
        let there: Vec<usize> =
            (0..self.linked.cells.len()).filter(|place| self.linked.cells[*place].pupils > 0).collect();
        let pairs = there.iter().flat_map(|whole| there.iter().map(move |part| (*whole, *part)));
        for (whole, part) in pairs.filter(|(whole, part)| *whole < own || *part < own) {
            let (larger, smaller) = (&self.answers[whole], &self.answers[part]);
            if smaller.len() >= larger.len() || self.places[whole] != self.places[part] {
                continue;
            }
            let few = self.own.iter().any(|own| !own.years.is_empty())
                && larger.len() - smaller.len() < rule.hidden_width as usize;
            let both = self.may_be_known(whole) && self.may_be_known(part);
            if !(both || few) || self.is_within(part, whole) || !smaller.is_subset(larger) {
                continue;
            }
            let (of, met) = (self.linked.cells[whole], self.linked.cells[part].met);
            let rest: Population = larger.difference(smaller).copied().collect();
            // Other numbers than these were of other answers.
            let Some(met) = of.met.checked_sub(met).filter(|met| *met <= count(rest.len())) else { continue };
            let field = self.fields[whole].clone().or_else(|| self.fields[part].clone());
            let rest = self.place_of(&rest, met, field, self.places[whole]);
            self.break_down(whole, vec![part, rest]);
        }
    }

    /// Who met an earlier check has met the later one: the earlier number is at most the later, and so many more as are not
    /// in both. Where many are in one alone that says nothing.
    fn tie_ordered(&mut self, rule: &ReleaseRule) {
        let all = 0..self.linked.cells.len();
        for (less, more) in all.clone().flat_map(|less| all.clone().map(move |more| (less, more))) {
            if self.places[less] >= self.places[more] {
                continue;
            }
            let later: BTreeMap<u64, u64> =
                self.answers[more].iter().map(|one| (pupil_of(*one), year_of(*one))).collect();
            let is_later = |one: &&u64| {
                later.get(&pupil_of(**one)).is_some_and(|year| *year > year_of(**one) || *year == 0)
            };
            let both = count(self.answers[less].iter().filter(is_later).count());
            let cells = &self.linked.cells;
            let (beside, new) = (cells[less].pupils - both, cells[more].pupils - both);
            let says = both > 0 && beside.min(new) < rule.hidden_width;
            // Other numbers than these were of pupils who went back a year.
            if says && cells[less].met <= cells[more].met + beside {
                self.linked.at_most.push(AtMost { less, more, beside });
            }
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

    /// Leaves figures out whatever else is decided.
    pub fn leave_out(&mut self, figures: &[usize]) {
        for figure in figures {
            self.linked.cells[*figure].before = Before::LeftOut;
        }
    }

    /// Has told of its own what is told by these fates, to be judged by what readers know who were told more before.
    pub fn as_told(&mut self, fates: &[Fate]) {
        for figure in self.own.iter().flat_map(|own| own.figures.clone()).collect::<Vec<_>>() {
            self.linked.cells[figure].may_be_told = fates[figure].is_told();
        }
    }

    /// Its own that are told by the one fates and left out by the others.
    pub fn told_by_one(&self, one: &[Fate], others: &[Fate]) -> Vec<usize> {
        let own = self.own.iter().flat_map(|own| own.figures.clone());
        own.filter(|figure| one[*figure].is_told() && !others[*figure].is_told()).collect()
    }

    /// What later releases have to know of one of the measures. `asked` are the groups a row is about.
    pub fn kept(
        &self,
        measure: usize,
        code: &str,
        half_term_from: Date,
        asked: &[usize],
        fates: &[Fate],
    ) -> PastTable {
        let own = &self.own[measure];
        let shown: Vec<usize> = asked.iter().map(|group| own.of_group[*group]).collect();
        let said = |figure: usize| match fates[figure] {
            Fate::Told if shown.contains(&figure) => PastSaid::Told,
            Fate::Told | Fate::LeftOut(Why::NoRow) => PastSaid::Nothing,
            Fate::LeftOut(_) => PastSaid::LeftOut,
        };
        let cell = |figure: usize| PastCell {
            population: self.populations[figure].clone(),
            met: self.linked.cells[figure].met,
            said: said(figure),
            field: self.fields[figure].clone(),
        };
        let within = |one: &&Breakdown| one.places().all(|place| own.figures.contains(&place));
        let moved = |one: &Breakdown| {
            let to = |place: &usize| place - own.figures.start;
            (to(&one.total), one.parts.iter().map(to).collect())
        };
        PastTable {
            measure: code.to_owned(),
            half_term_from,
            years: own.years.clone(),
            cells: own.figures.clone().map(cell).collect(),
            breakdowns: self.linked.breakdowns.iter().filter(within).map(moved).collect(),
            forgotten: BTreeSet::new(),
            to_fewer: false,
        }
    }
}
