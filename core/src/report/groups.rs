//! The groups of pupils a release tells of, and which of them make up which.

use std::collections::BTreeMap;

use super::{
    cohort::{Cohort, Line},
    release::{By, Choice, Figure, Row},
};
use crate::{disclosure::Breakdown, rules::RulePack};

/// A group of pupils and its place among the breakdowns.
pub(super) struct Group<'a> {
    pub by: Option<By>,
    pub name: Option<String>,
    pub lines: Vec<&'a Line>,
    /// Whether a row is about it: the part of a mixed-age class in one year group only ties the two.
    pub shown: bool,
}

impl Group<'_> {
    pub fn row(&self, figure: Figure) -> Row {
        Row { by: self.by.clone(), name: self.name.clone(), figure }
    }
}

/// The groups of a release: the school first.
pub(super) struct Groups<'a> {
    pub groups: Vec<Group<'a>>,
    pub breakdowns: Vec<Breakdown>,
}

impl<'a> Groups<'a> {
    pub fn of(cohort: &'a Cohort, choice: &Choice<'_>, rules: &RulePack) -> Self {
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
