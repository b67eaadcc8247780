//! How checks are built and compared, and the sections of a practice check.

use serde::Deserialize;

use super::CarriedCells;
use crate::check::Outcome;

/// How checks are built, and when figures of two forms say something.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct CheckRule {
    /// Items of a built check, at most.
    pub items_most: u16,
    /// Forms built at once, at most.
    pub forms_most: u8,
    /// Lessons after which what was taught counts as no longer recent, when forms are balanced.
    pub recent_lessons: u16,
    /// Answers a form needs before its share of right answers is told.
    pub answers_enough: u32,
    /// To be shown with forms and their figures.
    pub caution: String,
}

/// A section of a jurisdiction's statutory check, and so of a practice check, which has nothing else in common with
/// it: how many words of what kind.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct PracticeSection {
    /// Counted from 1.
    pub number: u8,
    /// Made-up words.
    pub pseudo_words: usize,
    /// Real words.
    pub real_words: usize,
    /// Consonants and vowels in order, as `CCVC`, of words of one syllable; none where any will do.
    pub shapes: Vec<String>,
    /// The most syllables of a word; none where any number will do.
    pub syllables_max: Option<usize>,
    /// Graphemes it adds to those of the sections before, `single letters` among them; none where any will do.
    pub graphemes: Vec<String>,
}

impl PracticeSection {
    /// Words in all.
    pub const fn words(&self) -> usize {
        self.pseudo_words + self.real_words
    }
}

impl CarriedCells {
    /// How an outcome is written on paper: the first of its spellings.
    #[must_use]
    pub fn written(&self, outcome: Outcome) -> Option<&str> {
        let spellings = match outcome {
            Outcome::Right => &self.right,
            Outcome::Wrong => &self.wrong,
            Outcome::NoResponse => &self.no_response,
            Outcome::NotOffered => &self.not_offered,
        };
        spellings.first().map(String::as_str)
    }
}

#[cfg(test)]
mod tests {
    use crate::rules::{PracticeSection, pack};

    #[test]
    fn the_shapes_are_those_of_the_statutory_checks() {
        // England: two sections of 20, of 12 and 8 made-up words; South Australia: one of 40, half and half.
        let sections = |id| &pack(id).unwrap().statutory_check.sections;
        let numbers =
            |id| sections(id).iter().map(|s| (s.number, s.pseudo_words, s.real_words)).collect::<Vec<_>>();
        assert_eq!(numbers("england"), [(1, 12, 8), (2, 8, 12)]);
        assert_eq!(numbers("south-australia"), [(1, 20, 20)]);
        assert_eq!(sections("england").iter().map(PracticeSection::words).sum::<usize>(), 40);
        assert!(pack("nowhere").is_err());
    }
}
