//! Every made-up word of one syllable that what is taught allows: for when walking by chance finds
//! no more, and for words that must hold a given unit.

use std::collections::BTreeSet;

use crate::phonics::unit::GpcId;

use super::make::{Candidate, Maker, Shape};

impl Maker<'_> {
    /// The strings of taught units of some shapes, in a fixed order; with `holding` only those that
    /// hold one of it, those that hold two more than once. Not yet spelt nor known for syllables.
    /// Words of two syllables are not among them.
    pub(super) fn every(&self, shapes: &[Shape], holding: &BTreeSet<GpcId>) -> Vec<Vec<GpcId>> {
        let mut out = Vec::new();
        if holding.is_empty() {
            for (first, _) in self.grammar.first().iter().filter(|(id, _)| self.taught(*id)) {
                self.put_all(&mut out, shapes, vec![*first]);
            }
        }
        for held in holding.iter().filter(|id| self.taught(**id)) {
            for head in self.heads(*held, shapes) {
                self.put_all(&mut out, shapes, head);
            }
        }
        out
    }

    /// A string of units as a candidate, if it spells a syllable.
    pub(super) fn whole(&self, ids: Vec<GpcId>) -> Option<Candidate> {
        let shape = self.shape(&ids)?;
        let letters = self.spell(&ids).filter(|_| self.is_syllable(&ids))?;
        Some((ids, letters, shape))
    }

    /// Every beginning of a word that ends in a unit.
    fn heads(&self, held: GpcId, shapes: &[Shape]) -> Vec<Vec<GpcId>> {
        let mut out = Vec::new();
        let mut open = vec![vec![held]];
        while let Some(head) = open.pop() {
            let Some(first) = head.first() else { continue };
            for before in self.grammar.before(*first) {
                match before {
                    Some(id) if self.taught(*id) => {
                        let longer = [&[*id], &head[..]].concat();
                        open.extend(self.fits(&longer, shapes).then_some(longer));
                    }
                    Some(_) => {}
                    None => out.push(head.clone()),
                }
            }
        }
        out
    }

    /// Every word that begins so.
    fn put_all(&self, out: &mut Vec<Vec<GpcId>>, shapes: &[Shape], head: Vec<GpcId>) {
        let mut open = vec![head];
        while let Some(ids) = open.pop() {
            let Some(last) = ids.last() else { continue };
            for (next, _) in self.grammar.after(*last) {
                match next {
                    Some(id) if self.taught(*id) => {
                        let longer = [&ids[..], &[*id]].concat();
                        open.extend(self.fits(&longer, shapes).then_some(longer));
                    }
                    Some(_) => {}
                    None if self.shape(&ids).is_some_and(|s| shapes.contains(&s)) => out.push(ids.clone()),
                    None => {}
                }
            }
        }
    }

    /// Whether one of the shapes has at least as many units before its vowel, and after it; without a
    /// vowel yet, on one side.
    fn fits(&self, ids: &[GpcId], shapes: &[Shape]) -> bool {
        let sides: Vec<usize> = ids.split(|id| self.has_vowel(*id)).map(<[_]>::len).collect();
        shapes.iter().map(|s| s.beside()).any(|(before, after)| match sides[..] {
            [all] => all <= before || all <= after,
            [head, tail] => head <= before && tail <= after,
            _ => false,
        })
    }
}
