//! Learning what each correspondence costs: expectation maximisation over all alignments of the
//! common words, starting from the tiers alone.

use plumbline_core::phonics::align::{Arc, Costs, arcs};
use plumbline_core::phonics::inventory::Inventory;
use plumbline_core::phonics::phoneme::Phoneme;

use crate::bath::Bath;
use crate::convert::Converter;
use crate::sources::{Bands, Cmu};

/// Counts added to every correspondence so that a rare one keeps a finite cost.
const SMOOTHING: f64 = 0.3;
/// How often the words are converted anew with the costs learnt.
const ROUNDS: usize = 3;
/// Passes of expectation maximisation in a round.
const PASSES: usize = 3;

/// Learns costs from the words of bands up to 20, first pronunciation only.
#[must_use]
pub fn train(inventory: &Inventory, cmu: &Cmu, bands: &Bands, bath: &Bath) -> Costs {
    let mut costs = Costs::prior(inventory);
    for _ in 0..ROUNDS {
        let converter = Converter::new(inventory, &costs, bath);
        let words: Vec<(&str, Vec<Phoneme>)> = bands
            .iter()
            .filter(|(_, b)| b.band <= 20)
            .filter_map(|(word, _)| {
                let american = cmu.get(word)?.first()?;
                let converted = converter.run(word, american)?;
                Some((word.as_str(), crate::rows::phonemes(inventory, &converted.units)))
            })
            .collect();
        for _ in 0..PASSES {
            let mut counts = vec![0.0; inventory.len()];
            for (word, phonemes) in &words {
                expect(inventory, &costs, word, phonemes, &mut counts);
            }
            costs = Costs::learnt(inventory, &counts, SMOOTHING);
        }
    }
    costs
}

/// Adds each correspondence's expected number of uses in one word (forward–backward).
fn expect(inventory: &Inventory, costs: &Costs, word: &str, phonemes: &[Phoneme], counts: &mut [f64]) {
    let letters: Vec<u8> = word.bytes().filter(u8::is_ascii_lowercase).collect();
    let width = phonemes.len() + 1;
    let at = |(i, j, s): (usize, usize, usize)| (i * width + j) * 4 + s;
    let size = (letters.len() + 1) * width * 4;
    let (mut forward, mut backward) = (vec![0.0f64; size], vec![0.0f64; size]);
    let mut edges: Vec<(usize, Arc, f64)> = Vec::new();
    forward[0] = 1.0;
    for i in 0..letters.len() {
        for j in 0..width {
            for state in 0..4 {
                let from = at((i, j, state));
                let reached = forward[from];
                if reached <= 0.0 {
                    continue;
                }
                arcs(inventory, &letters, phonemes, (i, j, state), |arc| {
                    let own = arc.unit.map_or(0.0, |u| costs.of(u.id()));
                    let p = f64::from(-(own + arc.extra)).exp();
                    forward[at(arc.to)] += reached * p;
                    edges.push((from, arc, p));
                });
            }
        }
    }
    let end = at((letters.len(), phonemes.len(), 0));
    let total = forward[end];
    if total <= 0.0 {
        return;
    }
    backward[end] = 1.0;
    for (from, arc, p) in edges.iter().rev() {
        let after = backward[at(arc.to)];
        backward[*from] += p * after;
        if let Some(unit) = arc.unit {
            counts[unit.id().index()] += forward[*from] * p * after / total;
        }
    }
}

/// The costs as the committed file has them.
#[must_use]
pub fn write(inventory: &Inventory, costs: &Costs) -> String {
    let mut out = String::from(
        "# What each correspondence costs the aligner, in nats: -log of its probability plus its tier's penalty.\n\
         # Learnt by core/lexicon-build; do not edit. gpc <tab> cost\n",
    );
    for (id, item) in inventory.iter() {
        out.push_str(&format!("{}\t{:.2}\n", item.gpc, costs.of(id)));
    }
    out
}
