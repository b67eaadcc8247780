//! The distinct words of a book, each with how often it stands there: all that matching needs.

use serde::{Deserialize, Serialize};

use crate::phonics::{fixed::Map, text::tokens, word::Word};

/// A book's words, counted once when it is saved.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Counted {
    /// Distinct words as first met, in that order, each with how often it stands in the book.
    pub words: Vec<(String, usize)>,
    /// Numbers and tokens that are no words.
    pub skipped: usize,
}

impl Counted {
    /// Counts the words of a text; spellings of one word are one.
    pub fn of(text: &str) -> Self {
        let mut counted = Self::default();
        let mut tokens_met: Map<&str, Option<usize>> = Map::default();
        let mut words_met: Map<String, usize> = Map::default();
        for token in tokens(text) {
            let place = *tokens_met.entry(token).or_insert_with(|| {
                let plain = Word::parse(token).ok()?.key();
                Some(*words_met.entry(plain).or_insert_with(|| {
                    counted.words.push((token.to_owned(), 0));
                    counted.words.len() - 1
                }))
            });
            match place.and_then(|place| counted.words.get_mut(place)) {
                Some((_, count)) => *count += 1,
                None => counted.skipped += 1,
            }
        }
        counted
    }

    /// Running words.
    pub fn running(&self) -> usize {
        self.words.iter().map(|(_, count)| count).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_not_counted_as_words_and_spellings_of_one_word_are_one() {
        let counted = Counted::of("Mod, 4 mods; re-do the 4th! MOD");
        let words = [("Mod", 2), ("mods", 1), ("re-do", 1), ("the", 1)];
        assert_eq!(counted.words, words.map(|(word, count)| (word.to_owned(), count)));
        assert_eq!((counted.running(), counted.skipped), (5, 2));
    }
}
