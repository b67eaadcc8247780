//! Making pseudo-words: a seeded walk over attested transitions between taught units.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use crate::phonics::Engine;
use crate::phonics::bank::Plan;
use crate::phonics::rng::Rng;
use crate::phonics::segment::Variant;
use crate::phonics::unit::{GpcId, Unit};

use super::grammar::{Grammar, split_syllable};
use super::judge::{self, Reading, Refusal};
use super::spelling::looks_english;

/// The most pseudo-words one request may ask for.
pub const MOST: usize = 1_000;

/// Walks for one half of a word of two syllables.
const HALF_TRIES: usize = 60;

/// The most letters of two syllables: six units, of which one may be a digraph.
const LONGEST_OF_TWO: usize = 7;

/// Consonant and vowel units in order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Shape {
    /// *ib*.
    Vc,
    /// *vab*.
    Cvc,
    /// *plem*.
    Ccvc,
    /// *fent*.
    Cvcc,
    /// *drint*.
    Ccvcc,
    /// *strom*.
    Cccvc,
    /// *vibgom*.
    TwoSyllables,
}

const ONE_SYLLABLE: [Shape; 6] =
    [Shape::Vc, Shape::Cvc, Shape::Ccvc, Shape::Cvcc, Shape::Ccvcc, Shape::Cccvc];

impl Shape {
    /// How many units stand before the vowel and after it; of two syllables, in each.
    pub(super) fn beside(self) -> (usize, usize) {
        match self {
            Self::Vc => (0, 1),
            Self::Cvc | Self::TwoSyllables => (1, 1),
            Self::Ccvc => (2, 1),
            Self::Cvcc => (1, 2),
            Self::Ccvcc => (2, 2),
            Self::Cccvc => (3, 1),
        }
    }
}

/// What to make.
#[derive(Debug, Clone, Default)]
pub struct PseudoRequest {
    /// How many, at most [`MOST`].
    pub count: usize,
    /// Which shapes; empty means CVC, CCVC and CVCC, and where those run out VC and CCVCC.
    pub shapes: Vec<Shape>,
    /// The seed: the same request with the same seed gives the same words.
    pub seed: u64,
    /// When not empty, each word holds at least one of these.
    pub holding: BTreeSet<GpcId>,
}

/// A made-up word.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PseudoWord {
    /// Its letters.
    pub word: String,
    /// Its shape.
    pub shape: Shape,
    /// The intended reading.
    pub reading: Variant,
    /// Other sounds to accept as right, the likeliest first: what an offered word of these letters
    /// would have accepted, by taught correspondences, as IPA without separators.
    pub also_accept: Vec<String>,
}

/// What was made.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PseudoResult {
    /// The words, in the order made.
    pub words: Vec<PseudoWord>,
    /// How many candidates each screen refused.
    pub refused: BTreeMap<Refusal, usize>,
    /// Whether fewer than asked for could be made. Of words of one syllable there are then no more.
    pub short: bool,
}

pub(super) struct Maker<'a> {
    pub(super) engine: &'a Engine,
    pub(super) plan: &'a Plan,
    pub(super) grammar: &'a Grammar,
    step: u16,
}

/// A made-up word not yet judged: units, letters, shape.
pub(super) type Candidate = (Vec<GpcId>, String, Shape);

/// What was made so far.
struct Making<'r> {
    request: &'r PseudoRequest,
    wanted: usize,
    seen: BTreeSet<String>,
    out: PseudoResult,
}

impl Making<'_> {
    fn short(&self) -> bool {
        self.out.words.len() < self.wanted
    }
}

impl Plan {
    /// Makes pseudo-words of what is taught at a step.
    #[must_use]
    pub fn pseudo_words(&self, engine: &Engine, step: u16, request: &PseudoRequest) -> PseudoResult {
        let maker = Maker { engine, plan: self, grammar: engine.grammar(), step };
        maker.run(request)
    }
}

/// After w, or is not read as in *fork*, nor a as in *cat* or ar as in *car*.
fn odd_after_w(ids: &[GpcId], letters: &str) -> bool {
    ids.len() > 1 && ["wor", "war", "wa"].iter().any(|s| letters.starts_with(s))
}

