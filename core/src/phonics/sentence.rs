//! Sentences in which every word is taught: own frames filled from what can be read.

use std::collections::{BTreeMap, BTreeSet};

use super::Engine;
use super::bank::Plan;
use super::data::{self, DataError};
use super::lexicon::{LexWord, Lexicon, WordId};
use super::rng::Rng;
use super::unit::GpcId;
use super::word_part::WordPart;

/// Frames tried for each thing a sentence should hold.
const TRIES: usize = 24;
/// Beyond so many possible sentences a frame comes no oftener.
const MOST_VARIED: u32 = 40;

/// What the first sentences should hold. By default nothing.
#[derive(Debug, Clone, Copy, Default)]
pub struct Wanted<'a> {
    /// Correspondences, any of them in a word.
    pub gpcs: &'a [GpcId],
    /// Words themselves, such as new exception words; each has a sentence while there is room.
    pub words: &'a [String],
    /// Kinds of words, any of them; where there are some, correspondences do not count.
    pub parts: &'a [WordPart],
}

/// The words that may stand in a class, with their weights.
type Words<'f> = BTreeMap<&'f str, Vec<(WordId, u32)>>;

/// A sentence with its words.
#[derive(Debug, Clone, PartialEq)]
struct Made {
    text: String,
    words: Vec<WordId>,
}

/// A frame, and the place in it that a word of an aim must fill.
type Place<'f> = (&'f [Piece], Option<usize>);

/// What the next sentences shall hold: places with their weights, and the words for them. A frame
/// counts by the sentences it can make, up to a limit, so that one with few does not come often.
struct Aim<'f> {
    places: Vec<(Place<'f>, u32)>,
    words: Words<'f>,
}

impl<'f> Aim<'f> {
    fn new(classes: &Words<'f>, usable: &[&'f Vec<Piece>], is_one: impl Fn(&WordId) -> bool) -> Self {
        let words: Words<'f> = classes
            .iter()
            .map(|(name, words)| (*name, words.iter().filter(|(id, _)| is_one(id)).copied().collect()))
            .collect();
        let bears = |p: &Piece| match p {
            Piece::Word { id, .. } => is_one(id),
            Piece::Slot { class, .. } => words.get(class.as_str()).is_some_and(|c| !c.is_empty()),
        };
        let places = usable
            .iter()
            .flat_map(|f| (0..f.len()).map(move |at| (f.as_slice(), at)))
            .filter(|(frame, at)| frame.get(*at).is_some_and(bears))
            .map(|(frame, at)| ((frame, Some(at)), variety(frame, classes, Some((at, &words)))))
            .collect();
        Self { places, words }
    }

    fn any(classes: &Words<'f>, usable: &[&'f Vec<Piece>]) -> Self {
        let places = usable.iter().map(|f| ((f.as_slice(), None), variety(f, classes, None)));
        Self { places: places.collect(), words: Words::new() }
    }
}

/// How many sentences a frame can make, at most [`MOST_VARIED`]; at `at` with other words.
fn variety(frame: &[Piece], classes: &Words<'_>, at: Option<(usize, &Words<'_>)>) -> u32 {
    let sizes = frame.iter().enumerate().map(|(place, piece)| match piece {
        Piece::Word { .. } => 1,
        Piece::Slot { class, .. } => {
            let from = at.filter(|(fixed, _)| *fixed == place).map_or(classes, |(_, words)| words);
            from.get(class.as_str()).map_or(0, Vec::len)
        }
    });
    let product = sizes.fold(1, usize::saturating_mul);
    u32::try_from(product).unwrap_or(MOST_VARIED).min(MOST_VARIED)
}

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

