//! Words into graphemes: from the lexicon, or by rule and marked as a guess.

use serde::Serialize;

use super::Engine;
use super::accent::Accent;
use super::gpc::Gpc;
use super::guess;
use super::phoneme::Phoneme;
use super::unit::Unit;
use super::word::{Word, WordError};

/// A word with all its readings, best first.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Segmentation {
    /// As the lexicon shows it, or as given when it is not in the lexicon.
    pub word: String,
    /// Whether the readings come from rules and not from the lexicon.
    pub guess: bool,
    /// The readings; never empty.
    pub variants: Vec<Variant>,
}

/// One reading: three lists of equal length, one item a unit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Variant {
    /// The spelling of each unit, a split digraph written `a_e` at its vowel's place.
    pub graphemes: Vec<String>,
    /// The sound of each unit in the accent asked for: IPA, `-` when silent.
    pub phonemes: Vec<String>,
    /// The correspondence of each unit: its stable identity, whatever the accent.
    pub gpcs: Vec<Gpc>,
    /// A stress digit a vowel (1 primary, 2 secondary, 0 none), where known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stress: Option<String>,
    /// The units, for other calls of the engine.
    #[serde(skip)]
    pub units: Vec<Unit>,
}

/// Readings before they are written out.
pub(crate) struct Readings {
    pub shown: String,
    pub guess: bool,
    /// Units with their stress digits, when known.
    pub list: Vec<(Vec<Unit>, Option<String>)>,
}

impl Engine {
    /// Segments a word. Capitals, accents and surrounding punctuation do not matter; a hyphenated
    /// word is segmented in parts and joined.
    ///
    /// # Errors
    /// [`WordError`] for a text that is no word; see [`Word::parse`].
    pub fn segment(&self, text: &str, accent: Accent) -> Result<Segmentation, WordError> {
        let readings = self.readings(&Word::parse(text)?)?;
        let variants =
            readings.list.into_iter().map(|(units, stress)| self.variant(units, stress, accent)).collect();
        Ok(Segmentation { word: readings.shown, guess: readings.guess, variants })
    }

    /// Readings of a plain word, joined over its hyphens (the best of each part).
    pub(crate) fn readings(&self, word: &Word) -> Result<Readings, WordError> {
        if let [only] = word.parts.as_slice() {
            return self.part(only, &word.given);
        }
        let mut units = Vec::new();
        let mut guess = false;
        for part in &word.parts {
            let best = self.part(part, part)?;
            guess |= best.guess;
            units.extend(best.list.into_iter().next().map(|(u, _)| u).unwrap_or_default());
        }
        Ok(Readings { shown: word.given.clone(), guess, list: vec![(units, None)] })
    }

    fn part(&self, part: &str, given: &str) -> Result<Readings, WordError> {
        if let Some(known) = self.lexicon().find(part) {
            let stress = |s: &str| (s != "-").then(|| s.to_owned());
            return Ok(Readings {
                shown: known.shown().to_owned(),
                guess: false,
                list: known.readings().map(|r| (r.units.to_vec(), stress(r.stress))).collect(),
            });
        }
        let list = guess::from_known(self.inventory(), self.lexicon(), part).unwrap_or_else(|| {
            let letters: Vec<u8> = part.bytes().filter(u8::is_ascii_lowercase).collect();
            guess::by_rule(self.inventory(), self.costs(), &letters).into_iter().map(|a| a.units).collect()
        });
        if list.is_empty() {
            return Err(WordError::Empty);
        }
        Ok(Readings {
            shown: given.to_owned(),
            guess: true,
            list: list.into_iter().map(|u| (u, None)).collect(),
        })
    }

    /// A word as shown to children, with the capitals it needs; as given when it is not known.
    #[must_use]
    pub fn shown(&self, word: &str) -> String {
        self.lexicon().find(word).map_or(word, |w| w.shown()).to_owned()
    }

    /// A reading as it sounds, its symbols run together.
    #[must_use]
    pub fn said(&self, units: &[Unit], accent: Accent) -> String {
        accent.pronounce(self.inventory(), units).iter().map(|phoneme| phoneme.symbol()).collect()
    }

    /// Writes units out in an accent.
    #[must_use]
    pub fn variant(&self, units: Vec<Unit>, stress: Option<String>, accent: Accent) -> Variant {
        let items = || units.iter().filter_map(|u| self.inventory().get(u.id()));
        Variant {
            graphemes: items().map(|c| c.gpc.grapheme().to_string()).collect(),
            phonemes: units.iter().map(|u| Phoneme::join(&accent.realise(self.inventory(), *u))).collect(),
            gpcs: items().map(|c| c.gpc.clone()).collect(),
            stress,
            units,
        }
    }
}
