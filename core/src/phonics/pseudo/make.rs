//! Making pseudo-words: a seeded walk over attested transitions between taught units.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use crate::phonics::Engine;
use crate::phonics::bank::Plan;
use crate::phonics::rng::Rng;
use crate::phonics::segment::Variant;
use crate::phonics::unit::{GpcId, Unit};

use super::grammar::{Grammar, split_syllable};
use super::judge::{self, Refusal};

/// The most pseudo-words one request may ask for.
pub const MOST: usize = 1_000;

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
    /// *ripdom*.
    TwoSyllables,
}

/// What to make.
#[derive(Debug, Clone, Default)]
pub struct PseudoRequest {
    /// How many, at most [`MOST`].
    pub count: usize,
    /// Which shapes; empty means CVC, CCVC and CVCC.
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
    /// Other sounds to accept as right: readings of the same spellings by other taught
    /// correspondences, as IPA without separators.
    pub also_accept: Vec<String>,
}

/// What was made.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PseudoResult {
    /// The words, in the order made.
    pub words: Vec<PseudoWord>,
    /// How many candidates each screen refused.
    pub refused: BTreeMap<Refusal, usize>,
    /// Whether fewer than asked for could be made from what is taught.
    pub short: bool,
}

struct Maker<'a> {
    engine: &'a Engine,
    plan: &'a Plan,
    grammar: &'a Grammar,
    step: u16,
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
        let wanted = request.count.min(MOST);
        let shapes = match request.shapes.as_slice() {
            [] => &[Shape::Cvc, Shape::Ccvc, Shape::Cvcc][..],
            list => list,
        };
        let mut rng = Rng::for_purpose(request.seed, "pseudo-words");
        let mut out = PseudoResult { words: Vec::new(), refused: BTreeMap::new(), short: false };
        let mut seen: BTreeSet<String> = BTreeSet::new();
        let mut rimes: BTreeMap<Vec<GpcId>, usize> = BTreeMap::new();
        let per_rime = 2.max(wanted / 12);
        let patience = 600 + 4 * wanted;
        let mut idle = 0;
        while out.words.len() < wanted && idle < patience {
            idle += 1;
            let Some((ids, letters, shape)) = self.candidate(&mut rng, shapes) else {
                continue;
            };
            let held = request.holding.is_empty() || ids.iter().any(|i| request.holding.contains(i));
            if !held || !seen.insert(letters.clone()) {
                continue;
            }
            let rime = self.rime(&ids);
            if rimes.get(&rime).is_some_and(|n| *n >= per_rime) {
                seen.remove(&letters);
                continue;
            }
            match judge::judge(self.engine, self.grammar, &ids, &letters) {
                Ok(()) => {
                    idle = 0;
                    *rimes.entry(rime).or_default() += 1;
                    out.words.push(self.write(&ids, letters, shape));
                }
                Err(refusal) => *out.refused.entry(refusal).or_default() += 1,
            }
        }
        out.short = out.words.len() < wanted;
        out
    }

    fn candidate(&self, rng: &mut Rng, shapes: &[Shape]) -> Option<(Vec<GpcId>, String, Shape)> {
        let two = shapes.contains(&Shape::TwoSyllables);
        let joined = two && (shapes.len() == 1 || rng.below(shapes.len()) == 0);
        let mut ids = self.syllable(rng)?;
        let mut shape = self.shape(&ids)?;
        if joined {
            let next = self.syllable(rng)?;
            let both = shape == Shape::Cvc && self.shape(&next) == Some(Shape::Cvc);
            if !both || !self.joins(&ids, &next) {
                return None;
            }
            ids.extend(next);
            shape = Shape::TwoSyllables;
        }
        if !shapes.contains(&shape) {
            return None;
        }
        let letters = self.spell(&ids)?;
        Some((ids, letters, shape))
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
        let sounds = judge::sound(self.engine, self.plan.policy.accent, &ids);
        let reference = judge::sound(self.engine, Default::default(), &ids);
        let whole = split_syllable(&sounds).is_some() && self.grammar.attests(&reference);
        whole.then_some(ids)
    }

    /// Taught itself, in the school's accent, without tolerance.
    fn taught(&self, id: GpcId) -> bool {
        self.plan.spelling.unit(Unit::new(id)) <= self.step
    }

    fn is_split(&self, id: GpcId) -> bool {
        let item = self.engine.inventory().get(id);
        item.is_some_and(|c| c.gpc.grapheme().is_split())
    }

    fn has_vowel(&self, id: GpcId) -> bool {
        self.engine.inventory().get(id).is_some_and(|c| c.gpc.has_vowel())
    }

    fn shape(&self, ids: &[GpcId]) -> Option<Shape> {
        let before = ids.iter().position(|id| self.has_vowel(*id))?;
        let after = ids.len() - before - 1;
        match (before, after) {
            (0, 1) => Some(Shape::Vc),
            (1, 1) => Some(Shape::Cvc),
            (2, 1) => Some(Shape::Ccvc),
            (1, 2) => Some(Shape::Cvcc),
            (2, 2) => Some(Shape::Ccvcc),
            (3, 1) => Some(Shape::Cccvc),
            _ => None,
        }
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

    /// The letters; none where a split digraph would not close or the spelling is not English.
    fn spell(&self, ids: &[GpcId]) -> Option<String> {
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
        let bytes = out.as_bytes();
        let last = ids.len().checked_sub(2).and_then(|at| ids.get(at..));
        if last.is_some_and(|pair| !self.ends_well(pair)) || odd_after_w(ids, &out) {
            return None;
        }
        let triple = bytes.windows(3).any(|w| w[0] == w[1] && w[1] == w[2]);
        let odd = ["uu", "ii", "aa", "iu"].iter().any(|s| out.contains(s));
        (!open && !triple && !odd).then_some(out)
    }

    /// English doubles f, l, s, z after one short vowel letter, writes no final c, and writes x
    /// only after one vowel letter.
    fn ends_well(&self, pair: &[GpcId]) -> bool {
        let spelling = |id: &GpcId| {
            let item = self.engine.inventory().get(*id);
            item.map_or("", |c| c.gpc.grapheme().as_str())
        };
        let (Some(before), Some(last)) = (pair.first(), pair.get(1)) else {
            return true;
        };
        let one_vowel = spelling(before).len() == 1 && self.has_vowel(*before);
        let vowels = self.has_vowel(*before);
        match spelling(last) {
            "c" | "j" | "v" | "q" => false,
            "f" | "l" | "s" | "z" => !one_vowel,
            "ff" | "ll" | "ss" | "zz" | "ck" | "tch" | "dge" | "x" => one_vowel,
            "ld" | "lld" => vowels,
            _ => true,
        }
    }

    fn write(&self, ids: &[GpcId], word: String, shape: Shape) -> PseudoWord {
        let accent = self.plan.policy.accent;
        let written = |ids: &[GpcId]| -> String {
            let sound = judge::sound(self.engine, accent, ids);
            sound.iter().map(|p| p.symbol()).collect()
        };
        let own = written(ids);
        let mut also_accept: Vec<String> = judge::readings(self.engine, self.grammar, ids)
            .iter()
            .skip(1)
            .filter(|r| r.iter().all(|id| self.taught(*id)))
            .map(|r| written(r))
            .filter(|w| *w != own)
            .collect();
        also_accept.sort();
        also_accept.dedup();
        let units = ids.iter().map(|id| Unit::new(*id)).collect();
        PseudoWord { word, shape, reading: self.engine.variant(units, None, accent), also_accept }
    }
}
