//! What a client may call a word, and the plain letters the engine works on.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

/// The longest word taken, in letters: as long as the longest in any English dictionary.
pub const LONGEST: usize = 45;

/// A word made plain: lower-case letters `a`–`z` and inner apostrophes, in one part or, where it
/// was hyphenated, several.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Word {
    /// As given, without the signs around it and with straight apostrophes.
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
        let outer = |c: char| !c.is_alphanumeric();
        let text = text.trim();
        if text.chars().count() > 4 * LONGEST {
            return Err(WordError::TooLong { letters: text.chars().filter(|c| c.is_alphabetic()).count() });
        }
        let composed: String = text.nfc().collect();
        let given = composed.trim_matches(outer);
        let mut plain = String::with_capacity(given.len());
        for c in given.nfkd().filter(|c| !is_combining_mark(*c)) {
            push_plain(c, given, &mut plain)?;
        }
        let parts: Vec<String> =
            plain.split('-').map(|p| p.trim_matches('\'').to_owned()).filter(|p| !p.is_empty()).collect();
        let letters: usize = parts.iter().map(String::len).sum();
        match letters {
            0 => Err(WordError::Empty),
            n if n > LONGEST => Err(WordError::TooLong { letters: n }),
            _ => {
                let straight = |c| if is_apostrophe(c) { '\'' } else { c };
                Ok(Self { given: given.chars().map(straight).collect(), parts })
            }
        }
    }

    /// What makes two spellings one word: capitals, accents and the sort of apostrophe do not
    /// matter, nor do signs around it.
    #[must_use]
    pub fn key(&self) -> String {
        self.parts.join("-")
    }
}

fn push_plain(c: char, given: &str, out: &mut String) -> Result<(), WordError> {
    match c {
        c if c.is_ascii_alphabetic() => out.push(c.to_ascii_lowercase()),
        c if is_apostrophe(c) => out.push('\''),
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

const fn is_apostrophe(c: char) -> bool {
    matches!(c, '\'' | '\u{2019}' | '\u{2018}' | '\u{2bc}' | '`')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_around_a_word_are_no_part_of_it() {
        let parse = |given: &str| Word::parse(given).map(|word| (word.key(), word.given)).unwrap();
        assert_eq!(parse("((Mip\u{202e}!"), ("mip".into(), "Mip".into()));
        assert_eq!(parse("Didn\u{2019}t,"), ("didn't".into(), "Didn't".into()));
        assert_eq!(parse("Cafe\u{301}"), ("cafe".into(), "Caf\u{e9}".into()));
    }

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
        check("a\u{202e}b", Err("not a letter"));
        check(&"a".repeat(60), Err("60 letters"));
        check(&"a".repeat(100_000), Err("letters"));
    }
}
