//! A school's own words: names, places, words of a topic, or another segmentation of a word the
//! lexicon has. They live in the school's database as text and are checked here.

use super::Engine;
use super::align::align;
use super::gpc::Gpc;
use super::inventory::UnknownGpc;
use super::phoneme::{Phoneme, PhonemeError};
use super::unit::Unit;
use super::word::{Word, WordError};

/// The most readings a school may give a word.
const MOST_READINGS: usize = 4;
/// The most units of a reading; no word has more letters.
const LONGEST_READING: usize = super::word::LONGEST;

/// A checked word with its readings, best first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SchoolWord {
    shown: String,
    key: String,
    readings: Vec<Vec<Unit>>,
}

/// Why a school's word is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SchoolWordError {
    /// The text is no word, or is hyphenated.
    #[error(transparent)]
    Word(#[from] WordError),
    /// A correspondence is not known; suggestions are inside.
    #[error(transparent)]
    Gpc(#[from] UnknownGpc),
    /// The pronunciation is not IPA of English.
    #[error(transparent)]
    Phoneme(#[from] PhonemeError),
    /// The graphemes, written out, are not the word.
    #[error("the graphemes spell \u{201c}{spelt}\u{201d}, not \u{201c}{word}\u{201d}")]
    Spelling {
        /// What they spell.
        spelt: String,
        /// The word.
        word: String,
    },
    /// No cut of the letters sounds like that.
    #[error("no known correspondences read \u{201c}{word}\u{201d} as /{sound}/")]
    Sound {
        /// The word.
        word: String,
        /// The sound asked for.
        sound: String,
    },
    /// None, or more than four.
    #[error("a word has one to four readings, not {0}")]
    Readings(usize),
    /// Longer than a word can be.
    #[error("a reading has at most {LONGEST_READING} correspondences or phonemes")]
    LongReading,
    /// The same reading twice.
    #[error("two of the readings are the same")]
    Repeated,
    /// A hyphen: add the parts.
    #[error("\u{201c}{0}\u{201d} is hyphenated; add its parts")]
    Hyphen(String),
}

/// One reading as a client gives it.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ReadingText {
    /// The correspondences in order, a split digraph at its vowel's place.
    Gpcs(Vec<String>),
    /// The sound, in IPA; the engine cuts the letters.
    Sound(String),
}

impl SchoolWord {
    /// As shown to a child.
    #[must_use]
    pub fn shown(&self) -> &str {
        &self.shown
    }

    /// What makes two spellings one word.
    #[must_use]
    pub fn key(&self) -> &str {
        &self.key
    }

    /// The readings, best first.
    #[must_use]
    pub fn readings(&self) -> &[Vec<Unit>] {
        &self.readings
    }
}

impl Engine {
    /// Checks a school's word.
    ///
    /// # Errors
    /// [`SchoolWordError`] for the first thing wrong with it.
    pub fn school_word(&self, word: &str, readings: &[ReadingText]) -> Result<SchoolWord, SchoolWordError> {
        let plain = Word::parse(word)?;
        let [letters] = plain.parts.as_slice() else {
            return Err(SchoolWordError::Hyphen(plain.given));
        };
        if readings.is_empty() || readings.len() > MOST_READINGS {
            return Err(SchoolWordError::Readings(readings.len()));
        }
        let letters: String = letters.chars().filter(char::is_ascii_lowercase).collect();
        let mut read: Vec<Vec<Unit>> = Vec::new();
        for reading in readings {
            let units = self.school_reading(&letters, reading)?;
            if read.contains(&units) {
                return Err(SchoolWordError::Repeated);
            }
            read.push(units);
        }
        Ok(SchoolWord { key: plain.key(), shown: plain.given, readings: read })
    }

    fn school_reading(&self, letters: &str, reading: &ReadingText) -> Result<Vec<Unit>, SchoolWordError> {
        let long = match reading {
            ReadingText::Gpcs(gpcs) => gpcs.len() > LONGEST_READING,
            ReadingText::Sound(sound) => sound.split_whitespace().nth(LONGEST_READING).is_some(),
        };
        if long {
            return Err(SchoolWordError::LongReading);
        }
        match reading {
            ReadingText::Gpcs(gpcs) => {
                let units: Vec<Unit> =
                    gpcs.iter().map(|g| self.inventory().parse_token(g)).collect::<Result<_, _>>()?;
                let items = units.iter().filter_map(|u| self.inventory().get(u.id()));
                let spelt = spell(items.map(|c| &c.gpc));
                if spelt == letters {
                    Ok(units)
                } else {
                    Err(SchoolWordError::Spelling { spelt, word: letters.to_owned() })
                }
            }
            ReadingText::Sound(sound) => {
                let phonemes = Phoneme::parse_sequence(sound)?;
                let aligned = align(self.inventory(), self.costs(), letters.as_bytes(), &phonemes);
                aligned
                    .map(|a| a.units)
                    .ok_or_else(|| SchoolWordError::Sound { word: letters.to_owned(), sound: sound.clone() })
            }
        }
    }
}

/// The letters of correspondences in order: the `e` of a split digraph after the next one's.
fn spell<'g>(gpcs: impl Iterator<Item = &'g Gpc>) -> String {
    let mut out = String::new();
    let mut open = false;
    for gpc in gpcs {
        out.push_str(gpc.grapheme().letters());
        if std::mem::replace(&mut open, gpc.grapheme().is_split()) {
            out.push('e');
        }
    }
    out
}
