//! Sentences in which every word is taught: own frames filled from what can be read.

use std::collections::BTreeMap;

use super::Engine;
use super::bank::Plan;
use super::data::{self, DataError};
use super::lexicon::{LexWord, Lexicon, WordId};
use super::rng::Rng;
use super::unit::GpcId;

/// Frames tried for one sentence.
const TRIES: usize = 60;

#[derive(Debug, Clone)]
enum Piece {
    Word { id: WordId, text: &'static str, end: &'static str },
    Slot { class: String, capital: bool, end: &'static str },
}

/// Frames and word classes.
#[derive(Debug, Clone)]
pub struct Frames {
    classes: BTreeMap<String, Vec<WordId>>,
    frames: Vec<Vec<Piece>>,
}

impl Frames {
    /// Reads the embedded frames; every word must be in the lexicon.
    ///
    /// # Errors
    /// [`DataError`] naming the line.
    pub fn load(lexicon: &Lexicon) -> Result<Self, DataError> {
        let mut out = Self { classes: BTreeMap::new(), frames: Vec::new() };
        for (line, text) in data::lines(data::SENTENCES) {
            let bad = |why: String| DataError::new("sentences.tsv", line, why);
            let find = |word: &str| {
                let known = lexicon.find(word).ok_or_else(|| bad(format!("{word} is not a word")));
                known.map(|w| w.id)
            };
            let cells: Vec<&'static str> = text.split('\t').collect();
            match cells.as_slice() {
                ["class", name, words] => {
                    let ids: Result<Vec<WordId>, _> = words.split(' ').map(find).collect();
                    out.classes.insert((*name).to_owned(), ids?);
                }
                ["frame", text] => {
                    let pieces: Result<Vec<Piece>, DataError> = text
                        .split(' ')
                        .map(|t| piece(t, &out.classes, find).ok_or_else(|| bad(t.to_owned()))?)
                        .collect();
                    out.frames.push(pieces?);
                }
                _ => return Err(bad("a class or a frame expected".to_owned())),
            }
        }
        Ok(out)
    }
}

/// One token of a frame; `None` when its class is not known.
fn piece(
    token: &'static str,
    classes: &BTreeMap<String, Vec<WordId>>,
    find: impl Fn(&str) -> Result<WordId, DataError>,
) -> Option<Result<Piece, DataError>> {
    let word = token.trim_end_matches(['.', '?', '!', ',']);
    let end = &token[word.len()..];
    let Some(slot) = word.strip_prefix('{').and_then(|w| w.strip_suffix('}')) else {
        return Some(find(word).map(|id| Piece::Word { id, text: word, end }));
    };
    let class = slot.to_lowercase();
    let capital = slot != class;
    classes.contains_key(&class).then_some(Ok(Piece::Slot { class, capital, end }))
}

impl Plan {
    /// A word may stand in a sentence at a step: it can be read by its parts, or was taught as an
    /// exception word.
    #[must_use]
    pub fn may_read(&self, word: &LexWord<'_>, step: u16) -> bool {
        self.unlocks.step_of(word.id) <= step
            || self.sequence.exception_step(word.shown()).is_some_and(|s| s <= step)
    }

