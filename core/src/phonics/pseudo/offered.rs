//! A pseudo-word an adult offers for a check, judged as those made here are.

use crate::phonics::Engine;
use crate::phonics::accent::Accent;
use crate::phonics::phoneme::Phoneme;
use crate::phonics::segment::Variant;
use crate::phonics::unit::Unit;
use crate::phonics::word::{Word, WordError};

use super::judge::{self, Refusal, as_in_words};

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
        let accept = self.plausible(letters, &variants, accent, |_| true);
        let (units, stress) = variants.into_iter().next().ok_or(WordError::Empty)?;
        let reading = self.variant(units, stress, accent);
        Ok(OfferedPseudoWord { word: letters.clone(), reading, accept })
    }

    /// The sounds of readings that English could have, of letters with the engine's readings of them: the likeliest,
    /// and others with as many vowels, in one syllable with beginnings and endings that words have; of one syllable
    /// also as real words read these spellings beside each other. Of usable units only.
    pub(super) fn plausible(
        &self,
        letters: &str,
        variants: &[(Vec<Unit>, Option<String>)],
        accent: Accent,
        usable: impl Fn(&Unit) -> bool,
    ) -> Vec<String> {
        let reference = |units: &[Unit]| Accent::default().pronounce(self.inventory(), units);
        let vowels = |sounds: &[Phoneme]| sounds.iter().filter(|sound| sound.is_vowel()).count();
        let Some((likeliest, _)) = variants.first() else { return Vec::new() };
        let count = vowels(&reference(likeliest));
        let mut readings: Vec<Vec<Unit>> = variants.iter().map(|(units, _)| units.clone()).collect();
        if count == 1 {
            readings.extend(variants.iter().flat_map(|(units, _)| as_in_words(self, units, letters)));
        }
        let mut out: Vec<String> = Vec::new();
        for units in readings {
            let sounds = reference(&units);
            let fits = vowels(&sounds) == count && (count != 1 || self.grammar().attests(&sounds));
            let sound = self.said(&units, accent);
            if (units == *likeliest || fits) && units.iter().all(&usable) && !out.contains(&sound) {
                out.push(sound);
            }
        }
        out
    }
}
