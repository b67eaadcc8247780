//! A pseudo-word an adult offers for a check, judged as those made here are.

use crate::phonics::Engine;
use crate::phonics::accent::Accent;
use crate::phonics::segment::Variant;
use crate::phonics::unit::Unit;
use crate::phonics::word::{Word, WordError};

use super::judge::{self, Refusal};

/// The most letters of a pseudo-word: two syllables of six.
pub const LONGEST: usize = 12;

/// A pseudo-word that passed, with what a child may say for it.
#[derive(Debug, Clone, PartialEq)]
pub struct OfferedPseudoWord {
    /// Its letters, in lower case.
    pub word: String,
    /// The likeliest reading.
    pub reading: Variant,
    /// Every reading the engine finds plausible, as IPA without separators, the likeliest first.
    /// The adult who listens judges any other.
    pub accept: Vec<String>,
}

/// Why an offered pseudo-word is not taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Unfit {
    /// The text is no word.
    #[error(transparent)]
    Word(#[from] WordError),
    /// Two words in one.
    #[error("\u{201c}{0}\u{201d} is hyphenated; give one made-up word")]
    Hyphen(String),
    /// More than [`LONGEST`] letters.
    #[error("\u{201c}{word}\u{201d} has {letters} letters; a made-up word has at most {LONGEST}")]
    TooLong {
        /// The word.
        word: String,
        /// How many letters it has.
        letters: usize,
    },
    /// A screen refused it.
    #[error("\u{201c}{word}\u{201d} {refusal}")]
    Refused {
        /// The word.
        word: String,
        /// The screen.
        refusal: Refusal,
    },
}

impl Engine {
    /// Puts an offered pseudo-word through every screen, whichever way its letters are read.
    ///
    /// # Errors
    /// [`Unfit`] for the first thing wrong with it.
    pub fn offered_pseudo_word(&self, text: &str, accent: Accent) -> Result<OfferedPseudoWord, Unfit> {
        let word = Word::parse(text)?;
        let [letters] = word.parts.as_slice() else { return Err(Unfit::Hyphen(word.given)) };
        if letters.len() > LONGEST {
            return Err(Unfit::TooLong { word: letters.clone(), letters: letters.len() });
        }
        let variants = judge::judge(self, letters, None)
            .map_err(|refusal| Unfit::Refused { word: letters.clone(), refusal })?;
        let accept = self.plausible(&variants, accent);
        let (units, stress) = variants.into_iter().next().ok_or(WordError::Empty)?;
        let reading = self.variant(units, stress, accent);
        Ok(OfferedPseudoWord { word: letters.clone(), reading, accept })
    }

    /// The sounds of readings that English could have: as many vowels as the likeliest reading,
    /// and in one syllable only beginnings and endings that words have.
    pub(super) fn plausible(&self, variants: &[(Vec<Unit>, Option<String>)], accent: Accent) -> Vec<String> {
        let mut out: Vec<String> = Vec::new();
        let mut vowels = None;
        for (units, _) in variants {
            let reference = Accent::default().pronounce(self.inventory(), units);
            let count = reference.iter().filter(|p| p.is_vowel()).count();
            let likeliest = *vowels.get_or_insert(count);
            let whole = count != 1 || self.grammar().attests(&reference);
            let sound: String =
                accent.pronounce(self.inventory(), units).iter().map(|p| p.symbol()).collect();
            if out.is_empty() || (count == likeliest && whole && !out.contains(&sound)) {
                out.push(sound);
            }
        }
        out
    }
}
