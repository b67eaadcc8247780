//! A teaching sequence as the engine sees it: ordered steps, each with the correspondences and
//! exception words it introduces.

use super::Engine;
use super::fixed::Map;
use super::gpc::Gpc;
use super::inventory::UnknownGpc;
use super::unit::GpcId;
use super::word::{Word, WordError};

/// One step as a client writes it.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct StepText {
    /// Correspondences, `grapheme:phonemes`.
    pub gpcs: Vec<String>,
    /// Words taught as wholes at this step.
    pub exception_words: Vec<String>,
}

/// One step.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Step {
    /// What it introduces.
    pub gpcs: Vec<GpcId>,
    /// Exception words it introduces, as the lexicon looks them up (lower case).
    pub exception_words: Vec<String>,
}

/// Steps in order. Step 0 is before the first: nothing taught. The last step number is
/// [`Sequence::len`].
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Sequence {
    steps: Vec<Step>,
    position: Map<GpcId, u16>,
}

/// Why steps are not a sequence. Steps are counted from 1.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SequenceError {
    /// A correspondence that is not one.
    #[error("step {step}: {error}")]
    Unknown {
        /// The step.
        step: usize,
        /// What is wrong, with suggestions.
        error: UnknownGpc,
    },
    /// A correspondence introduced twice.
    #[error("step {step}: {gpc} was already introduced at step {first}")]
    Twice {
        /// The second step.
        step: usize,
        /// The correspondence.
        gpc: Gpc,
        /// The first step.
        first: u16,
    },
    /// An exception word that is no word.
    #[error("step {step}: {error}")]
    Word {
        /// The step.
        step: usize,
        /// What is wrong with it.
        error: WordError,
    },
    /// More steps than a school year has days, many times over.
    #[error("{0} steps are too many (at most {MOST_STEPS})")]
    TooMany(usize),
}

/// The most steps a sequence may have.
pub const MOST_STEPS: usize = 2_000;

impl Sequence {
    /// Reads steps as a client sends them.
    ///
    /// # Errors
    /// [`SequenceError`] naming the first step at fault.
    pub fn parse(engine: &Engine, steps: &[StepText]) -> Result<Self, SequenceError> {
        if steps.len() > MOST_STEPS {
            return Err(SequenceError::TooMany(steps.len()));
        }
        let mut out = Self::default();
        for (step, text) in (1..).zip(steps) {
            let mut gpcs = Vec::new();
            for gpc in &text.gpcs {
                let id = engine.inventory().find(gpc);
                gpcs.push(id.map_err(|error| SequenceError::Unknown { step, error })?);
            }
            let mut exception_words = Vec::new();
            for word in &text.exception_words {
                let word = Word::parse(word).map_err(|error| SequenceError::Word { step, error })?;
                exception_words.push(word.key());
            }
            out.push(Step { gpcs, exception_words }, engine)?;
        }
        Ok(out)
    }

    /// A set without order, as one step: what one pupil, or a class so far, was taught.
    #[must_use]
    pub fn of_set(gpcs: impl IntoIterator<Item = GpcId>) -> Self {
        let mut out = Self::default();
        let gpcs: Vec<GpcId> = gpcs.into_iter().collect();
        for id in &gpcs {
            out.position.insert(*id, 1);
        }
        out.steps.push(Step { gpcs, exception_words: Vec::new() });
        out
    }

    /// Steps of known correspondences and words as they stand, even those that hold nothing; what
    /// was introduced before is left out.
    #[must_use]
    pub fn of_steps(steps: Vec<Step>) -> Self {
        let mut out = Self::default();
        for (number, mut step) in (1..).zip(steps) {
            step.gpcs.retain(|id| match out.position.entry(*id) {
                std::collections::hash_map::Entry::Vacant(slot) => {
                    slot.insert(number);
                    true
                }
                std::collections::hash_map::Entry::Occupied(_) => false,
            });
            out.steps.push(step);
        }
        out
    }

    /// One correspondence a step, in order; later repeats are left out.
    #[must_use]
    pub fn one_a_step(gpcs: &[GpcId]) -> Self {
        Self::from_ids(gpcs.iter().map(|id| vec![*id]).collect())
    }

    /// Steps of known correspondences; what was introduced before is left out, as are steps that
    /// hold nothing then.
    #[must_use]
    pub fn from_ids(steps: Vec<Vec<GpcId>>) -> Self {
        let mut out = Self::default();
        for step in steps {
            let number = u16::try_from(out.steps.len() + 1).unwrap_or(u16::MAX - 1);
            let mut gpcs = Vec::new();
            for id in step {
                if let std::collections::hash_map::Entry::Vacant(slot) = out.position.entry(id) {
                    slot.insert(number);
                    gpcs.push(id);
                }
            }
            if !gpcs.is_empty() {
                out.steps.push(Step { gpcs, exception_words: Vec::new() });
            }
        }
        out
    }

    /// The steps as a client writes them, exception words as shown to children (*I*, *Mr*).
    #[must_use]
    pub fn to_text(&self, engine: &Engine) -> Vec<StepText> {
        let gpc = |id: &GpcId| engine.inventory().get(*id).map(|c| c.gpc.to_string());
        self.steps
            .iter()
            .map(|s| StepText {
                gpcs: s.gpcs.iter().filter_map(gpc).collect(),
                exception_words: s.exception_words.iter().map(|w| engine.shown(w)).collect(),
            })
            .collect()
    }

    fn push(&mut self, step: Step, engine: &Engine) -> Result<(), SequenceError> {
        let number = self.steps.len() + 1;
        for id in &step.gpcs {
            let position = u16::try_from(number).unwrap_or(u16::MAX - 1);
            if let Some(first) = self.position.insert(*id, position) {
                let gpc = engine.inventory().get(*id).map(|c| c.gpc.clone());
                return match gpc {
                    Some(gpc) => Err(SequenceError::Twice { step: number, gpc, first }),
                    None => Ok(()),
                };
            }
        }
        self.steps.push(step);
        Ok(())
    }

    /// The same with an exception word taught at a step, unless one teaches it already.
    #[must_use]
    pub fn with_exception_word(mut self, step: u16, word: &str) -> Self {
        let taught = self.exception_step(word).is_some();
        let at = usize::from(step).checked_sub(1).and_then(|at| self.steps.get_mut(at));
        if let Some(step) = at.filter(|_| !taught) {
            step.exception_words.push(word.to_lowercase());
        }
        self
    }

    /// The steps, the first being step 1.
    #[must_use]
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// How many steps: also the number of the last.
    #[must_use]
    pub fn len(&self) -> usize {
        self.steps.len()
    }

    /// Whether it has no steps.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.steps.is_empty()
    }

    /// The step that introduces a correspondence.
    #[must_use]
    pub fn position(&self, id: GpcId) -> Option<u16> {
        self.position.get(&id).copied()
    }

    /// Everything introduced up to and including a step, in order.
    pub fn taught(&self, step: u16) -> impl Iterator<Item = GpcId> + '_ {
        self.steps.iter().take(usize::from(step)).flat_map(|s| s.gpcs.iter().copied())
    }

    /// The step that introduces an exception word, if one does.
    #[must_use]
    pub fn exception_step(&self, word: &str) -> Option<u16> {
        let has = |s: &Step| s.exception_words.iter().any(|w| w.eq_ignore_ascii_case(word));
        let at = self.steps.iter().position(has)?;
        u16::try_from(at + 1).ok()
    }
}
