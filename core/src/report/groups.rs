//! The groups of pupils figures are about, and which of them make up which: all there are, whatever is asked for, so that
//! what is decided of a figure is the same in every release of one snapshot.

use std::collections::{BTreeMap, BTreeSet};

use super::{
    cohort::{Cohort, Line},
    release::{By, Figure, Row},
    whom::Whom,
};

/// A group of pupils.
pub(super) struct Group<'a> {
    /// By what it is one; none for all there are, and where it only ties others together.
    pub by: Option<By>,
    /// The year group, class, term or value; of all there are, of which check they are.
    pub name: Option<String>,
    pub lines: Vec<&'a Line>,
    /// Whether a row may be about it: the part of a mixed-age class in one year group only ties the two.
    pub has_row: bool,
}

impl Group<'_> {
    pub fn row(&self, figure: Figure) -> Row {
        Row { by: self.by.clone(), name: self.name.clone(), figure }
    }
}

/// The groups of those a measure tells of: all of them first.
pub(super) struct Groups<'a> {
    pub groups: Vec<Group<'a>>,
    /// A whole and its parts, by place.
    pub breakdowns: Vec<(usize, Vec<usize>)>,
}

impl<'a> Groups<'a> {
    /// All groups, with classes or without.
    pub fn of(cohort: &'a Cohort, whom: &Whom<'a>, with_classes: bool) -> Self {
        let all = Group { by: None, name: whom.called(), lines: whom.lines.clone(), has_row: true };
        let mut made = Self { groups: vec![all], breakdowns: Vec::new() };
        let order = |by: &By| cohort.definitions.order(by);
        made.part(&By::YearGroup, |line| line.year_group.clone(), order(&By::YearGroup));
        if with_classes {
            made.classes();
        }
        made.part(&By::TermOfBirth, |line| line.term_of_birth.clone(), order(&By::TermOfBirth));
        for code in cohort.fields() {
            let by = By::Field(code.clone());
            made.part(&by, |line| line.fields.get(&code).cloned(), order(&by));
        }
        made.years(whom);
        if whom.check.is_some() {
            made.nobody_due(&By::YearGroup, cohort.lines.iter().filter_map(|line| line.year_group.as_ref()));
            if with_classes {
                made.nobody_due(&By::Class, cohort.lines.iter().filter_map(|line| line.class.as_ref()));
            }
        }
        made
    }

    /// Places of the rows of a release: the school, then what was asked for, in that order.
    pub fn rows(&self, by: &[By]) -> Vec<usize> {
        let of = |by: Option<&By>| -> Vec<usize> {
            let there = |place: &usize| {
                let group = &self.groups[*place];
                group.has_row && group.by.as_ref() == by
            };
            (0..self.groups.len()).filter(there).collect()
        };
        std::iter::once(None).chain(by.iter().map(Some)).flat_map(of).collect()
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
        let parts =
            parts.into_iter().map(|((_, name), lines)| self.add(Some(by.clone()), name, lines)).collect();
        self.breakdowns.push((0, parts));
    }

    /// Groups of the school none of whose pupils were due.
    fn nobody_due<'n>(&mut self, by: &By, names: impl Iterator<Item = &'n String>) {
        let names: BTreeSet<&String> = names.collect();
        for name in names {
            let is_it =
                |group: &Group<'_>| group.by.as_ref() == Some(by) && group.name.as_ref() == Some(name);
            if !self.groups.iter().any(is_it) {
                self.add(Some(by.clone()), Some(name.clone()), Vec::new());
            }
        }
    }

    /// Each group by the years of its checks, where there are several: a figure of one year is no secret that several years
    /// together may give away, or the other way about.
    fn years(&mut self, whom: &Whom<'a>) {
        let years: BTreeSet<i32> = whom.years.values().copied().collect();
        if years.len() < 2 {
            return;
        }
        let (groups, breakdowns) = (self.groups.len(), self.breakdowns.clone());
        let mut of_year: BTreeMap<(usize, i32), usize> = BTreeMap::new();
        for whole in 0..groups {
            for year in &years {
                let is_of = |line: &&Line| whom.years.get(&line.pupil) == Some(year);
                let lines = self.groups[whole].lines.iter().copied().filter(is_of).collect();
                let by = self.groups[whole].by.clone();
                self.groups.push(Group { by, name: None, lines, has_row: false });
                of_year.insert((whole, *year), self.groups.len() - 1);
            }
            self.breakdowns.push((whole, years.iter().map(|year| of_year[&(whole, *year)]).collect()));
        }
        for year in years {
            let of = |group: &usize| of_year[&(*group, year)];
            let tied = breakdowns.iter().map(|(whole, parts)| (of(whole), parts.iter().map(of).collect()));
            self.breakdowns.extend(tied);
        }
    }

    fn add(&mut self, by: Option<By>, name: Option<String>, lines: Vec<&'a Line>) -> usize {
        let has_row = by.is_some();
        self.groups.push(Group { by, name, lines, has_row });
        self.groups.len() - 1
    }

    /// The classes, by year group where ages are mixed, and the year groups by class.
    fn classes(&mut self) {
        let by = By::Class;
        self.part(&by, |line| line.class.clone(), &[]);
        let of = |by: &By, groups: &[Group<'_>]| -> Vec<usize> {
            (0..groups.len()).filter(|place| groups[*place].by.as_ref() == Some(by)).collect()
        };
        let (years, classes) = (of(&By::YearGroup, &self.groups), of(&by, &self.groups));
        let mut of_year: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for class in classes {
            let name_of = |year: usize| self.groups[year].name.clone();
            let here: Vec<(usize, Vec<&'a Line>)> = (years.iter())
                .map(|year| {
                    let (name, lines) = (name_of(*year), self.groups[class].lines.iter());
                    (*year, lines.copied().filter(|line| line.year_group == name).collect())
                })
                .filter(|(_, lines): &(_, Vec<_>)| !lines.is_empty())
                .collect();
            let mixed = here.len() > 1;
            let mut parts = Vec::new();
            for (year, lines) in here {
                let place = if mixed { self.add(None, None, lines) } else { class };
                of_year.entry(year).or_default().push(place);
                parts.push(place);
            }
            if mixed {
                self.breakdowns.push((class, parts));
            }
        }
        self.breakdowns.extend(of_year);
    }
}
