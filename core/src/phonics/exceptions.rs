//! Placing exception words in a draft: each where a class first meets the need and can read all of
//! it but the odd part.

use serde::{Deserialize, Serialize};

use super::Engine;
use super::bank::Plan;
use super::policy::Policy;
use super::sequence::Sequence;
use super::statutory::Year;
use super::unlock::NEVER;

/// How exception words are placed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Placing {
    /// No exception word before this step.
    pub from: u16,
    /// Steps from one word of the list of year 1 to the next, at least 1.
    pub every: u16,
    /// The first step that may hold words of the list of year 2.
    pub year2_from: u16,
    /// The most words at such a step.
    pub year2_per_step: usize,
    /// A word that can be read by its parts within so many steps is left to its parts.
    pub wait: u16,
    /// The most correspondences a word may lack when it is taught.
    pub lacking: usize,
}

impl Default for Placing {
    fn default() -> Self {
        Self { from: 6, every: 1, year2_from: 1, year2_per_step: 1, wait: 10, lacking: 1 }
    }
}

impl Plan {
    /// The sequence with statutory exception words placed in it, those of year 1 first, each at the
    /// first free step where it lacks no more than allowed. Words that can soon be read by their
    /// parts, and those that never come close, are left out; words already placed stay.
    #[must_use]
    pub fn place_exception_words(&self, engine: &Engine, placing: Placing) -> Sequence {
        let mut out = self.sequence.clone();
        let words = engine.statutory().exception_words();
        for step in placing.from.max(1)..=self.last_step() {
            let fits = |word: &str| {
                let Some(known) = engine.lexicon().find(word) else {
                    return false;
                };
                let decodable = self.reading.word(&known);
                let soon = decodable != NEVER && decodable <= step.saturating_add(placing.wait);
                let lacks = self
                    .reading
                    .first_reading(&known)
                    .map(|r| self.reading.lacking(engine, r.units, step).len());
                !soon && lacks.is_some_and(|n| n <= placing.lacking)
            };
            let turn = (step - placing.from.max(1)).is_multiple_of(placing.every.max(1));
            for word in words {
                let placed = out.steps()[usize::from(step) - 1].exception_words.len();
                let room = match word.year {
                    Year::Year1 => turn && placed == 0,
                    Year::Year2 => step >= placing.year2_from && placed < placing.year2_per_step,
                };
                if room && out.exception_step(word.word).is_none() && fits(word.word) {
                    out = out.with_exception_word(step, word.word);
                }
            }
        }
        out
    }
}

impl Engine {
    /// A sequence with exception words placed in it, for a policy; see
    /// [`Plan::place_exception_words`].
    #[must_use]
    pub fn with_exception_words(&self, sequence: Sequence, policy: Policy, placing: Placing) -> Sequence {
        Plan::new(self, sequence, policy).place_exception_words(self, placing)
    }
}
