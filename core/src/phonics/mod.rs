//! The phonics engine: spelling and sound, what a class can read, what to teach with which words.
//!
//! Pure: no clock, no randomness but a seed given as an argument, no input or output. Everything
//! is computed from the rules and the lexicon embedded in the crate (see `core/rules`).
//! [`Engine::load`] reads them once; every other call borrows the engine.
//!
//! Where to find what:
//!
//! | to | call |
//! |---|---|
//! | segment a word in an accent | [`Engine::segment`] |
//! | resolve or suggest a correspondence | [`inventory::Inventory::find`], [`inventory::Inventory::suggest`] |
//! | check a school's own word, and use it | [`Engine::school_word`], [`Engine::with_school_words`] |
//! | leave out what a school struck off | [`Engine::with_strikes`] |
//! | read a sequence a client sent | [`sequence::Sequence::parse`] |
//! | prepare a published version for a policy | [`bank::Plan::new`]; keep it, everything below asks it |
//! | list words to read or to spell | [`bank::Plan::bank`], [`bank::Plan::new_words`], [`bank::Plan::write`] |
//! | see how the statutory words stand | [`bank::Plan::exception_words`] |
//! | analyse a text or a book | [`bank::Plan::analyse`] |
//! | make pseudo-words | [`bank::Plan::pseudo_words`] |
//! | plan a lesson | [`bank::Plan::lesson`], with [`review::history`] and [`subject::Subject`] |
//! | make practice for one pupil | [`practice::practice`] |
//! | analyse a draft | [`bank::Plan::analysis`], [`proposal::opens_familiar`] |
//! | propose an order, place exception words | [`proposal::Search`], [`Engine::with_exception_words`] |
//!
//! Conventions: qu, x, ng, tch, dge, tion, sion, ture, sure and final le, el, al, il are one unit;
//! nk is n and k; doubled consonants are one unit; a split digraph stands at its vowel's place.
//! Steps count from 1, and at step 0 nothing is taught. A suffix, a weak vowel or an accent changes
//! what is needed to read a unit ([`require::Requirements`]), never the unit itself.
//!
//! ```
//! use plumbline_core::phonics::Engine;
//! use plumbline_core::phonics::accent::Accent;
//!
//! let engine = Engine::load()?;
//! let cake = engine.segment("cake", Accent::default())?;
//! assert_eq!(cake.variants[0].graphemes, ["c", "a_e", "k"]);
//! assert!(!cake.guess);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

#![warn(missing_docs)]

pub mod accent;
pub mod align;
pub mod analysis;
pub mod bank;
pub mod confusable;
pub mod context;
mod data;
pub mod exceptions;
pub mod fixed;
mod focus;
pub mod gpc;
pub mod grapheme;
pub mod guess;
pub mod inventory;
pub mod lesson;
pub mod lexicon;
pub mod near;
pub mod phoneme;
pub mod policy;
pub mod practice;
pub mod proposal;
pub mod pseudo;
pub mod require;
pub mod review;
pub mod rng;
pub mod school;
pub mod screen;
pub mod segment;
pub mod sentence;
pub mod sequence;
pub mod statutory;
pub mod stem;
pub mod subject;
pub mod suffix;
pub mod text;
pub mod unit;
pub mod unlock;
pub mod version;
pub mod word;
pub mod word_part;

pub use data::DataError;

use std::collections::BTreeSet;
use std::sync::{Arc, OnceLock};

use align::Costs;
use confusable::Confusable;
use inventory::Inventory;
use lexicon::Lexicon;
use pseudo::Grammar;
use screen::Screen;
use sentence::Frames;
use statutory::Statutory;
use stem::LookAlikes;

/// The embedded rules and lexicon, read once and shared.
#[derive(Debug, Clone)]
pub struct Engine {
    inventory: Inventory,
    costs: Costs,
    lexicon: Arc<Lexicon>,
    statutory: Statutory,
    screen: Screen,
    confusable: Confusable,
    frames: Frames,
    look_alikes: Arc<LookAlikes>,
    grammar: OnceLock<Grammar>,
    struck: Arc<BTreeSet<String>>,
}

