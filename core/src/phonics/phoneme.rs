//! Phonemes of the reference accent, written in the International Phonetic Alphabet.
//!
//! A [`Phoneme`] is one of a closed set: 24 consonants, the vowels of standard southern British
//! English, and /ʍ/ for accents that keep *wh* apart. Parsing accepts the common notational
//! variants (ɡ for g, ɹ for r, tie bars, `:` for ː) and refuses everything else with a suggestion.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use unicode_normalization::UnicodeNormalization;

/// Canonical symbols; the position is the phoneme's number. Vowels come first.
const SYMBOLS: [&str; 47] = [
    "æ", "e", "ɪ", "ɒ", "ʊ", "ʌ", "ə", "i", "u", "iː", "uː", "ɑː", "ɔː", "ɜː", "eɪ", "aɪ", "ɔɪ", "əʊ", "aʊ",
    "ɪə", "eə", "ʊə", "p", "b", "t", "d", "k", "g", "f", "v", "θ", "ð", "s", "z", "ʃ", "ʒ", "h", "m", "n",
    "ŋ", "l", "r", "w", "j", "tʃ", "dʒ", "ʍ",
];
/// How many of [`SYMBOLS`] are vowels.
const VOWELS: u8 = 22;

/// One phoneme. Ordered by its place in the engine's table (vowels first); shown as IPA.
#[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Phoneme(u8);

/// A text that is not a phoneme of the engine's set.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PhonemeError {
    /// Nothing was given.
    #[error("a phoneme is missing")]
    Empty,
    /// The text is not a known IPA symbol; `nearest` is the one meant, where one is likely.
    #[error("\u{201c}{given}\u{201d} is not an IPA phoneme of English{}", suggested(*nearest))]
    Unknown {
        /// What was given.
        given: String,
        /// The symbol that was likely meant.
        nearest: Option<&'static str>,
    },
    /// The text is several letters that are not all symbols, such as a word as it is spelt.
    #[error(
        "\u{201c}{given}\u{201d} is not written in IPA phonemes of English: \u{201c}{at}\u{201d} is none; write what \
         is said, sounds joined by dots, such as \u{283}.\u{26a}.p"
    )]
    NotSounds {
        /// What was given.
        given: String,
        /// The first letter that is no symbol.
        at: char,
    },
}

/// What may have been meant.
fn suggested(nearest: Option<&'static str>) -> String {
    nearest.map(|symbol| format!("; did you mean /{symbol}/?")).unwrap_or_default()
}

impl Phoneme {
    /// The phoneme written `symbol` (canonical spelling only), for tables in this crate.
    #[must_use]
    pub fn from_symbol(symbol: &str) -> Option<Self> {
        SYMBOLS.iter().position(|s| *s == symbol).and_then(|i| u8::try_from(i).ok()).map(Self)
    }

    /// All phonemes in table order.
    pub fn all() -> impl Iterator<Item = Self> {
        (0..).zip(SYMBOLS).map(|(i, _)| Self(i))
    }

    /// The IPA symbol.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        SYMBOLS.get(usize::from(self.0)).copied().unwrap_or("")
    }

    /// Whether it is a vowel (monophthong or diphthong).
    #[must_use]
    pub fn is_vowel(self) -> bool {
        self.0 < VOWELS
    }

    /// The place in the table, from 0: an index for arrays of [`Phoneme::COUNT`] entries.
    #[must_use]
    pub fn index(self) -> usize {
        usize::from(self.0)
    }

    /// The number of phonemes.
    pub const COUNT: usize = SYMBOLS.len();

    /// Reads a sequence: symbols separated by dots or spaces, or run together (`ks`, `ʃən`), in
    /// which case the longest symbol wins at each place (`tʃ` is one phoneme, `t.ʃ` is two).
    /// A single `-` is the empty sequence (a letter that is not sounded).
    ///
    /// # Errors
    /// [`PhonemeError`] for the first part that is no phoneme.
    pub fn parse_sequence(text: &str) -> Result<Vec<Self>, PhonemeError> {
        let text = normalise(text.trim().trim_matches('/'));
        match text.as_str() {
            "" => return Err(PhonemeError::Empty),
            "-" => return Ok(Vec::new()),
            _ => {}
        }
        let mut out = Vec::new();
        for part in text.split(['.', ' ']).filter(|p| !p.is_empty()) {
            run_together(part, &mut out)?;
        }
        Ok(out)
    }

    /// Writes a sequence the canonical way: symbols joined by dots, `-` when empty.
    #[must_use]
    pub fn join(sequence: &[Self]) -> String {
        if sequence.is_empty() {
            return "-".to_owned();
        }
        let symbols: Vec<&str> = sequence.iter().map(|p| p.symbol()).collect();
        symbols.join(".")
    }
}

