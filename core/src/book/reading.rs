//! From which step of a sequence a book can be read, and what stands in the way.

use std::collections::BTreeMap;

use super::Counted;
use crate::phonics::{Engine, bank::Plan, gpc::Gpc, word::Word};

/// Reads books against one sequence; a word that several books hold is judged once.
#[derive(Debug)]
pub struct BookReader<'a> {
    engine: &'a Engine,
    plan: &'a Plan,
    at: u16,
    /// Places in `judged` by the word made plain; none for what is no word.
    known: BTreeMap<String, Option<usize>>,
    judged: Vec<ReadingWord>,
}

/// A distinct word of a book.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ReadingWord {
    /// As the lexicon shows it, or as first met.
    pub word: String,
    /// How often it stands in the book.
    pub count: usize,
    /// The first step at which it is decodable or taught as an exception word, if any.
    pub from: Option<u16>,
    /// The correspondences it lacks at the step asked about.
    pub lacking: Vec<Gpc>,
    /// Whether its segmentation is a guess: it is in no list.
    pub guess: bool,
}

/// A book read against a sequence.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Reading {
    /// The step asked about.
    pub at: u16,
    /// Running words; numbers and what else is no word left out.
    pub running: usize,
    /// Distinct words in order of first occurrence.
    pub words: Vec<ReadingWord>,
}

impl<'a> BookReader<'a> {
    /// For a sequence made ready, asking about one of its steps; a later one is the last.
    pub fn new(engine: &'a Engine, plan: &'a Plan, at: u16) -> Self {
        Self { engine, plan, at: at.min(plan.last_step()), known: BTreeMap::new(), judged: Vec::new() }
    }

    /// Reads a book.
    pub fn read(&mut self, book: &Counted) -> Reading {
        let mut reading = Reading { at: self.at, ..Reading::default() };
        for (token, count) in &book.words {
            let judged = self.judge(token).and_then(|n| self.judged.get(n));
            let Some(judged) = judged else { continue };
            reading.running += count;
            reading.words.push(ReadingWord { count: *count, ..judged.clone() });
        }
        reading
    }

    /// Reads a book of which so many per cent can be read at the step asked about; none for another,
    /// left as soon as too much of it is in the way.
    pub fn read_if(&mut self, book: &Counted, percent: u8) -> Option<Reading> {
        let allowed = book.running() * usize::from(100 - percent.min(100));
        let mut in_the_way = 0;
        for (token, count) in &book.words {
            let judged = self.judge(token).and_then(|n| self.judged.get(n));
            if judged.is_some_and(|word| word.from.is_none_or(|from| from > self.at)) {
                in_the_way += count * 100;
                if in_the_way > allowed {
                    return None;
                }
            }
        }
        Some(self.read(book)).filter(|reading| reading.is_readable(percent))
    }

    fn judge(&mut self, token: &str) -> Option<usize> {
        let plain = Word::parse(token).ok()?.key();
        if let Some(known) = self.known.get(&plain) {
            return *known;
        }
        let judged = self.judged(token).map(|word| {
            self.judged.push(word);
            self.judged.len() - 1
        });
        self.known.insert(plain, judged);
        judged
    }

    /// The engine's word on one token.
    fn judged(&self, token: &str) -> Option<ReadingWord> {
        let word = self.plan.analyse(self.engine, token, self.at).ok()?.words.into_iter().next()?;
        let taught = self.plan.sequence.exception_step(&word.word);
        let from = word.step.into_iter().chain(taught).min();
        Some(ReadingWord { word: word.word, count: 0, from, lacking: word.lacking, guess: word.guess })
    }
}

impl Reading {
    /// The first step at which this part of the running words, in per cent, can be read.
    pub fn step(&self, percent: u8) -> Option<u16> {
        let mut by_step: BTreeMap<u16, usize> = BTreeMap::new();
        for word in &self.words {
            word.from.into_iter().for_each(|from| *by_step.entry(from).or_default() += word.count);
        }
        let mut can = 0;
        by_step.into_iter().find_map(|(step, more)| {
            can += more;
            self.enough(can, percent).then_some(step)
        })
    }

    /// Whether this part of the running words, in per cent, can be read at the step asked about.
    pub fn is_readable(&self, percent: u8) -> bool {
        self.enough(self.readable(self.at), percent)
    }

    /// Running words that can be read at a step.
    pub fn readable(&self, step: u16) -> usize {
        let can = self.words.iter().filter(|word| word.from.is_some_and(|from| from <= step));
        can.map(|word| word.count).sum()
    }

    /// The running words that can be read at the step asked about, in per cent, one decimal, rounded
    /// down: a hundred means all. None without words.
    #[allow(clippy::cast_precision_loss)]
    pub fn percent(&self) -> Option<f64> {
        (self.readable(self.at) * 1000).checked_div(self.running).map(|tenths| tenths as f64 / 10.0)
    }

    /// Whether one of its words can be read at the step asked about.
    pub fn can_read(&self, word: &ReadingWord) -> bool {
        word.from.is_some_and(|from| from <= self.at)
    }

    /// Words that cannot be read at the step asked about.
    pub fn in_the_way(&self) -> impl Iterator<Item = &ReadingWord> {
        self.words.iter().filter(|word| !self.can_read(word))
    }

    /// Running words whose segmentation is a guess.
    pub fn guessed(&self) -> usize {
        self.words.iter().filter(|word| word.guess).map(|word| word.count).sum()
    }