    /// Up to `count` sentences of words that may be read at a step, those with most words holding
    /// one of `focus` first; where any frame can take such a word, the first sentence has one.
    /// Fewer, or none, when too little is taught.
    #[must_use]
    pub fn sentences(
        &self,
        engine: &Engine,
        step: u16,
        focus: &[GpcId],
        seed: u64,
        count: usize,
    ) -> Vec<String> {
        let frames = engine.frames();
        let readable = |id: &WordId| {
            let word = engine.lexicon().get(*id);
            word.is_some_and(|w| self.may_read(&w, step) && !engine.is_struck(w.shown()))
        };
        let weight = |id: &WordId| if self.holds(engine, *id, focus) { 6 } else { 1 };
        let classes: BTreeMap<&str, Vec<(WordId, u32)>> = frames
            .classes
            .iter()
            .map(|(name, ids)| {
                let usable = ids.iter().filter(|id| readable(id));
                (name.as_str(), usable.map(|id| (*id, weight(id))).collect())
            })
            .collect();
        let usable: Vec<&Vec<Piece>> = frames
            .frames
            .iter()
            .filter(|f| {
                f.iter().all(|p| match p {
                    Piece::Word { id, .. } => readable(id),
                    Piece::Slot { class, .. } => classes.get(class.as_str()).is_some_and(|c| !c.is_empty()),
                })
            })
            .collect();
        let focused: BTreeMap<&str, Vec<(WordId, u32)>> = classes
            .iter()
            .map(|(name, words)| {
                let held = words.iter().filter(|(id, _)| self.holds(engine, *id, focus));
                (*name, held.copied().collect())
            })
            .collect();
        let bears = |p: &Piece| match p {
            Piece::Word { id, .. } => self.holds(engine, *id, focus),
            Piece::Slot { class, .. } => focused.get(class.as_str()).is_some_and(|c| !c.is_empty()),
        };
        let bearing: Vec<(&Vec<Piece>, usize)> = usable
            .iter()
            .flat_map(|f| f.iter().enumerate().filter(|(_, p)| bears(p)).map(|(at, _)| (*f, at)))
            .collect();
        let mut rng = Rng::for_purpose(seed, "sentences");
        let mut made: Vec<(usize, String)> = Vec::new();
        for n in 0..TRIES {
            // The first tries put a word of the focus where one can stand.
            let drawn = match bearing.get(rng.below(bearing.len())) {
                Some((frame, at)) if n < TRIES / 2 => Some((*frame, Some(*at))),
                _ => usable.get(rng.below(usable.len())).map(|frame| (*frame, None)),
            };
            let words = |at: usize, class: &str| {
                let from =
                    if drawn.is_some_and(|(_, fixed)| fixed == Some(at)) { &focused } else { &classes };
                from.get(class).map_or(&[][..], Vec::as_slice)
            };
            if let Some((frame, _)) = drawn
                && let Some((hits, text)) = self.fill(engine, frame, words, focus, &mut rng)
                && !made.iter().any(|(_, t)| *t == text)
            {
                made.push((hits, text));
            }
        }
        made.sort_by_key(|(hits, _)| std::cmp::Reverse(*hits));
        made.into_iter().take(count).map(|(_, text)| text).collect()
    }

    /// Fills a frame with the words that `words` gives for a place and its class.
    fn fill<'w>(
        &self,
        engine: &Engine,
        frame: &[Piece],
        words: impl Fn(usize, &str) -> &'w [(WordId, u32)],
        focus: &[GpcId],
        rng: &mut Rng,
    ) -> Option<(usize, String)> {
        let mut text = String::new();
        let mut used: Vec<WordId> = Vec::new();
        let mut hits = 0;
        for (at, piece) in frame.iter().enumerate() {
            let (id, shown, capital, end) = match piece {
                Piece::Word { id, text, end } => (*id, *text, false, *end),
                Piece::Slot { class, capital, end } => {
                    let id = *rng.weighted(words(at, class))?;
                    if used.contains(&id) {
                        return None;
                    }
                    used.push(id);
                    (id, engine.lexicon().get(id)?.shown(), *capital, *end)
                }
            };
            let after_a = text.ends_with("A ") || text.ends_with(" a ");
            if after_a && shown.starts_with(['a', 'e', 'i', 'o', 'u']) {
                return None;
            }
            hits += usize::from(self.holds(engine, id, focus));
            let named = matches!(piece, Piece::Slot { class, .. } if class == "person");
            push_word(&mut text, shown, capital || named);
            text.push_str(end);
            text.push(' ');
        }
        Some((hits, text.trim_end().to_owned()))
    }

    /// Whether the reading of a word that is unlocked holds one of some correspondences.
    #[must_use]
    pub fn holds(&self, engine: &Engine, id: WordId, focus: &[GpcId]) -> bool {
        engine
            .lexicon()
            .get(id)
            .and_then(|w| self.reading.first_reading(&w))
            .is_some_and(|r| self.reading_holds(engine, r.units, focus))
    }
}

fn push_word(text: &mut String, word: &str, capital: bool) {
    let mut chars = word.chars();
    match chars.next() {
        Some(first) if capital || text.is_empty() => text.extend(first.to_uppercase()),
        Some(first) => text.push(first),
        None => {}
    }
    text.push_str(chars.as_str());
}
