//! From which step a word can be read, for a sequence and a policy.
//!
//! The unlock step of a reading is the latest step among its units' requirements; that of a word
//! is the earliest among its readings. All words are sorted by it once, so the bank of any step
//! is a prefix.

use super::Engine;
use super::fixed::Map;
use super::gpc::Gpc;
use super::lexicon::{LexWord, Reading, WordId};
use super::policy::Policy;
use super::require::Requirements;
use super::sequence::Sequence;
use super::unit::{GpcId, Unit};

/// The step of what is never unlocked.
pub const NEVER: u16 = u16::MAX;

/// For every possible unit, the step from which it can be read.
#[derive(Debug, Clone)]
pub struct StepTable {
    steps: Vec<u16>,
    /// What to teach for a unit that is never unlocked or unlocked later.
    needs: Map<Unit, GpcId>,
}

impl StepTable {
    /// Works the table out, once for a published version and a policy.
    #[must_use]
    pub fn new(engine: &Engine, sequence: &Sequence, policy: Policy) -> Self {
        let requirements = Requirements::new(engine.inventory(), policy);
        let position = |id: &GpcId| sequence.position(*id).unwrap_or(NEVER);
        let mut steps = vec![NEVER; Unit::TABLE];
        let mut needs = Map::default();
        for (id, _) in engine.inventory().iter() {
            for unit in Unit::all_of(id) {
                let alternatives = requirements.alternatives(unit);
                let best = alternatives
                    .iter()
                    .map(|a| a.iter().map(position).max().unwrap_or(NEVER))
                    .min()
                    .unwrap_or(NEVER);
                if let Some(slot) = steps.get_mut(unit.raw()) {
                    *slot = best;
                }
                let named = alternatives.first().and_then(|a| a.first()).copied();
                if let Some(needed) = named.filter(|n| *n != id) {
                    needs.insert(unit, needed);
                }
            }
        }
        Self { steps, needs }
    }

    /// The step from which a unit can be read, or [`NEVER`].
    #[must_use]
    pub fn unit(&self, unit: Unit) -> u16 {
        self.steps.get(unit.raw()).copied().unwrap_or(NEVER)
    }

    /// The step from which a reading can be read: that of its last unit to be taught.
    #[must_use]
    pub fn reading(&self, units: &[Unit]) -> u16 {
        units.iter().map(|u| self.unit(*u)).max().unwrap_or(NEVER)
    }

    /// The earliest step among readings, with the reading's place in the list.
    #[must_use]
    pub fn best<'u>(&self, readings: impl IntoIterator<Item = &'u [Unit]>) -> (u16, usize) {
        readings
            .into_iter()
            .enumerate()
            .map(|(n, units)| (self.reading(units), n))
            .min()
            .unwrap_or((NEVER, 0))
    }

    /// The step of a word of the lexicon that stands alone.
    #[must_use]
    pub fn word(&self, word: &LexWord<'_>) -> u16 {
        self.best(word.readings_alone().map(|r| r.units)).0
    }

    /// The reading that is unlocked first, of those of a word that stands alone.
    #[must_use]
    pub fn first_reading<'a>(&self, word: &LexWord<'a>) -> Option<Reading<'a>> {
        let (_, n) = self.best(word.readings_alone().map(|r| r.units));
        word.readings_alone().nth(n)
    }

    /// What the reading lacks at a step: the correspondence to teach for each unit that cannot be
    /// read yet, in reading order without repeats.
    #[must_use]
    pub fn lacking(&self, engine: &Engine, units: &[Unit], step: u16) -> Vec<Gpc> {
        let mut out: Vec<Gpc> = Vec::new();
        for unit in units.iter().filter(|u| self.unit(**u) > step) {
            let id = self.needs.get(unit).copied().unwrap_or(unit.id());
            if let Some(item) = engine.inventory().get(id)
                && !out.contains(&item.gpc)
            {
                out.push(item.gpc.clone());
            }
        }
        out
    }
}

/// All words of the lexicon in the order in which a sequence unlocks them.
#[derive(Debug, Clone)]
pub struct Unlocks {
    order: Vec<WordId>,
    /// Where each step ends in `order`: `ends[s]` words can be read at step s.
    ends: Vec<u32>,
    step_of: Vec<u16>,
}

impl Unlocks {
    /// Sorts the lexicon for a table of a sequence of `last` steps. Words of one step come
    /// commonest for children first, then by alphabet.
    #[must_use]
    pub fn new(engine: &Engine, table: &StepTable, last: usize) -> Self {
        let step_of: Vec<u16> = engine.lexicon().iter().map(|w| table.word(&w)).collect();
        let mut keyed: Vec<(u16, u8, WordId)> = engine
            .lexicon()
            .iter()
            .zip(&step_of)
            .filter(|(_, s)| **s != NEVER)
            .map(|(w, s)| (*s, w.rank(), w.id))
            .collect();
        keyed.sort_unstable();
        let ends = (0..=last)
            .map(|s| keyed.partition_point(|(step, ..)| usize::from(*step) <= s))
            .map(|n| u32::try_from(n).unwrap_or(u32::MAX))
            .collect();
        Self { order: keyed.into_iter().map(|(.., id)| id).collect(), ends, step_of }
    }

    /// Every word that can be read at a step: a prefix of the sorted array. A step past the last
    /// is the last.
    #[must_use]
    pub fn bank(&self, step: u16) -> &[WordId] {
        let at = usize::from(step).min(self.ends.len().saturating_sub(1));
        let end = self.ends.get(at).map_or(0, |e| *e as usize);
        self.order.get(..end).unwrap_or(&[])
    }

    /// The words a step adds.
    #[must_use]
    pub fn new_at(&self, step: u16) -> &[WordId] {
        let before = step.checked_sub(1).map_or(0, |s| self.bank(s).len());
        self.bank(step).get(before..).unwrap_or(&[])
    }

    /// The step that unlocks a word, or [`NEVER`].
    #[must_use]
    pub fn step_of(&self, id: WordId) -> u16 {
        self.step_of.get(id.0 as usize).copied().unwrap_or(NEVER)
    }
}
