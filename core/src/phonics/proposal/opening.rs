//! Openings in common use, kept as hashes: an order is to be a school's own.

use sha2::{Digest, Sha256};

use crate::phonics::{Engine, data, fixed::Set, sequence::Sequence, unit::GpcId};

/// How many correspondences at the start make the opening.
pub(super) const OPENING: usize = 6;

/// The openings to keep clear of.
#[derive(Debug)]
pub(super) struct Openings(Set<&'static str>);

impl Openings {
    pub(super) fn load() -> Self {
        Self(data::lines(data::OPENINGS).map(|(_, line)| line.trim()).collect())
    }

    /// Whether four of these correspondences have letters that stand together in one of them.
    pub(super) fn hold(&self, engine: &Engine, first: &[GpcId]) -> bool {
        let items = first.iter().filter_map(|id| engine.inventory().get(*id));
        let mut letters: Vec<&str> = items.map(|c| c.gpc.grapheme().as_str()).collect();
        letters.sort_unstable();
        letters.dedup();
        fours(&letters).iter().any(|four| self.0.contains(hex(four).as_str()))
    }
}

/// Whether a sequence opens like an order in common use: four of its first six correspondences
/// have letters that stand together there. Checked for drafts too.
#[must_use]
pub fn opens_familiar(engine: &Engine, sequence: &Sequence) -> bool {
    let first: Vec<GpcId> = sequence.taught(u16::MAX).take(OPENING).collect();
    Openings::load().hold(engine, &first)
}

/// Every four of the letters, in alphabetical order.
fn fours(letters: &[&str]) -> Vec<String> {
    let mut out = vec![(String::new(), 0usize)];
    for letter in letters {
        let longer: Vec<(String, usize)> =
            out.iter().filter(|(_, n)| *n < 4).map(|(text, n)| (format!("{text}{letter}"), n + 1)).collect();
        out.extend(longer);
    }
    out.into_iter().filter(|(_, n)| *n == 4).map(|(text, _)| text).collect()
}

fn hex(four: &str) -> String {
    let digest = Sha256::digest(format!("opening:{four}").as_bytes());
    digest.iter().take(8).map(|b| format!("{b:02x}")).collect()
}
