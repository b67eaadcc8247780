//! Every made-up word of one syllable that what is taught allows: for when walking by chance finds
//! no more.

use std::collections::BTreeSet;

use crate::phonics::unit::GpcId;

use super::make::{Candidate, Maker, Shape};

/// The most units a word of one syllable has.
const MOST_UNITS: usize = 5;

impl Maker<'_> {
    /// The candidates of some shapes, in a fixed order; with `holding` only those that hold one of
    /// it. Words of two syllables are not among them.
    pub(super) fn every(&self, shapes: &[Shape], holding: &BTreeSet<GpcId>) -> Vec<Candidate> {
        let first = self.grammar.first().iter().map(|(id, _)| *id);
        let mut open: Vec<Vec<GpcId>> = first.filter(|id| self.taught(*id)).map(|id| vec![id]).collect();
        let mut out = Vec::new();
        while let Some(ids) = open.pop() {
            let Some(last) = ids.last() else { continue };
            for (next, _) in self.grammar.after(*last) {
                match next {
                    Some(id) if ids.len() < MOST_UNITS && self.taught(*id) => {
                        open.push([&ids[..], &[*id]].concat());
                    }
                    Some(_) => {}
                    None => out.extend(self.whole(&ids, shapes, holding)),
                }
            }
        }
        out
    }

    fn whole(&self, ids: &[GpcId], shapes: &[Shape], holding: &BTreeSet<GpcId>) -> Option<Candidate> {
        let shape = self.shape(ids).filter(|s| shapes.contains(s))?;
        let held = holding.is_empty() || ids.iter().any(|id| holding.contains(id));
        let letters = self.spell(ids).filter(|_| held && self.is_syllable(ids))?;
        Some((ids.to_vec(), letters, shape))
    }
}
