//! The National Curriculum's common exception words and content, as data (English Appendix 1,
//! Crown copyright, Open Government Licence v3.0). Nothing here says what a class finds hard:
//! that is computed from what it was taught.

use serde::Serialize;

use super::data::{self, DataError};
use super::inventory::Inventory;
use super::unit::GpcId;

/// A statutory year of the lists.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Year {
    /// Ages 5 to 6.
    Year1,
    /// Ages 6 to 7.
    Year2,
}

/// A word of the statutory lists.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ExceptionWord {
    /// The year whose list holds it.
    pub year: Year,
    /// The word, in the case of the list (*I*, *Mr*, *Christmas*).
    pub word: &'static str,
}

/// One entry of the statutory content.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CurriculumUnit {
    /// The year.
    pub year: Year,
    /// A short stable name.
    pub id: &'static str,
    /// What it is about.
    pub title: &'static str,
    /// The correspondences it names; empty for content of another kind (prefixes, apostrophes).
    pub gpcs: Vec<GpcId>,
}

/// The lists, in statutory order.
#[derive(Debug, Clone)]
pub struct Statutory {
    words: Vec<ExceptionWord>,
    units: Vec<CurriculumUnit>,
}

impl Statutory {
    /// Reads the embedded lists.
    ///
    /// # Errors
    /// [`DataError`] naming file and line.
    pub fn load(inventory: &Inventory) -> Result<Self, DataError> {
        let mut words = Vec::new();
        for (line, text) in data::lines(data::EXCEPTION_WORDS) {
            let bad = |why: &str| DataError::new("exception_words.tsv", line, why);
            let (year, word) = text.split_once('\t').ok_or_else(|| bad("two cells expected"))?;
            let year = read_year(year).ok_or_else(|| bad("year"))?;
            words.push(ExceptionWord { year, word });
        }
        let mut units = Vec::new();
        for (line, text) in data::lines(data::CURRICULUM) {
            let bad = |why: String| DataError::new("curriculum.tsv", line, why);
            let cells: Vec<&'static str> = text.split('\t').collect();
            let [year, id, title, gpcs] = cells.as_slice() else {
                return Err(bad("four cells expected".to_owned()));
            };
            let gpcs = gpcs.split(' ').filter(|g| *g != "-");
            let gpcs: Result<Vec<GpcId>, _> = gpcs.map(|g| inventory.find(g)).collect();
            units.push(CurriculumUnit {
                year: read_year(year).ok_or_else(|| bad("year".to_owned()))?,
                id,
                title,
                gpcs: gpcs.map_err(|e| bad(e.to_string()))?,
            });
        }
        Ok(Self { words, units })
    }

    /// The common exception words, year 1 first.
    #[must_use]
    pub fn exception_words(&self) -> &[ExceptionWord] {
        &self.words
    }

    /// Whether a word is one of them.
    #[must_use]
    pub fn is_exception_word(&self, word: &str) -> bool {
        self.words.iter().any(|known| known.word.eq_ignore_ascii_case(word))
    }

    /// The content, year 1 first.
    #[must_use]
    pub fn units(&self) -> &[CurriculumUnit] {
        &self.units
    }
}

fn read_year(text: &str) -> Option<Year> {
    match text {
        "1" => Some(Year::Year1),
        "2" => Some(Year::Year2),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_statutory_counts_hold() {
        let lists = Statutory::load(&Inventory::load().unwrap()).unwrap();
        let words = |y| lists.exception_words().iter().filter(|w| w.year == y).count();
        let units = |y| lists.units().iter().filter(|u| u.year == y).count();
        assert_eq!((words(Year::Year1), words(Year::Year2)), (45, 64));
        assert_eq!((units(Year::Year1), units(Year::Year2)), (42, 25));
        let cased: Vec<&str> = lists
            .exception_words()
            .iter()
            .map(|w| w.word)
            .filter(|w| w.chars().any(char::is_uppercase))
            .collect();
        assert_eq!(cased, ["I", "Mr", "Mrs", "Christmas"]);
    }
}
