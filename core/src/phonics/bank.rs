//! Word banks: what a class or a pupil can read or spell, and which exception words stand before
//! them at a point of a sequence.

use std::sync::OnceLock;

use serde::{Deserialize, Serialize};

use super::Engine;
use super::gpc::Gpc;
use super::lexicon::{LexWord, WordId};
use super::policy::Policy;
use super::segment::Variant;
use super::sequence::Sequence;
use super::statutory::Year;
use super::unlock::{NEVER, StepTable, Unlocks};

/// A sequence made ready: tables and sorted words for one published version and one policy.
/// Work it out once (a few milliseconds) and keep it.
#[derive(Debug, Clone)]
pub struct Plan {
    /// The sequence.
    pub sequence: Sequence,
    /// The school's choices.
    pub policy: Policy,
    /// Steps for reading, under the policy.
    pub reading: StepTable,
    /// The same with no weak vowel taken for its full form; made when a lesson first asks.
    plain: OnceLock<StepTable>,
    /// Steps for spelling, without tolerance.
    pub spelling: StepTable,
    /// The lexicon in the order it can be read.
    pub unlocks: Unlocks,
}

/// What a bank is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum BankKind {
    /// Every unit is taught, under the school's policy.
    Read,
    /// Every correspondence is itself taught: no weak vowels read as full ones, no tolerance.
    Spell,
}

/// Which words of the lexicon a bank may show.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Audience {
    /// Words children of 4 to 7 know.
    #[default]
    Child,
    /// Those, and the common words of the language that pass the suitability screen.
    Common,
    /// Everything that passes the suitability screen.
    All,
}

/// A word of a bank.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BankWord {
    /// As shown to a child.
    pub word: String,
    /// The step that unlocked it.
    pub step: u16,
    /// 1 to 3 for words children know, else 0.
    pub child_band: u8,
    /// The reading that is unlocked.
    pub reading: Variant,
}

/// A statutory word at a point of a sequence.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ExceptionAt {
    /// The word, case kept.
    pub word: &'static str,
    /// The statutory year.
    pub year: Year,
    /// The step that teaches it as a whole, if the sequence does.
    pub taught_at: Option<u16>,
    /// The step from which it can be read by its parts, if ever.
    pub decodable_from: Option<u16>,
    /// What it lacks now; empty when it is no exception any more.
    pub lacking: Vec<Gpc>,
}

impl Plan {
    /// Works everything out.
    #[must_use]
    pub fn new(engine: &Engine, sequence: Sequence, policy: Policy) -> Self {
        let reading = StepTable::new(engine, &sequence, policy);
        let spelling = StepTable::new(engine, &sequence, policy.exact());
        let unlocks = Unlocks::new(engine, &reading, sequence.len());
        Self { sequence, policy, reading, plain: OnceLock::new(), spelling, unlocks }
    }

    /// Steps for reading with no weak vowel taken for its full form.
    pub(super) fn plain(&self, engine: &Engine) -> &StepTable {
        let policy = Policy { schwa_tolerance: false, ..self.policy };
        self.plain.get_or_init(|| StepTable::new(engine, &self.sequence, policy))
    }

    /// The last step's number.
    #[must_use]
    pub fn last_step(&self) -> u16 {
        u16::try_from(self.sequence.len()).unwrap_or(NEVER - 1)
    }

    /// The words of a bank at a step, in the order they were unlocked, commonest for children
    /// first within a step. At step 0 it is empty.
    pub fn bank<'e>(
        &'e self,
        engine: &'e Engine,
        step: u16,
        kind: BankKind,
        audience: Audience,
    ) -> impl Iterator<Item = LexWord<'e>> + use<'e> {
        self.words(engine, self.unlocks.bank(step), step, kind, audience)
    }

    /// The words a step adds to a bank.
    pub fn new_words<'e>(
        &'e self,
        engine: &'e Engine,
        step: u16,
        kind: BankKind,
        audience: Audience,
    ) -> impl Iterator<Item = LexWord<'e>> + use<'e> {
        self.words(engine, self.unlocks.new_at(step), step, kind, audience)
    }

    fn words<'e>(
        &'e self,
        engine: &'e Engine,
        ids: &'e [WordId],
        step: u16,
        kind: BankKind,
        audience: Audience,
    ) -> impl Iterator<Item = LexWord<'e>> + use<'e> {
        ids.iter()
            .filter_map(|id| engine.lexicon().get(*id))
            .filter(move |w| engine.suits(w, audience))
            .filter(move |w| kind == BankKind::Read || self.spelling.word(w) <= step)
    }

    /// Writes a word out with the reading that is unlocked.
    #[must_use]
    pub fn write(&self, engine: &Engine, word: &LexWord<'_>, kind: BankKind) -> Option<BankWord> {
        let table = match kind {
            BankKind::Read => &self.reading,
            BankKind::Spell => &self.spelling,
        };
        let reading = table.first_reading(word)?;
        Some(BankWord {
            word: word.shown().to_owned(),
            step: table.reading(reading.units),
            child_band: word.child_band(),
            reading: engine.variant(reading.units.to_vec(), None, self.policy.accent),
        })
    }

    /// The statutory words as they stand at a step, without those the school struck off.
    #[must_use]
    pub fn exception_words(&self, engine: &Engine, step: u16) -> Vec<ExceptionAt> {
        let known = |n: u16| (n != NEVER).then_some(n);
        engine
            .statutory()
            .exception_words()
            .iter()
            .filter(|e| !engine.is_struck(e.word))
            .filter_map(|e| {
                let word = engine.lexicon().find(e.word)?;
                let decodable = self.reading.word(&word);
                let lacking = self
                    .reading
                    .first_reading(&word)
                    .filter(|_| decodable > step)
                    .map(|r| self.reading.lacking(engine, r.units, step));
                Some(ExceptionAt {
                    word: e.word,
                    year: e.year,
                    taught_at: self.sequence.exception_step(e.word),
                    decodable_from: known(decodable),
                    lacking: lacking.unwrap_or_default(),
                })
            })
            .collect()
    }
}

impl Engine {
    /// Whether a word may be shown to an audience.
    #[must_use]
    pub fn suits(&self, word: &LexWord<'_>, audience: Audience) -> bool {
        if self.is_struck(word.shown()) {
            return false;
        }
        let common = word.child_band() > 0 || word.band() <= 20;
        match audience {
            Audience::Child => word.child_band() > 0,
            Audience::Common => common && self.screen().suits_children(word.shown()),
            Audience::All => self.screen().suits_children(word.shown()),
        }
    }
}
