//! Text analysis: how much of a passage a class can read, and what the rest lacks.

use std::collections::BTreeMap;

use serde::Serialize;

use super::Engine;
use super::bank::Plan;
use super::fixed::Map;
use super::gpc::Gpc;
use super::unlock::NEVER;
use super::word::Word;

/// The largest text taken, in bytes.
pub const LARGEST: usize = 1024 * 1024;
/// The most distinct words that may be in no list: each is segmented by rule, which takes hundreds
/// of times as long as looking one up, and a text that holds so many is not English.
pub const MOST_GUESSED: usize = 2_000;

/// How a word of a text stands at a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// Every unit was taught.
    Decodable,
    /// Not decodable, but taught as an exception word.
    TaughtException,
    /// Not decodable, and on the statutory list, and not taught yet.
    UntaughtException,
    /// Not decodable.
    NotDecodable,
}

/// One distinct word of a text.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TextWord {
    /// As the lexicon shows it, or as first met.
    pub word: String,
    /// How often it occurs.
    pub count: usize,
    /// How it stands.
    pub standing: Standing,
    /// The step from which it can be decoded, if ever.
    pub step: Option<u16>,
    /// What it lacks at the step asked for.
    pub lacking: Vec<Gpc>,
    /// Whether its segmentation is a guess (not in the lexicon).
    pub guess: bool,
}

/// A correspondence that words of a text lack.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Lacking {
    /// The correspondence.
    pub gpc: Gpc,
    /// Running words that lack it.
    pub words: usize,
}

/// The whole analysis. Percentages are of running words, 0 to 100, one decimal; `None` for a
/// text without words.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TextAnalysis {
    /// Running words.
    pub running: usize,
    /// Numbers and tokens that are no words, not counted above.
    pub skipped: usize,
    /// Running words that are decodable.
    pub decodable: usize,
    /// Running words that are not, but were taught as exception words.
    pub taught_exceptions: usize,
    /// Running words whose segmentation is a guess.
    pub guessed: usize,
    /// Decodable, in per cent.
    pub percent_decodable: Option<f64>,
    /// Decodable or taught as an exception word, in per cent.
    pub percent_readable: Option<f64>,
    /// The first step at which nineteen of twenty running words are readable, if ever.
    pub readable_from: Option<u16>,
    /// Distinct words in order of first occurrence.
    pub words: Vec<TextWord>,
    /// What is lacking, most frequent first.
    pub lacking: Vec<Lacking>,
}

/// Why a text is not analysed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TextError {
    /// Larger than [`LARGEST`].
    #[error("the text has {0} bytes; at most {LARGEST} are taken")]
    TooLarge(usize),
    /// More than [`MOST_GUESSED`] words in no list.
    #[error("more than {MOST_GUESSED} different words of the text are in no list; send it in parts")]
    TooManyGuessed,
    /// A step the sequence does not have.
    #[error("step {step} is past the last step, {last}")]
    StepOutOfRange {
        /// The step asked for.
        step: u16,
        /// The last there is.
        last: u16,
    },
}

/// The standing of a word from both its steps.
struct Judged {
    word: TextWord,
    readable_from: u16,
}

impl Plan {
    /// Analyses a text at a step of the sequence.
    ///
    /// # Errors
    /// [`TextError`] when the text is too large, holds too many words in no list, or the step does
    /// not exist.
    pub fn analyse(&self, engine: &Engine, text: &str, step: u16) -> Result<TextAnalysis, TextError> {
        if text.len() > LARGEST {
            return Err(TextError::TooLarge(text.len()));
        }
        let last = self.last_step();
        if step > last {
            return Err(TextError::StepOutOfRange { step, last });
        }
        let mut seen: Map<&str, Option<usize>> = Map::default();
        let mut plain_seen: Map<String, Option<usize>> = Map::default();
        let mut judged: Vec<Judged> = Vec::new();
        let (mut skipped, mut guessed) = (0, 0);
        for token in tokens(text) {
            let at = *seen.entry(token).or_insert_with(|| {
                let word = Word::parse(token).ok()?;
                *plain_seen.entry(word.key()).or_insert_with(|| {
                    let new = self.judge(engine, &word, step)?;
                    guessed += usize::from(new.word.guess);
                    judged.push(new);
                    Some(judged.len() - 1)
                })
            });
            match at.and_then(|at| judged.get_mut(at)) {
                Some(j) => j.word.count += 1,
                None => skipped += 1,
            }
            if guessed > MOST_GUESSED {
                return Err(TextError::TooManyGuessed);
            }
        }
        Ok(summary(judged, skipped, last))
    }

