//! The rule packs and data files embedded in the crate, and how their lines are read.

use std::sync::LazyLock;

use sha2::{Digest as _, Sha256};

/// See `core/rules/phonics/correspondences.txt`.
pub(crate) const CORRESPONDENCES: &str = include_str!("../../rules/phonics/correspondences.txt");
/// See `core/rules/phonics/contexts.tsv`.
pub(crate) const CONTEXTS: &str = include_str!("../../rules/phonics/contexts.tsv");
/// See `core/rules/phonics/units.tsv`.
pub(crate) const UNITS: &str = include_str!("../../rules/phonics/units.tsv");

/// See `core/rules/phonics/exception_words.tsv`.
pub(crate) const EXCEPTION_WORDS: &str = include_str!("../../rules/phonics/exception_words.tsv");
/// See `core/rules/phonics/curriculum.tsv`.
pub(crate) const CURRICULUM: &str = include_str!("../../rules/phonics/curriculum.tsv");
/// See `core/rules/lexicon/README.md`.
pub(crate) const COSTS: &str = include_str!("../../rules/lexicon/costs.tsv");

/// See `core/rules/lexicon/README.md`.
pub(crate) const LEXICON: &str = include_str!("../../rules/lexicon/lexicon.tsv");

/// See `core/rules/lexicon/README.md`.
pub(crate) const HOMOGRAPHS: &str = include_str!("../../rules/lexicon/homographs.txt");

/// See `core/rules/phonics/confusable.tsv`.
pub(crate) const CONFUSABLE: &str = include_str!("../../rules/phonics/confusable.tsv");
/// See `core/rules/phonics/openings.txt`.
pub(crate) const OPENINGS: &str = include_str!("../../rules/phonics/openings.txt");
/// See `core/rules/phonics/sentences.tsv`.
pub(crate) const SENTENCES: &str = include_str!("../../rules/phonics/sentences.tsv");
/// See `core/rules/phonics/look_alikes.tsv`.
pub(crate) const LOOK_ALIKES: &str = include_str!("../../rules/phonics/look_alikes.tsv");
/// See `core/rules/screens/README.md`.
pub(crate) const REAL_WORDS: &[u8] = include_bytes!("../../rules/screens/real_words.bin");
/// See `core/rules/screens/README.md`.
pub(crate) const REAL_SOUNDS: &[u8] = include_bytes!("../../rules/screens/real_sounds.bin");
/// See `core/rules/screens/README.md`.
pub(crate) const OFFENSIVE_SOUNDS: &[u8] = include_bytes!("../../rules/screens/offensive_sounds.bin");
/// See `core/rules/screens/README.md`.
pub(crate) const BLOCKED_STRINGS: &[u8] = include_bytes!("../../rules/screens/blocked_strings.bin");
/// See `core/rules/screens/README.md`.
pub(crate) const UNSUITABLE: &[u8] = include_bytes!("../../rules/screens/unsuitable.bin");
/// See `core/rules/screens/README.md`.
pub(crate) const CUSS: &[u8] = include_bytes!("../../rules/screens/cuss.bin");
/// See `core/rules/screens/README.md`.
pub(crate) const PROFANITY: &[u8] = include_bytes!("../../rules/screens/profanity.bin");

/// What the words of this build are worked out from, as 16 hexadecimal digits: another value means other data.
pub(crate) static DIGEST: LazyLock<String> = LazyLock::new(|| {
    let texts = [
        CORRESPONDENCES,
        CONTEXTS,
        UNITS,
        EXCEPTION_WORDS,
        CURRICULUM,
        COSTS,
        LEXICON,
        HOMOGRAPHS,
        CONFUSABLE,
        OPENINGS,
        SENTENCES,
        LOOK_ALIKES,
    ];
    let screens = [REAL_WORDS, REAL_SOUNDS, OFFENSIVE_SOUNDS, BLOCKED_STRINGS, UNSUITABLE, CUSS, PROFANITY];
    let all = texts.iter().map(|text| text.as_bytes()).chain(screens);
    let digest = all.fold(Sha256::new(), |hash, bytes| hash.chain_update(bytes)).finalize();
    digest.iter().take(8).map(|byte| format!("{byte:02x}")).collect()
});

/// A damaged embedded file. Only a faulty build can cause one; tests load every file.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{file}, line {line}: {reason}")]
pub struct DataError {
    /// The file's name.
    pub file: &'static str,
    /// The line, from 1.
    pub line: usize,
    /// What is wrong with it.
    pub reason: String,
}

impl DataError {
    /// A fault at a line of a file.
    #[must_use]
    pub fn new(file: &'static str, line: usize, reason: impl Into<String>) -> Self {
        Self { file, line, reason: reason.into() }
    }
}

/// The lines that hold data, numbered from 1: not the blank ones, not those that begin with `#`.
pub(crate) fn lines(text: &'static str) -> impl Iterator<Item = (usize, &'static str)> {
    (1..).zip(text.lines()).filter(|(_, l)| !l.trim().is_empty() && !l.starts_with('#'))
}