impl Engine {
    /// Reads everything embedded: a few milliseconds, a few megabytes.
    ///
    /// # Errors
    /// [`DataError`] when the data of this build is damaged; a test of the crate rules that out.
    pub fn load() -> Result<Self, DataError> {
        let inventory = Inventory::load()?;
        let costs = Costs::load(&inventory)?;
        let lexicon = Lexicon::load(&inventory)?;
        let statutory = Statutory::load(&inventory)?;
        let confusable = Confusable::load(&inventory)?;
        let frames = Frames::load(&lexicon)?;
        let look_alikes = LookAlikes::load(&lexicon)?;
        Ok(Self {
            inventory,
            costs,
            lexicon: Arc::new(lexicon),
            statutory,
            screen: Screen::embedded(),
            confusable,
            frames,
            look_alikes: Arc::new(look_alikes),
            grammar: OnceLock::new(),
            struck: Arc::default(),
        })
    }

    /// Names the embedded data of this build: with another value the same request may give other words.
    #[must_use]
    pub fn data_version() -> &'static str {
        &data::DIGEST
    }

    /// Every correspondence the engine knows.
    #[must_use]
    pub fn inventory(&self) -> &Inventory {
        &self.inventory
    }

    /// What each correspondence costs the aligner.
    #[must_use]
    pub fn costs(&self) -> &Costs {
        &self.costs
    }

    /// The words.
    #[must_use]
    pub fn lexicon(&self) -> &Lexicon {
        &self.lexicon
    }

    /// The statutory lists.
    #[must_use]
    pub fn statutory(&self) -> &Statutory {
        &self.statutory
    }

    /// The hashed screens.
    #[must_use]
    pub fn screen(&self) -> &Screen {
        &self.screen
    }

    /// What syllables are made of; counted at the first call.
    #[must_use]
    pub fn grammar(&self) -> &Grammar {
        self.grammar.get_or_init(|| Grammar::new(&self.inventory, &self.lexicon))
    }

    /// Pairs that are better not taught close together.
    #[must_use]
    pub fn confusable(&self) -> &Confusable {
        &self.confusable
    }

    /// Sentence frames and the words that fill them.
    #[must_use]
    pub fn frames(&self) -> &Frames {
        &self.frames
    }

    /// Words that look like another word with an ending.
    #[must_use]
    pub fn look_alikes(&self) -> &LookAlikes {
        &self.look_alikes
    }

    /// The engine of a school that added or overrode words: the same but for its lexicon. A copy of
    /// a few megabytes; make it once for each version of the school's words. Plans are made by the
    /// engine they are used with.
    ///
    /// # Errors
    /// [`DataError`] when the embedded sentence frames no longer read (they always do).
    pub fn with_school_words(&self, words: &[school::SchoolWord]) -> Result<Self, DataError> {
        let lexicon = self.lexicon.with_words(words);
        let frames = Frames::load(&lexicon)?;
        Ok(Self { lexicon: Arc::new(lexicon), frames, ..self.clone() })
    }

    /// The engine of a school that struck words off: no bank, lesson, sentence or practice shows
    /// them and no pseudo-word is one of them. A text that holds one is analysed all the same.
    #[must_use]
    pub fn with_strikes(&self, struck: impl IntoIterator<Item = String>) -> Self {
        let keys = struck.into_iter().filter_map(|word| Some(word::Word::parse(&word).ok()?.key()));
        Self { struck: Arc::new(keys.collect()), ..self.clone() }
    }

    /// Whether a school struck a word off, however it is capitalised.
    #[must_use]
    pub fn is_struck(&self, word: &str) -> bool {
        !self.struck.is_empty() && word::Word::parse(word).is_ok_and(|word| self.struck.contains(&word.key()))
    }
}