    fn judge(&self, engine: &Engine, plain: &Word, step: u16) -> Option<Judged> {
        let readings = engine.readings(plain).ok()?;
        let (unlocked, n) = self.reading.best(readings.list.iter().map(|(u, _)| u.as_slice()));
        let units = readings.list.get(n).map_or(&[][..], |(u, _)| u.as_slice());
        let exception = self.sequence.exception_step(&readings.shown);
        let standing = if unlocked <= step {
            Standing::Decodable
        } else if exception.is_some_and(|s| s <= step) {
            Standing::TaughtException
        } else if engine.statutory().is_exception_word(&readings.shown) {
            Standing::UntaughtException
        } else {
            Standing::NotDecodable
        };
        Some(Judged {
            readable_from: unlocked.min(exception.unwrap_or(NEVER)),
            word: TextWord {
                lacking: self.reading.lacking(engine, units, step),
                word: readings.shown,
                count: 0,
                standing,
                step: (unlocked != NEVER).then_some(unlocked),
                guess: readings.guess,
            },
        })
    }
}

/// Words and numbers: runs of letters, digits, apostrophes and hyphens.
pub(crate) fn tokens(text: &str) -> impl Iterator<Item = &str> {
    let inside = |c: char| c.is_alphanumeric() || matches!(c, '\'' | '’' | '-' | '\u{301}');
    text.split(move |c: char| !inside(c)).filter(|t| t.chars().any(char::is_alphanumeric))
}

fn summary(judged: Vec<Judged>, skipped: usize, last: u16) -> TextAnalysis {
    let count = |f: &dyn Fn(&TextWord) -> bool| -> usize {
        let hits = judged.iter().filter(|j| f(&j.word));
        hits.map(|j| j.word.count).sum()
    };
    let running = count(&|_| true);
    let decodable = count(&|w| w.standing == Standing::Decodable);
    let taught_exceptions = count(&|w| w.standing == Standing::TaughtException);
    let guessed = count(&|w| w.guess);
    let mut by_gpc: BTreeMap<&Gpc, usize> = BTreeMap::new();
    for j in judged.iter().filter(|j| j.word.standing != Standing::TaughtException) {
        for gpc in &j.word.lacking {
            *by_gpc.entry(gpc).or_default() += j.word.count;
        }
    }
    let mut lacking: Vec<Lacking> =
        by_gpc.into_iter().map(|(gpc, words)| Lacking { gpc: gpc.clone(), words }).collect();
    lacking.sort_by(|a, b| b.words.cmp(&a.words).then_with(|| a.gpc.cmp(&b.gpc)));
    TextAnalysis {
        running,
        skipped,
        decodable,
        taught_exceptions,
        guessed,
        percent_decodable: percent(decodable, running),
        percent_readable: percent(decodable + taught_exceptions, running),
        readable_from: readable_from(&judged, running, last),
        lacking,
        words: judged.into_iter().map(|j| j.word).collect(),
    }
}

fn percent(part: usize, whole: usize) -> Option<f64> {
    (whole > 0).then(|| (part as f64 * 1000.0 / whole as f64).round() / 10.0)
}

fn readable_from(judged: &[Judged], running: usize, last: u16) -> Option<u16> {
    if running == 0 {
        return None;
    }
    let mut steps: Vec<(u16, usize)> = judged.iter().map(|j| (j.readable_from, j.word.count)).collect();
    steps.sort_unstable();
    let mut so_far = 0;
    steps
        .into_iter()
        .find(|(_, n)| {
            so_far += n;
            so_far * 20 >= running * 19
        })
        .map(|(s, _)| s)
        .filter(|s| *s <= last)
}
