//! Which rows are about the same pupil, and how sure that is.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::{Row, Upn};
use crate::time::Date;

crate::vocabulary! {
    /// What two rows are taken for one pupil by, surest first.
    pub enum Why as "MatchedBy" {
        /// A person said so.
        Person = "person",
        /// The same UPN.
        Upn = "upn",
        /// The same reference of the school.
        Reference = "reference",
        /// The same name and date of birth, and nothing against it.
        NameAndBirth = "name_and_birth",
        /// The same name, and neither row says more.
        Name = "name",
        /// The same name, and only one of the two says more: it may be somebody else.
        NameOnly = "name_only",
        /// The same reference with different UPNs; the same UPN or reference, and name or birth of somebody
        /// else; or the same name and date of birth with the reference of another system.
        Contradiction = "contradiction",
    }
}

impl Why {
    /// Whether no person need be asked.
    #[must_use]
    pub const fn is_sure(self) -> bool {
        !matches!(self, Self::NameOnly | Self::Contradiction)
    }
}

/// Somebody a row may be about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Match<T> {
    /// Whom.
    pub whom: T,
    /// By what.
    pub why: Why,
}

/// Rows by what makes two of them one pupil, so that no row is compared with every other.
#[derive(Default)]
pub(super) struct Index {
    by_upn: BTreeMap<Upn, Vec<usize>>,
    by_ref: BTreeMap<String, Vec<usize>>,
    by_name: BTreeMap<(String, String), Vec<usize>>,
    known: Vec<Known>,
}

/// What else is known of a row.
struct Known {
    upn: Option<Upn>,
    reference: Option<String>,
    born: Option<Date>,
}

impl Row {
    /// Whether a number that leads to this row was given to somebody else: nothing of the name is the same,
    /// or neither given name nor birth is. Names in the other order are the same; one name beside two says
    /// nothing of the other.
    pub(super) fn is_somebody_else(&self, new: &Self) -> bool {
        let names = |row: &Self| -> Vec<String> {
            let (given, family) = row.name_key();
            [given, family].into_iter().filter(|name| !name.is_empty()).collect()
        };
        let (known, named) = (names(self), names(new));
        if known.is_empty() || named.is_empty() || named.iter().any(|name| known.contains(name)) {
            let born = compare(&self.date_of_birth, &new.date_of_birth);
            let (given, new_given) = (self.name_key().0, new.name_key().0);
            let other_given = !given.is_empty() && !new_given.is_empty() && given != new_given;
            return born == Some(false) && other_given && !known.contains(&new_given);
        }
        known.len() == 1 || named.len() == 2
    }
}

impl Index {
    pub(super) fn add(&mut self, row: &Row) {
        let n = self.known.len();
        self.by_name.entry(row.name_key()).or_default().push(n);
        if let Some(reference) = &row.pupil_ref {
            self.by_ref.entry(reference.clone()).or_default().push(n);
        }
        if let Some(upn) = &row.upn {
            self.by_upn.entry(upn.clone()).or_default().push(n);
        }
        self.known.push(Known {
            upn: row.upn.clone(),
            reference: row.pupil_ref.clone(),
            born: row.date_of_birth,
        });
    }

    /// The rows added that may be about the same pupil, by their place. A UPN or a reference
    /// decides, unless the two disagree; different ones never merge, however alike the rest.
    /// Otherwise name and date of birth together do.
    pub(super) fn matches(&self, row: &Row) -> Vec<Match<usize>> {
        let by_upn = row.upn.as_ref().and_then(|upn| self.by_upn.get(upn)).into_iter().flatten();
        let by_ref = row.pupil_ref.as_ref().and_then(|r| self.by_ref.get(r)).into_iter().flatten();
        let mut found: BTreeMap<usize, Why> = BTreeMap::new();
        for n in by_upn.chain(by_ref).copied() {
            found.entry(n).or_insert_with(|| self.by_number(n, row));
        }
        // Who is known by a number is not looked for by name as well.
        if found.is_empty() {
            for n in self.by_name.get(&row.name_key()).into_iter().flatten().copied() {
                if let Some(why) = self.by_name_of(n, row) {
                    found.insert(n, why);
                }
            }
            if found.values().any(|why| why.is_sure()) {
                found.retain(|_, why| why.is_sure());
            }
        }
        found.into_iter().map(|(whom, why)| Match { whom, why }).collect()
    }

    /// The rows added under exactly this name, but for those that cannot be by the date of birth.
    pub(super) fn named(&self, row: &Row) -> impl Iterator<Item = usize> {
        let named = self.by_name.get(&row.name_key()).into_iter().flatten().copied();
        named.filter(|n| compare(&self.known[*n].born, &row.date_of_birth) != Some(false))
    }

    fn by_number(&self, n: usize, row: &Row) -> Why {
        let known = &self.known[n];
        let (upn, reference) = (compare(&known.upn, &row.upn), compare(&known.reference, &row.pupil_ref));
        match (upn, reference) {
            (Some(false), _) => Why::Contradiction,
            // A reference changes when a pupil leaves and comes back; the UPN stays.
            (Some(true), _) => Why::Upn,
            (None, _) => Why::Reference,
        }
    }

    fn by_name_of(&self, n: usize, row: &Row) -> Option<Why> {
        let known = &self.known[n];
        let born = compare(&known.born, &row.date_of_birth);
        if compare(&known.upn, &row.upn) == Some(false) || born == Some(false) {
            return None;
        }
        if compare(&known.reference, &row.pupil_ref) == Some(false) {
            return (row.beside.foreign && born == Some(true)).then_some(Why::Contradiction);
        }
        let says = |upn: bool, reference: bool, born: bool| upn || reference || born;
        let knows = says(known.upn.is_some(), known.reference.is_some(), known.born.is_some());
        let tells = says(row.upn.is_some(), row.pupil_ref.is_some(), row.date_of_birth.is_some());
        Some(match born {
            Some(true) => Why::NameAndBirth,
            _ if !knows && !tells => Why::Name,
            _ => Why::NameOnly,
        })
    }
}

/// Whether two known things are the same; none where one is not known.
fn compare<T: PartialEq>(one: &Option<T>, other: &Option<T>) -> Option<bool> {
    Some(one.as_ref()? == other.as_ref()?)
}

impl<'a> FromIterator<&'a Row> for Index {
    fn from_iter<I: IntoIterator<Item = &'a Row>>(rows: I) -> Self {
        let mut index = Self::default();
        rows.into_iter().for_each(|row| index.add(row));
        index
    }
}