impl Frames {
    /// Every word of the frames and classes; some come more than once.
    fn words(&self) -> impl Iterator<Item = WordId> {
        let fixed = self.frames.iter().flatten().filter_map(|piece| match piece {
            Piece::Word { id, .. } => Some(*id),
            Piece::Slot { .. } => None,
        });
        fixed.chain(self.classes.values().flatten().copied())
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

    /// Up to `count` sentences of words that may be read at a step. First come sentences with the
    /// words that are wanted, one for each word while there is room, then those with a word of one of
    /// the kinds or holding one of the correspondences, where any frame can take such a word; then others. Fewer, or
    /// none, when too little is taught.
    #[must_use]
    pub fn sentences(
        &self,
        engine: &Engine,
        step: u16,
        wanted: Wanted<'_>,
        seed: u64,
        count: usize,
    ) -> Vec<String> {
        let frames = engine.frames();
        let readable = |id: &WordId| {
            let word = engine.lexicon().get(*id);
            word.is_some_and(|w| self.may_read(&w, step) && !engine.is_struck(w.shown()))
        };
        let wanted_ids: BTreeSet<WordId> = frames
            .words()
            .filter(|id| match (wanted.parts, engine.lexicon().get(*id)) {
                ([], _) => self.holds(engine, *id, wanted.gpcs),
                (parts, Some(word)) => parts.iter().any(|part| self.is_of(engine, &word, part)),
                (_, None) => false,
            })
            .collect();
        let holds = |id: &WordId| wanted_ids.contains(id);
        let classes: Words<'_> = frames
            .classes
            .iter()
            .map(|(name, ids)| {
                let usable = ids.iter().filter(|id| readable(id));
                (name.as_str(), usable.map(|id| (*id, if holds(id) { 6 } else { 1 })).collect())
            })
            .collect();
        let can_stand = |p: &Piece| match p {
            // Words with an apostrophe wait for the lesson about them.
            Piece::Word { id, text, .. } => {
                readable(id) && (!text.contains('\'') || !wanted.parts.is_empty() && holds(id))
            }
            Piece::Slot { class, .. } => classes.get(class.as_str()).is_some_and(|c| !c.is_empty()),
        };
        let usable: Vec<&Vec<Piece>> = frames.frames.iter().filter(|f| f.iter().all(can_stand)).collect();
        let ids: Vec<WordId> =
            wanted.words.iter().filter_map(|w| engine.lexicon().find(w)).map(|w| w.id).collect();
        let mut aims: Vec<Aim<'_>> =
            ids.iter().map(|word| Aim::new(&classes, &usable, |id| id == word)).collect();
        aims.push(Aim::new(&classes, &usable, holds));
        aims.push(Aim::any(&classes, &usable));
        let mut rng = Rng::for_purpose(seed, "sentences");
        let mut made: Vec<Made> = Vec::new();
        for aim in &aims {
            for _ in 0..TRIES {
                let Some((frame, at)) = rng.weighted(&aim.places) else { break };
                let words = |place: usize, class: &str| {
                    let from = if *at == Some(place) { &aim.words } else { &classes };
                    from.get(class).map_or(&[][..], Vec::as_slice)
                };
                if let Some(sentence) = self.fill(engine, frame, words, &mut rng)
                    && !made.iter().any(|m| m.text == sentence.text)
                {
                    made.push(sentence);
                }
            }
        }
        let held = |m: &Made| m.words.iter().any(holds);
        let mut out: Vec<Made> = Vec::new();
        for word in &ids {
            let with = |m: &&Made| m.words.contains(word) && !out.contains(m);
            let best = made.iter().filter(with).max_by_key(|m| held(m)).cloned();
            out.extend(best);
        }
        made.sort_by_key(|m| !held(m));
        for one in made {
            if !out.contains(&one) {
                out.push(one);
            }
        }
        out.into_iter().take(count).map(|m| m.text).collect()
    }

    /// Fills a frame with the words that `words` gives for a place and its class.
    fn fill<'w>(
        &self,
        engine: &Engine,
        frame: &[Piece],
        words: impl Fn(usize, &str) -> &'w [(WordId, u32)],
        rng: &mut Rng,
    ) -> Option<Made> {
        let mut text = String::new();
        let mut used: Vec<WordId> = Vec::new();
        let mut all: Vec<WordId> = Vec::new();
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
            all.push(id);
            let named = matches!(piece, Piece::Slot { class, .. } if class == "person");
            push_word(&mut text, shown, capital || named);
            text.push_str(end);
            text.push(' ');
        }
        Some(Made { text: text.trim_end().to_owned(), words: all })
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
