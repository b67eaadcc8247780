//! What is odd about an item as an adult wrote it. It is taken all the same: the adult may mean it.

use super::CheckKind;
use crate::phonics::{Engine, guess::from_known, text::tokens, word::Word};

/// What is odd about an item.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Odd {
    /// Not made of words.
    #[error("is not made of words: nothing is known of how it is read")]
    NoWord,
    /// A word in no list.
    #[error("\u{201c}{0}\u{201d} is no word that is known here: how it is read is guessed from its letters")]
    UnknownWord(String),
    /// Several words where one is asked for.
    #[error("is more than one word, in a check that asks for words one by one")]
    SeveralWords,
    /// One word where sentences are asked for.
    #[error("is one word, in a check that asks for sentences")]
    OneWord,
    /// Not in the lists of common exception words.
    #[error("\u{201c}{0}\u{201d} is none of the curriculum's common exception words")]
    NoExceptionWord(String),
    /// Struck off.
    #[error("\u{201c}{0}\u{201d} is struck off at this school: it is not to be shown to children")]
    Struck(String),
    /// The same item a second time, with the place of the first.
    #[error("stands in items[{0}] already")]
    Twice(usize),
    /// Shown otherwise than its GPC is written.
    #[error("is not how its GPC is written: {0}")]
    OtherGrapheme(String),
}

/// What is odd about a text of words in a check of a kind.
#[must_use]
pub fn odd_words(engine: &Engine, kind: CheckKind, text: &str) -> Vec<Odd> {
    let words: Vec<&str> = tokens(text).collect();
    let mut odd = match (kind, words.len()) {
        (_, 0) => vec![Odd::NoWord],
        (CheckKind::SentenceReading, 1) => vec![Odd::OneWord],
        (CheckKind::SentenceReading, _) | (_, 1) => Vec::new(),
        _ => vec![Odd::SeveralWords],
    };
    for word in words {
        let Ok(plain) = Word::parse(word) else {
            odd.push(Odd::NoWord);
            continue;
        };
        let known = |part: &String| {
            engine.lexicon().find(part).is_some()
                || from_known(engine.inventory(), engine.lexicon(), part).is_some()
        };
        if !plain.parts.iter().all(known) {
            odd.push(Odd::UnknownWord(plain.given.clone()));
        } else if kind == CheckKind::ExceptionWordReading
            && !engine.statutory().is_exception_word(&plain.given)
        {
            odd.push(Odd::NoExceptionWord(plain.given.clone()));
        }
    }
    odd
}

/// The words of a text that the school struck off, made up or not.
#[must_use]
pub fn struck_words(engine: &Engine, text: &str) -> Vec<Odd> {
    tokens(text).filter(|word| engine.is_struck(word)).map(|word| Odd::Struck(word.to_owned())).collect()
}

/// What is odd about how a GPC is shown: other letters than it is written with.
#[must_use]
pub fn odd_grapheme(shown: &str, grapheme: &str) -> Option<Odd> {
    let letters = |text: &str| {
        text.chars().filter(|c| c.is_alphabetic()).flat_map(char::to_lowercase).collect::<String>()
    };
    (letters(shown) != letters(grapheme)).then(|| Odd::OtherGrapheme(grapheme.to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_does_not_fit_its_kind_is_odd() {
        let engine = Engine::load().unwrap();
        let odd = |kind, text| odd_words(&engine, kind, text);
        use CheckKind::{ExceptionWordReading, SentenceReading, Spelling, WordReading};
        let unknown = |word: &str| vec![Odd::UnknownWord(word.to_owned())];
        assert_eq!(odd(WordReading, "xqz"), unknown("xqz"));
        assert_eq!(odd(Spelling, "frowl"), unknown("frowl"));
        for known in ["ship", "Ship", "ships", "sunset", "it's"] {
            assert_eq!(odd(WordReading, known), [], "{known}");
        }
        assert_eq!(odd(WordReading, "7"), [Odd::NoWord]);
        assert_eq!(odd(WordReading, "red ship"), [Odd::SeveralWords]);
        assert_eq!(odd(SentenceReading, "ship"), [Odd::OneWord]);
        assert_eq!(odd(SentenceReading, "Mum sat on a xqz."), unknown("xqz"));
        assert_eq!(odd(ExceptionWordReading, "said"), []);
        assert_eq!(odd(ExceptionWordReading, "ship"), [Odd::NoExceptionWord("ship".into())]);
    }

    #[test]
    fn a_gpc_shown_by_other_letters_is_odd() {
        assert_eq!(odd_grapheme("Sh", "sh"), None);
        assert_eq!(odd_grapheme("a-e", "a_e"), None);
        assert_eq!(odd_grapheme("ch", "sh"), Some(Odd::OtherGrapheme("sh".into())));
    }
}