impl Maker<'_> {
    fn run(&self, request: &PseudoRequest) -> PseudoResult {
        let mut making = Making {
            request,
            wanted: request.count.min(MOST),
            seen: BTreeSet::new(),
            out: PseudoResult { words: Vec::new(), refused: BTreeMap::new(), short: false },
        };
        let mut rng = Rng::for_purpose(request.seed, "pseudo-words");
        let rounds: &[&[Shape]] = match request.shapes.as_slice() {
            [] => &[&[Shape::Cvc, Shape::Ccvc, Shape::Cvcc], &[Shape::Vc, Shape::Ccvcc]],
            list => &[list],
        };
        for shapes in rounds {
            // A walk seldom meets a unit that must be held: the few words that do are listed.
            if request.holding.is_empty() || shapes.contains(&Shape::TwoSyllables) {
                self.walk(&mut making, &mut rng, shapes);
            }
            if making.short() {
                let mut rest = self.every(shapes, &request.holding);
                rng.shuffle(&mut rest);
                for ids in rest {
                    if !making.short() {
                        break;
                    }
                    if let Some(candidate) = self.whole(ids) {
                        self.keep(&mut making, candidate);
                    }
                }
            }
        }
        making.out.short = making.short();
        making.out
    }

    /// Seeded walks, likelier transitions first, until nothing new comes for a while.
    fn walk(&self, making: &mut Making<'_>, rng: &mut Rng, shapes: &[Shape]) {
        let holding = &making.request.holding;
        let mut rimes: BTreeMap<Vec<GpcId>, usize> = BTreeMap::new();
        let per_rime = 2.max(making.wanted / 12);
        let patience = 600 + making.wanted;
        let mut idle = 0;
        while making.short() && idle < patience {
            idle += 1;
            let Some(candidate) = self.candidate(rng, shapes) else {
                continue;
            };
            let rime = self.rime(&candidate.0);
            let held = holding.is_empty() || candidate.0.iter().any(|i| holding.contains(i));
            if held && rimes.get(&rime).is_none_or(|n| *n < per_rime) && self.keep(making, candidate) {
                idle = 0;
                *rimes.entry(rime).or_default() += 1;
            }
        }
    }

    /// Judges a candidate not seen before; whether it was kept.
    fn keep(&self, making: &mut Making<'_>, (ids, letters, shape): Candidate) -> bool {
        if !making.seen.insert(letters.clone()) {
            return false;
        }
        match judge::judge(self.engine, &letters, Some(&ids)) {
            Ok(readings) => making.out.words.push(self.write(&ids, letters, shape, &readings)),
            Err(refusal) => {
                *making.out.refused.entry(refusal).or_default() += 1;
                return false;
            }
        }
        true
    }

    fn candidate(&self, rng: &mut Rng, shapes: &[Shape]) -> Option<Candidate> {
        let two = shapes.contains(&Shape::TwoSyllables);
        if two && (shapes.len() == 1 || rng.below(shapes.len()) == 0) {
            let (first, second) = (self.half(rng)?, self.half(rng)?);
            let ids = [&first[..], &second].concat();
            let letters = self.spell(&ids).filter(|_| self.joins(&first, &second))?;
            if letters.len() > LONGEST_OF_TWO || !self.spell(&second).is_some_and(|s| looks_english(&s)) {
                return None;
            }
            return Some((ids, letters, Shape::TwoSyllables));
        }
        let ids = self.syllable(rng)?;
        let shape = self.shape(&ids).filter(|shape| shapes.contains(shape))?;
        let letters = self.spell(&ids)?;
        Some((ids, letters, shape))
    }

    /// A syllable for a word of two: one consonant, a vowel, one consonant.
    fn half(&self, rng: &mut Rng) -> Option<Vec<GpcId>> {
        let fits = |ids: &Vec<GpcId>| self.shape(ids) == Some(Shape::Cvc);
        (0..HALF_TRIES).find_map(|_| self.syllable(rng).filter(fits))
    }

    /// A walk over taught units that ends where words end.
    fn syllable(&self, rng: &mut Rng) -> Option<Vec<GpcId>> {
        let soft = |n: u32| n.isqrt().max(1);
        let first: Vec<(GpcId, u32)> = self
            .grammar
            .first()
            .iter()
            .filter(|(id, _)| self.taught(*id))
            .map(|(id, n)| (*id, soft(*n)))
            .collect();
        let mut ids = vec![*rng.weighted(&first)?];
        loop {
            let last = *ids.last()?;
            let next: Vec<(Option<GpcId>, u32)> = self
                .grammar
                .after(last)
                .iter()
                .filter(|(id, _)| id.is_none_or(|id| self.taught(id)))
                .map(|(id, n)| (*id, soft(*n)))
                .collect();
            match rng.weighted(&next)? {
                Some(id) if ids.len() < 6 => ids.push(*id),
                Some(_) => return None,
                None => break,
            }
        }
        self.is_syllable(&ids).then_some(ids)
    }

    /// Whether units have one vowel and an onset, a rime and a coda that words have.
    pub(super) fn is_syllable(&self, ids: &[GpcId]) -> bool {
        let sounds = judge::sound(self.engine, self.plan.policy.accent, ids);
        let reference = judge::sound(self.engine, Default::default(), ids);
        split_syllable(&sounds).is_some() && self.grammar.attests(&reference)
    }

    /// Taught itself, in the school's accent, without tolerance, and read so in it: in words like
    /// *path* a class with a short a there has no long one.
    pub(super) fn taught(&self, id: GpcId) -> bool {
        let short = self.plan.policy.accent.short_a_in_bath && self.grammar.varies_in_bath(id);
        self.plan.spelling.unit(Unit::new(id)) <= self.step && !short
    }

    fn is_split(&self, id: GpcId) -> bool {
        let item = self.engine.inventory().get(id);
        item.is_some_and(|c| c.gpc.grapheme().is_split())
    }

    pub(super) fn has_vowel(&self, id: GpcId) -> bool {
        self.engine.inventory().get(id).is_some_and(|c| c.gpc.has_vowel())
    }

    pub(super) fn shape(&self, ids: &[GpcId]) -> Option<Shape> {
        let before = ids.iter().position(|id| self.has_vowel(*id))?;
        let after = ids.len() - before - 1;
        ONE_SYLLABLE.into_iter().find(|shape| shape.beside() == (before, after))
    }

    /// Whether two syllables may stand together: one plain consonant letter on each side of the
    /// seam, two different ones, no split digraph.
    fn joins(&self, first: &[GpcId], second: &[GpcId]) -> bool {
        let spelling = |id: Option<&GpcId>| {
            let item = self.engine.inventory().get(*id?)?;
            Some(item.gpc.grapheme().as_str())
        };
        let plain = |g: &str| g.len() == 1 && !matches!(g, "x" | "y" | "h" | "w");
        let split = first.iter().chain(second).any(|id| self.is_split(*id));
        match (spelling(first.last()), spelling(second.first())) {
            (Some(a), Some(b)) => !split && a != b && plain(a) && plain(b),
            _ => false,
        }
    }

    fn rime(&self, ids: &[GpcId]) -> Vec<GpcId> {
        let at = ids.iter().position(|id| self.has_vowel(*id)).unwrap_or(0);
        ids.get(at..).unwrap_or(&[]).to_vec()
    }

    /// The letters; none where a split digraph would not close or w changes the vowel meant.
    pub(super) fn spell(&self, ids: &[GpcId]) -> Option<String> {
        let mut out = String::new();
        let mut open = false;
        for (n, id) in ids.iter().enumerate() {
            let grapheme = self.engine.inventory().get(*id)?.gpc.grapheme();
            if open && grapheme.letters().len() > 1 && grapheme.as_str() != "th" {
                return None;
            }
            out.push_str(grapheme.letters());
            if std::mem::take(&mut open) {
                out.push('e');
            }
            if grapheme.is_split() {
                open = n + 2 == ids.len();
                if !open {
                    return None;
                }
            }
        }
        (!open && !odd_after_w(ids, &out)).then_some(out)
    }

    fn write(&self, ids: &[GpcId], word: String, shape: Shape, others: &[Reading]) -> PseudoWord {
        let accent = self.plan.policy.accent;
        let units: Vec<Unit> = ids.iter().map(|id| Unit::new(*id)).collect();
        let own = self.engine.said(&units, accent);
        let taught = |unit: &Unit| ids.contains(&unit.id()) || self.taught(unit.id());
        let mut also_accept = self.engine.plausible(&word, others, accent, taught);
        also_accept.retain(|sound| *sound != own);
        PseudoWord { word, shape, reading: self.engine.variant(units, None, accent), also_accept }
    }
}
