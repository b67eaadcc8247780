//! Which rows are about the same pupil.

use std::collections::BTreeMap;

use super::import::Row;
use crate::time::Date;

/// Rows by what makes two of them one pupil, so that no row is compared with every other.
#[derive(Default)]
pub(super) struct Index {
    by_ref: BTreeMap<String, Vec<usize>>,
    by_birth: BTreeMap<BirthKey, Vec<usize>>,
    by_name: BTreeMap<(String, String), Vec<usize>>,
    has_ref: Vec<bool>,
    has_birth: Vec<bool>,
}

/// Name and date of birth.
type BirthKey = ((String, String), Date);

impl Index {
    pub(super) fn add(&mut self, row: &Row) {
        let n = self.has_ref.len();
        self.has_ref.push(row.pupil_ref.is_some());
        self.has_birth.push(row.date_of_birth.is_some());
        self.by_name.entry(row.name_key()).or_default().push(n);
        if let Some(reference) = &row.pupil_ref {
            self.by_ref.entry(reference.clone()).or_default().push(n);
        }
        if let Some(born) = row.date_of_birth {
            self.by_birth.entry((row.name_key(), born)).or_default().push(n);
        }
    }

    /// The rows added that are about the same pupil, by their place. Two references decide;
    /// otherwise name and date of birth together. Different references never merge, however
    /// alike the rest.
    pub(super) fn same(&self, row: &Row) -> Vec<usize> {
        let by_ref = row.pupil_ref.as_ref().and_then(|reference| self.by_ref.get(reference));
        let by_birth = row.date_of_birth.and_then(|born| self.by_birth.get(&(row.name_key(), born)));
        let undecided = |n: &usize| row.pupil_ref.is_none() || !self.has_ref[*n];
        let by_birth = by_birth.into_iter().flatten().copied().filter(undecided);
        // Where neither says more than a name, the name is all there is to go by.
        let bare = row.pupil_ref.is_none() && row.date_of_birth.is_none();
        let by_name = self.by_name.get(&row.name_key()).filter(|_| bare).into_iter().flatten().copied();
        let by_name = by_name.filter(|n| !self.has_ref[*n] && !self.has_birth[*n]);
        by_ref.into_iter().flatten().copied().chain(by_birth).chain(by_name).collect()
    }

    /// Whether a row says no more than a name that somebody added has, who is known better.
    pub(super) fn is_unclear(&self, row: &Row) -> bool {
        let bare = row.pupil_ref.is_none() && row.date_of_birth.is_none();
        bare && self
            .by_name
            .get(&row.name_key())
            .is_some_and(|list| list.iter().any(|n| self.has_ref[*n] || self.has_birth[*n]))
    }
}

impl<'a> FromIterator<&'a Row> for Index {
    fn from_iter<I: IntoIterator<Item = &'a Row>>(rows: I) -> Self {
        let mut index = Self::default();
        rows.into_iter().for_each(|row| index.add(row));
        index
    }
}
