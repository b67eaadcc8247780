//! A grapheme–phoneme correspondence. Its identity is the pair, never its place in a sequence.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::grapheme::{Grapheme, GraphemeError};
use super::phoneme::{Phoneme, PhonemeError};

/// A grapheme together with the phoneme, or short run of phonemes, it stands for.
///
/// Written `grapheme:phonemes` with dots between phonemes: `sh:ʃ`, `a_e:eɪ`, `x:k.s`, and
/// `b:-` for a letter that is written and not sounded. That text is the stable identity: it is
/// what a client sends, what a school's sequence stores and what [`FromStr`] reads.
#[derive(Clone, PartialEq, Eq, Hash, PartialOrd, Ord, Debug)]
pub struct Gpc {
    grapheme: Grapheme,
    phonemes: Box<[Phoneme]>,
}

/// A text that is not a correspondence.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum GpcError {
    /// There is no `:` (or `/`) between the grapheme and the sound.
    #[error("\u{201c}{0}\u{201d} is not a correspondence: write grapheme:sound, for example sh:ʃ")]
    NoSeparator(String),
    /// The part before the separator is not a grapheme.
    #[error(transparent)]
    Grapheme(#[from] GraphemeError),
    /// The part after the separator is not a phoneme sequence.
    #[error(transparent)]
    Phoneme(#[from] PhonemeError),
}

impl Gpc {
    /// Pairs a grapheme with its phonemes; no phonemes means a letter that is not sounded.
    #[must_use]
    pub fn new(grapheme: Grapheme, phonemes: Vec<Phoneme>) -> Self {
        Self { grapheme, phonemes: phonemes.into_boxed_slice() }
    }

    /// The spelling.
    #[must_use]
    pub fn grapheme(&self) -> &Grapheme {
        &self.grapheme
    }

    /// The sound: usually one phoneme, several for composites such as `x`, none for a silent letter.
    #[must_use]
    pub fn phonemes(&self) -> &[Phoneme] {
        &self.phonemes
    }

    /// Whether any of its phonemes is a vowel.
    #[must_use]
    pub fn has_vowel(&self) -> bool {
        self.phonemes.iter().any(|p| p.is_vowel())
    }
}

impl FromStr for Gpc {
    type Err = GpcError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let (g, p) = text.split_once([':', '/']).ok_or_else(|| GpcError::NoSeparator(text.to_owned()))?;
        Ok(Self::new(g.parse()?, Phoneme::parse_sequence(p)?))
    }
}

impl fmt::Display for Gpc {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", self.grapheme, Phoneme::join(&self.phonemes))
    }
}

impl Serialize for Gpc {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Gpc {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let text = String::deserialize(d)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_pair_is_the_identity() {
        let check = |given: &str, want: &str| {
            let gpc: Gpc = given.parse().unwrap();
            assert_eq!(gpc.to_string(), want);
            assert_eq!(want.parse::<Gpc>().unwrap(), gpc);
        };
        check("SH:ʃ", "sh:ʃ");
        check("a-e/eɪ", "a_e:eɪ");
        check("x:ks", "x:k.s");
        check("qu:kw", "qu:k.w");
        check("b:-", "b:-");
        assert_ne!("oo:uː".parse::<Gpc>(), "oo:ʊ".parse::<Gpc>());
        assert!("sh".parse::<Gpc>().is_err());
    }
}
