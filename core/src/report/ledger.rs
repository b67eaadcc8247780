//! What later releases have to know of an earlier one.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use crate::{
    disclosure::{PastSaid, Population},
    time::Date,
};

/// A figure as the ledger of releases keeps it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PastCell {
    /// Whom it was about.
    pub population: Population,
    /// How many of them met the measure.
    pub met: u32,
    /// What was said of it.
    pub said: PastSaid,
    /// The optional field it comes of; none where it would be there without any.
    pub field: Option<String>,
}

/// What an earlier release told of one measure.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PastTable {
    /// The measure.
    pub measure: String,
    /// The first day of the half term it was of.
    pub half_term_from: Date,
    /// By pupil, the year of the check that counts in it; nothing where it tells of no check.
    #[serde(default)]
    pub years: BTreeMap<u64, i32>,
    /// Its figures.
    pub cells: Vec<PastCell>,
    /// Which of them make up which: a whole and its parts, by place.
    pub breakdowns: Vec<(usize, Vec<usize>)>,
    /// Optional fields whose figures were dropped, though readers still have them.
    pub forgotten: BTreeSet<String>,
    /// Whether it was told to fewer than what is judged by it: to a closed circle, where everybody is told.
    #[serde(skip)]
    pub to_fewer: bool,
}

impl PastTable {
    /// Drops what came of an optional field: who had which value cannot be told of it any more, and no later figure by
    /// that field can be judged by it.
    pub fn forget(&mut self, field: &str) {
        if self.cells.iter().any(|cell| cell.field.as_deref() == Some(field)) {
            self.forgotten.insert(field.to_owned());
        }
        let stays = |cell: &PastCell| cell.field.as_deref() != Some(field);
        let mut places = Vec::with_capacity(self.cells.len());
        let mut next = 0;
        for cell in &self.cells {
            places.push(stays(cell).then_some(next));
            next += usize::from(stays(cell));
        }
        let moved = |(total, parts): &(usize, Vec<usize>)| {
            let parts: Option<Vec<usize>> = parts.iter().map(|part| places[*part]).collect();
            Some((places[*total]?, parts?))
        };
        self.breakdowns = self.breakdowns.iter().filter_map(moved).collect();
        self.cells.retain(stays);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_came_of_a_field_is_forgotten_and_the_rest_stays_tied() {
        let cell = |pupils: std::ops::Range<u64>, field: Option<&str>| PastCell {
            population: pupils.collect(),
            met: 1,
            said: PastSaid::Told,
            field: field.map(str::to_owned),
        };
        let whole = [
            cell(0..9, None),
            cell(0..4, Some("sen")),
            cell(4..9, Some("sen")),
            cell(0..5, None),
            cell(5..9, None),
        ];
        let mut table = PastTable {
            measure: "words".into(),
            half_term_from: "2026-11-02".parse().unwrap(),
            years: BTreeMap::new(),
            cells: whole.to_vec(),
            breakdowns: vec![(0, vec![1, 2]), (0, vec![3, 4])],
            forgotten: BTreeSet::new(),
            to_fewer: false,
        };
        table.forget("disadvantage");
        assert_eq!((table.cells.as_slice(), table.forgotten.len()), (whole.as_slice(), 0));
        table.forget("sen");
        assert_eq!(table.cells, [whole[0].clone(), whole[3].clone(), whole[4].clone()]);
        assert_eq!(table.breakdowns, [(0, vec![1, 2])]);
        assert_eq!(table.forgotten, BTreeSet::from(["sen".to_owned()]));
    }
}