    fn enough(&self, can: usize, percent: u8) -> bool {
        self.running > 0 && can * 100 >= self.running * usize::from(percent)
    }
}

#[cfg(test)]
mod tests {
    use std::sync::LazyLock;

    use super::*;
    use crate::phonics::{
        policy::Policy,
        sequence::{Sequence, StepText},
    };

    static ENGINE: LazyLock<Engine> = LazyLock::new(|| Engine::load().unwrap());

    /// m, o, d; then e and "the"; then n.
    fn read(text: &str, at: u16) -> Reading {
        let step = |gpcs: &[&str], words: &[&str]| StepText {
            gpcs: gpcs.iter().map(|gpc| (*gpc).to_owned()).collect(),
            exception_words: words.iter().map(|word| (*word).to_owned()).collect(),
        };
        let steps = [step(&["m:m", "o:ɒ", "d:d"], &[]), step(&["e:e"], &["the"]), step(&["n:n"], &[])];
        let plan = Plan::new(&ENGINE, Sequence::parse(&ENGINE, &steps).unwrap(), Policy::default());
        BookReader::new(&ENGINE, &plan, at).read(&Counted::of(text))
    }

    #[test]
    fn a_book_with_too_much_in_the_way_is_left_and_every_other_read_whole() {
        let step =
            StepText { gpcs: ["m:m", "o:ɒ", "d:d"].map(str::to_owned).to_vec(), ..StepText::default() };
        let plan = Plan::new(&ENGINE, Sequence::parse(&ENGINE, &[step]).unwrap(), Policy::default());
        for text in ["Mod. Mod!", "Mod mod mod cat", "mod cat", "", "12 34", "cat zzyxt"] {
            let book = Counted::of(text);
            for (percent, at) in [(0, 1), (49, 1), (50, 1), (75, 1), (76, 1), (100, 1), (100, 0)] {
                let whole = BookReader::new(&ENGINE, &plan, at).read(&book);
                let kept = BookReader::new(&ENGINE, &plan, at).read_if(&book, percent);
                assert_eq!(kept, Some(whole).filter(|r| r.is_readable(percent)), "{text} at {percent}");
            }
        }
        // What nothing unlocks is not looked at beyond the first word of it.
        let mut reader = BookReader::new(&ENGINE, &plan, 1);
        assert_eq!(reader.read_if(&Counted::of("mod cat zzyxt zzyxd zzyxb"), 100), None);
        assert_eq!(reader.known.len(), 2);
    }

    #[test]
    fn a_book_is_unlocked_by_its_last_word() {
        let check = |text: &str, percent: u8, expected: Option<u16>| {
            assert_eq!(read(text, 3).step(percent), expected, "{text} at {percent}");
        };
        check("Mod. Mod!", 100, Some(1));
        check("The mod", 100, Some(2));
        check("The mod men 4", 100, Some(3));
        // Two of three words, 66.6 per cent, at step 2.
        check("The mod men", 67, Some(3));
        check("The mod men", 66, Some(2));
        check("The mod cat", 100, None);
        check("Mod mod mod cat", 75, Some(1));
        check("Mod mod mod cat", 76, None);
        check("12 34", 100, None);
    }

    #[test]
    fn what_is_in_the_way_is_named() {
        let reading = read("The mod met the cat. A cat!", 3);
        let lacking = |word: &ReadingWord| word.lacking.iter().map(ToString::to_string).collect::<Vec<_>>();
        let way: Vec<_> = reading.in_the_way().map(|w| (w.word.as_str(), w.count, lacking(w))).collect();
        assert_eq!(way[0], ("met", 1, vec!["t:t".to_owned()]));
        assert_eq!(way[1], ("cat", 2, vec!["c:k".to_owned(), "a:æ".to_owned(), "t:t".to_owned()]));
        // "A" lacks its vowel: seven running words, and "the" twice and "mod" can be read.
        assert_eq!((way.len(), way[2].0, way[2].1), (3, "a", 1));
        assert_eq!((reading.running, reading.readable(1), reading.readable(2)), (7, 1, 3));
        // 3 of 7 is 42.857 per cent.
        assert_eq!(
            (reading.percent(), reading.is_readable(42), reading.is_readable(43)),
            (Some(42.8), true, false)
        );
    }

    #[test]
    fn the_step_asked_about_decides_what_is_lacking() {
        let way = |at: u16| -> Vec<(String, Option<u16>, usize)> {
            let reading = read("The mod men.", at);
            reading.in_the_way().map(|word| (word.word.clone(), word.from, word.lacking.len())).collect()
        };
        // At step 1 "men" lacks e and n; at step 2 only n.
        assert_eq!(way(1)[1], ("men".to_owned(), Some(3), 2));
        assert_eq!(way(2), [("men".to_owned(), Some(3), 1)]);
        assert_eq!(way(3), []);
        assert_eq!(read("Mod", 9).at, 3);
    }

    #[test]
    fn spellings_of_one_word_are_counted_together() {
        let reading = read("Mod MOD mod, mod-mod", 3);
        let words: Vec<(&str, usize)> = reading.words.iter().map(|w| (w.word.as_str(), w.count)).collect();
        assert_eq!((words[0].1, words.len(), reading.running), (3, 2, 4), "{words:?}");
    }

    #[test]
    fn a_book_of_unknown_words_is_read_by_guess() {
        let reading = read("Dommod demmo", 2);
        assert_eq!((reading.guessed(), reading.running), (2, 2));
        assert!(reading.words.iter().all(|word| word.guess));
    }
}
