//! What a client may call a word, and the plain letters the engine works on.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

/// The longest word taken, in letters: as long as the longest in any English dictionary.
pub const LONGEST: usize = 45;

/// A word made plain: lower-case letters `a`–`z` and inner apostrophes, in one part or, where it
/// was hyphenated, several.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Word {
    /// As given, trimmed.
    pub given: String,
    /// The parts between hyphens; never empty, none of them empty.
    pub parts: Vec<String>,
}

/// Why a text is not taken as a word.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum WordError {
    /// No letters at all.
    #[error("a word is missing")]
    Empty,
    /// More than [`LONGEST`] letters.
    #[error("the word has {letters} letters; at most {LONGEST} are taken")]
    TooLong {
        /// How many it has.
        letters: usize,
    },
    /// A digit: numbers are not segmented.
    #[error("\u{201c}{0}\u{201d} holds a digit; write the number in words")]
    Digit(String),
    /// White space inside: more than one word.
    #[error("\u{201c}{0}\u{201d} is more than one word")]
    Space(String),
    /// A letter of another script, or a sign.
    #[error("\u{201c}{given}\u{201d} holds \u{201c}{character}\u{201d}, which is not a letter of English")]
    Character {
        /// The word.
        given: String,
        /// The first character that is not taken.
        character: char,
    },
}

impl Word {
    /// Makes a text plain: trims it and its surrounding punctuation, lowers capitals, takes off
    /// accents (*café*), writes ligatures out, straightens apostrophes, splits at hyphens.
    ///
    /// # Errors
    /// [`WordError`] for what is left empty, too long, or no word.
    pub fn parse(text: &str) -> Result<Self, WordError> {
        let given = text.trim();
        if given.chars().count() > 4 * LONGEST {
            return Err(WordError::TooLong { letters: given.chars().filter(|c| c.is_alphabetic()).count() });
        }
        let core = given.trim_matches(|c: char| !c.is_alphanumeric());
        let mut plain = String::with_capacity(core.len());
        for c in core.nfkd().filter(|c| !is_combining_mark(*c)) {
            push_plain(c, given, &mut plain)?;
        }
        let parts: Vec<String> =
            plain.split('-').map(|p| p.trim_matches('\'').to_owned()).filter(|p| !p.is_empty()).collect();
        let letters: usize = parts.iter().map(String::len).sum();
        match letters {
            0 => Err(WordError::Empty),
            n if n > LONGEST => Err(WordError::TooLong { letters: n }),
            _ => Ok(Self { given: given.to_owned(), parts }),
        }
    }
}

fn push_plain(c: char, given: &str, out: &mut String) -> Result<(), WordError> {
    match c {
        c if c.is_ascii_alphabetic() => out.push(c.to_ascii_lowercase()),
        '\'' | '\u{2019}' | '\u{2018}' | '\u{2bc}' | '`' => out.push('\''),
        '-' | '\u{2010}'..='\u{2015}' => out.push('-'),
        'æ' | 'Æ' => out.push_str("ae"),
        'œ' | 'Œ' => out.push_str("oe"),
        'ø' | 'Ø' => out.push('o'),
        'ß' => out.push_str("ss"),
        c if c.is_numeric() => return Err(WordError::Digit(given.to_owned())),
        c if c.is_whitespace() => return Err(WordError::Space(given.to_owned())),
        character => {
            return Err(WordError::Character { given: given.to_owned(), character });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_made_plain_or_refused_with_a_reason() {
        let check = |given: &str, want: Result<&str, &str>| {
            let got = Word::parse(given).map(|w| w.parts.join("-"));
            match (got, want) {
                (Ok(a), Ok(b)) => assert_eq!(a, b),
                (Err(e), Err(part)) => assert!(e.to_string().contains(part), "{e}"),
                (got, want) => panic!("{given}: {got:?}, not {want:?}"),
            }
        };
        check("Cat", Ok("cat"));
        check("  CAFÉ, ", Ok("cafe"));
        check("don’t", Ok("don't"));
        check("'tis", Ok("tis"));
        check("Jack-in-the-box", Ok("jack-in-the-box"));
        check("Æsop", Ok("aesop"));
        check("--", Err("missing"));
        check("", Err("missing"));
        check("4th", Err("digit"));
        check("two words", Err("more than one"));
        check("кот", Err("not a letter"));
        check(&"a".repeat(60), Err("60 letters"));
        check(&"a".repeat(100_000), Err("letters"));
    }
}
