//! Graphemes: the letter or letters that spell one unit of sound.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// The longest grapheme accepted, in letters.
const LONGEST: usize = 5;

/// One to five letters `a`–`z`, lower case, or a split digraph written `a_e`.
#[derive(Clone, PartialEq, Eq, Hash, PartialOrd, Ord, Debug)]
pub struct Grapheme(Box<str>);

/// A text that is not a grapheme.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum GraphemeError {
    /// Nothing was given.
    #[error("a grapheme is missing")]
    Empty,
    /// More letters than any grapheme of English has.
    #[error("\u{201c}{0}\u{201d} is too long for a grapheme (at most {LONGEST} letters)")]
    TooLong(String),
    /// A character other than a letter `a`–`z`, or an underscore outside `?_e`.
    #[error("\u{201c}{0}\u{201d} is not a grapheme: letters a to z only; write a split digraph a_e")]
    BadCharacter(String),
}

impl Grapheme {
    /// As written, for example `sh` or `a_e`.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The letters written together: for a split digraph those before the gap (`a` in `a_e`).
    #[must_use]
    pub fn letters(&self) -> &str {
        self.0.strip_suffix("_e").unwrap_or(&self.0)
    }

    /// Whether it is a split digraph, its last letter standing after the next consonant.
    #[must_use]
    pub fn is_split(&self) -> bool {
        self.0.ends_with("_e")
    }

    /// How many letters it takes in a word, the `e` of a split digraph included.
    #[must_use]
    pub fn letter_count(&self) -> usize {
        self.letters().len() + usize::from(self.is_split())
    }

    /// Two equal consonant letters (`ff`, `tt`).
    #[must_use]
    pub fn is_doubled_consonant(&self) -> bool {
        match self.0.as_bytes() {
            [a, b] => a == b && !b"aeiou".contains(a),
            _ => false,
        }
    }
}

impl FromStr for Grapheme {
    type Err = GraphemeError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let text = text.trim().to_lowercase().replace('-', "_");
        if text.is_empty() {
            return Err(GraphemeError::Empty);
        }
        let letters = text.strip_suffix("_e").unwrap_or(&text);
        if letters.is_empty() || !letters.bytes().all(|b| b.is_ascii_lowercase()) {
            return Err(GraphemeError::BadCharacter(text));
        }
        if letters.len() > LONGEST {
            return Err(GraphemeError::TooLong(text));
        }
        Ok(Self(text.into_boxed_str()))
    }
}

impl fmt::Display for Grapheme {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl Serialize for Grapheme {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.serialize_str(&self.0)
    }
}

impl<'de> Deserialize<'de> for Grapheme {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let text = String::deserialize(d)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn graphemes_parse_or_say_why_not() {
        let check = |given: &str, want: Result<&str, ()>| {
            let got = given.parse::<Grapheme>();
            assert_eq!(got.as_ref().map(Grapheme::as_str).map_err(|_| ()), want);
        };
        check("SH", Ok("sh"));
        check("a-e", Ok("a_e"));
        check("a_e", Ok("a_e"));
        check("", Err(()));
        check("_e", Err(()));
        check("é", Err(()));
        check("a_b", Err(()));
        check("abcdef", Err(()));
    }

    #[test]
    fn split_digraphs_know_their_letters() {
        let g: Grapheme = "ai_e".parse().unwrap();
        assert!(g.is_split());
        assert_eq!((g.letters(), g.letter_count()), ("ai", 3));
    }
}
