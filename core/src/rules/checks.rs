//! How checks are built and compared, and the shape a practice check has.

use std::sync::LazyLock;

use serde::Deserialize;

use super::{CarriedCells, PACKS, RulesError};
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

/// The shape of a jurisdiction's statutory check: how many words of what kind. It is read apart from the rules of
/// that check, with which a practice check has nothing else in common.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct PracticeShape {
    /// What the statutory check is called.
    pub name: String,
    /// Its sections, in order.
    pub sections: Vec<PracticeSection>,
}

/// A section of a practice check.
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

impl PracticeShape {
    /// Words in all.
    pub fn words(&self) -> usize {
        self.sections.iter().map(|section| section.pseudo_words + section.real_words).sum()
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

/// The part of a pack that is read here.
#[derive(Deserialize)]
struct Pack {
    statutory_check: PracticeShape,
}

static SHAPES: LazyLock<Vec<Result<PracticeShape, RulesError>>> = LazyLock::new(|| {
    let read = |(id, text): &(&str, &str)| {
        serde_json::from_str(text)
            .map(|pack: Pack| pack.statutory_check)
            .map_err(|error| RulesError::Malformed { id: (*id).to_owned(), error: error.to_string() })
    };
    PACKS.iter().map(read).collect()
});

/// The shape of a practice check under the pack with this id.
///
/// # Errors
/// As [`super::pack`].
pub fn practice_shape(id: &str) -> Result<&'static PracticeShape, RulesError> {
    super::pack(id)?;
    let known = PACKS.iter().zip(SHAPES.iter()).find(|((known, _), _)| *known == id);
    known.map_or_else(
        || Err(RulesError::Unknown { id: id.to_owned(), known: String::new() }),
        |(_, read)| read.as_ref().map_err(Clone::clone),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shapes_are_those_of_the_statutory_checks() {
        // England: two sections of 20, of 12 and 8 made-up words; South Australia: one of 40, half and half.
        let numbers = |id| {
            let sections = &practice_shape(id).unwrap().sections;
            sections.iter().map(|s| (s.number, s.pseudo_words, s.real_words)).collect::<Vec<_>>()
        };
        assert_eq!(numbers("england"), [(1, 12, 8), (2, 8, 12)]);
        assert_eq!(numbers("south-australia"), [(1, 20, 20)]);
        assert_eq!(practice_shape("england").unwrap().words(), 40);
        assert!(practice_shape("nowhere").is_err());
    }
}
