//! The books one pupil can read.

use std::cmp::Reverse;

use super::{BookReader, Counted};
use crate::{
    attainment::Learner,
    phonics::{Engine, bank::Plan, policy::Policy, sequence::SequenceError},
    time::Date,
};

/// A book a pupil can read.
#[derive(Clone, Debug, PartialEq)]
pub struct Shelved {
    /// Its place in the list of books asked about.
    pub book: usize,
    /// The day on which a lesson taught the last of what it needs. None where all of it was taught
    /// before the pupil's records began, or is secure by checks alone.
    pub since: Option<Date>,
    /// Whether what is secure is enough, with the exception words taught.
    pub secure: bool,
    /// Running words.
    pub running: usize,
    /// Of them readable, in per cent, one decimal, rounded down.
    pub percent: Option<f64>,
}

crate::vocabulary! {
    /// Why a pupil's list of books is empty.
    pub enum ShelfGap {
        /// The school has entered no book.
        NoBooks = "no_books",
        /// Nothing is on record as taught to the pupil.
        NothingTaught = "nothing_taught",
        /// There are books, and each needs more than the pupil was taught.
        NoneReadable = "none_readable",
    }
}

/// The books a pupil can read, `percent` of the running words of each at least: what was taught
/// last first, and in the order given where that is the same.
///
/// # Errors
/// [`SequenceError`] where lessons taught new things on more days than a sequence has steps.
pub fn shelf(
    engine: &Engine,
    policy: Policy,
    learner: &Learner,
    books: &[&Counted],
    percent: u8,
) -> Result<Vec<Shelved>, SequenceError> {
    let (days, taught) = learner.by_day(engine)?;
    let taught = Plan::new(engine, taught, policy);
    let secured = Plan::new(engine, learner.secured(engine)?, policy);
    let mut reader = BookReader::new(engine, &taught, taught.last_step());
    let mut secure_reader = BookReader::new(engine, &secured, secured.last_step());
    let mut shelf: Vec<Shelved> = Vec::new();
    for (book, counted) in books.iter().enumerate() {
        let Some(reading) = reader.read_if(counted, percent) else { continue };
        let Some(step) = reading.step(percent) else { continue };
        shelf.push(Shelved {
            book,
            since: usize::from(step).checked_sub(1).and_then(|at| days.get(at).copied().flatten()),
            secure: secure_reader.read_if(counted, percent).is_some(),
            running: reading.running,
            percent: reading.percent(),
        });
    }
    shelf.sort_by_key(|shelved| Reverse(shelved.since));
    Ok(shelf)
}

impl ShelfGap {
    /// Why a list is empty; none where it is not.
    pub fn of(shelf: &[Shelved], learner: &Learner, books: usize) -> Option<Self> {
        match (shelf.is_empty(), books, learner.taught.is_empty() && learner.exception_words.is_empty()) {
            (false, ..) => None,
            (true, 0, _) => Some(Self::NoBooks),
            (true, _, true) => Some(Self::NothingTaught),
            (true, _, false) => Some(Self::NoneReadable),
        }
    }
}

#[cfg(test)]
mod tests {
    use std::sync::LazyLock;

    use super::*;
    use crate::phonics::unit::GpcId;

    static ENGINE: LazyLock<Engine> = LazyLock::new(|| Engine::load().unwrap());

    fn day(d: u32) -> Date {
        Date::from_ymd_opt(2026, 10, d).unwrap()
    }

    /// m, o, d before the records; e and "the" on the 5th, n on the 9th. m, o, d, e are secure.
    fn pupil() -> Learner {
        let id = |gpc: &str| -> GpcId { ENGINE.inventory().find(gpc).unwrap() };
        let secure = ["m:m", "o:ɒ", "d:d", "e:e"].map(id).to_vec();
        Learner {
            taught: secure
                .iter()
                .map(|id| (None, *id))
                .take(3)
                .chain([(Some(day(5)), secure[3]), (Some(day(9)), id("n:n"))])
                .collect(),
            secure,
            current: vec![id("n:n")],
            exception_words: vec![(Some(day(5)), "the".to_owned())],
            ..Learner::default()
        }
    }

    fn seen(texts: &[&str], percent: u8) -> Vec<(usize, Option<Date>, bool, Option<f64>)> {
        let books: Vec<Counted> = texts.iter().map(|text| Counted::of(text)).collect();
        let books: Vec<&Counted> = books.iter().collect();
        let shelf = shelf(&ENGINE, Policy::default(), &pupil(), &books, percent).unwrap();
        shelf.into_iter().map(|book| (book.book, book.since, book.secure, book.percent)).collect()
    }

    #[test]
    fn what_was_taught_last_comes_first_and_what_is_not_taught_never() {
        let books = ["Mod.", "The mod.", "Ned met Mod.", "Mod, ned!", "Dom"];
        let all = Some(100.0);
        // "met" needs t. "Ned" needs n, which is not secure.
        assert_eq!(
            seen(&books, 100),
            [
                (3, Some(day(9)), false, all),
                (1, Some(day(5)), true, all),
                (0, None, true, all),
                (4, None, true, all)
            ]
        );
    }

    #[test]
    fn a_lower_threshold_lets_a_book_in() {
        // Two of three words: 66.6 per cent, and one of the two is secure.
        assert_eq!(seen(&["Ned met Mod."], 66), [(0, Some(day(9)), false, Some(66.6))]);
        assert_eq!(seen(&["Ned met Mod."], 67), []);
        // At a third, "mod" alone is enough; the percentage is that of today.
        assert_eq!(seen(&["Ned met Mod."], 33), [(0, None, true, Some(66.6))]);
    }

    #[test]
    fn an_empty_list_says_why() {
        let gap = |learner: &Learner, texts: &[&str]| {
            let books: Vec<Counted> = texts.iter().map(|text| Counted::of(text)).collect();
            let books: Vec<&Counted> = books.iter().collect();
            let shelf = shelf(&ENGINE, Policy::default(), learner, &books, 100).unwrap();
            ShelfGap::of(&shelf, learner, texts.len())
        };
        assert_eq!(gap(&pupil(), &[]), Some(ShelfGap::NoBooks));
        assert_eq!(gap(&pupil(), &["cat"]), Some(ShelfGap::NoneReadable));
        assert_eq!(gap(&Learner::default(), &["mod"]), Some(ShelfGap::NothingTaught));
        assert_eq!(gap(&pupil(), &["mod"]), None);
    }
}