fn run_together(part: &str, out: &mut Vec<Phoneme>) -> Result<(), PhonemeError> {
    let mut rest = part;
    while !rest.is_empty() {
        let longest =
            SYMBOLS.iter().enumerate().filter(|(_, s)| rest.starts_with(**s)).max_by_key(|(_, s)| s.len());
        match longest.and_then(|(i, s)| u8::try_from(i).ok().map(|i| (i, s.len()))) {
            Some((i, n)) => {
                out.push(Phoneme(i));
                rest = &rest[n..];
            }
            None => return Err(unknown(part, rest)),
        }
    }
    Ok(())
}

/// Folds notational variants onto the canonical symbols.
fn normalise(text: &str) -> String {
    text.nfc()
        .filter_map(|c| match c {
            'ɡ' => Some('g'),
            'ɹ' => Some('r'),
            'ɛ' => Some('e'),
            'ɝ' => Some('ɜ'),
            ':' => Some('ː'),
            '\u{361}' | '\u{35c}' | 'ˈ' | 'ˌ' | '/' => None,
            c => Some(c),
        })
        .collect::<String>()
        .replace("oʊ", "əʊ")
        .replace("ʧ", "tʃ")
        .replace("ʤ", "dʒ")
}

/// What is wrong with a text of which `rest` begins with no symbol.
fn unknown(given: &str, rest: &str) -> PhonemeError {
    let (given_to_say, nearest) = (given.to_owned(), nearest(given));
    match rest.chars().next() {
        Some(at) if nearest.is_none() && given.chars().nth(1).is_some() => {
            PhonemeError::NotSounds { given: given_to_say, at }
        }
        _ => PhonemeError::Unknown { given: given_to_say, nearest },
    }
}

/// The symbol that one sound, written otherwise, was likely meant to be.
fn nearest(given: &str) -> Option<&'static str> {
    Some(match given {
        "sh" => "ʃ",
        "ch" => "tʃ",
        "th" => "θ",
        "ng" => "ŋ",
        "ee" | "ea" => "iː",
        "a" | "ae" => "æ",
        "o" => "ɒ",
        "y" => "j",
        "x" => "k",
        "ɑ" | "ar" => "ɑː",
        "ɔ" | "or" => "ɔː",
        "ɜ" | "er" => "ɜː",
        _ => return None,
    })
}

impl fmt::Display for Phoneme {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}

impl fmt::Debug for Phoneme {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "/{}/", self.symbol())
    }
}

impl FromStr for Phoneme {
    type Err = PhonemeError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        match Self::parse_sequence(text)?.as_slice() {
            [one] => Ok(*one),
            _ => Err(PhonemeError::Unknown { given: text.to_owned(), nearest: nearest(text.trim()) }),
        }
    }
}

impl Serialize for Phoneme {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.serialize_str(self.symbol())
    }
}

impl<'de> Deserialize<'de> for Phoneme {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let text = String::deserialize(d)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_symbol_reads_back() {
        for p in Phoneme::all() {
            assert_eq!(p.symbol().parse(), Ok(p));
        }
    }

    #[test]
    fn variants_fold_and_unknown_symbols_get_a_suggestion() {
        let check = |given: &str, want: &str| {
            let got = Phoneme::parse_sequence(given).map(|s| Phoneme::join(&s));
            assert_eq!(got.as_deref(), Ok(want), "{given}");
        };
        check("ɡ", "g");
        check("t͡ʃ", "tʃ");
        check("ks", "k.s");
        check("/ʃən/", "ʃ.ə.n");
        check("ɑ:", "ɑː");
        check("oʊ", "əʊ");
        check("-", "-");
        let said = |text: &str| text.parse::<Phoneme>().map_err(|error| error.to_string()).unwrap_err();
        assert_eq!(said("sh"), "“sh” is not an IPA phoneme of English; did you mean /ʃ/?");
        assert_eq!(said("a"), "“a” is not an IPA phoneme of English; did you mean /æ/?");
        assert_eq!(said("q"), "“q” is not an IPA phoneme of English");
        // A word as it is spelt is no sound near another.
        let wall = Phoneme::parse_sequence("wall").map_err(|error| error.to_string()).unwrap_err();
        let ends = "“a” is none; write what is said, sounds joined by dots, such as ʃ.ɪ.p";
        assert_eq!(wall, format!("“wall” is not written in IPA phonemes of English: {ends}"));
        assert!("q".parse::<Phoneme>().is_err());
        assert_eq!(Phoneme::parse_sequence("  "), Err(PhonemeError::Empty));
    }
}
