//! Proposing a sequence: a beam search for an order that unlocks words children know early, keeps
//! confusable pairs apart and does not open like an order in common use.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;
use sha2::{Digest, Sha256};

use super::unit::{GpcId, Unit};
use super::{Engine, data, fixed::Set, policy::Policy, require::Requirements, rng::Rng, sequence::Sequence};

/// What a proposal must keep to. All of it is recorded with the proposal.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Constraints {
    /// How many steps, one idea each, at most 170.
    pub steps: usize,
    /// Partial orders kept at each step; more is slower and a little better.
    pub beam: usize,
    /// Steps at the start that hold single letters only.
    pub letters_first: usize,
    /// The step by which the first word can be read.
    pub words_by: usize,
    /// The step by which every letter has a sound.
    pub alphabet_by: usize,
    /// No split digraph before this step.
    pub split_from: usize,
    /// How much a word still lacking one unit counts, against one that can be read; two units
    /// count its square, and so on.
    pub promise: f64,
    /// Varies equally good choices.
    pub seed: u64,
    /// What the school counts as taught.
    pub policy: Policy,
}

impl Default for Constraints {
    fn default() -> Self {
        Self {
            steps: 90,
            beam: 10,
            letters_first: 12,
            words_by: 3,
            alphabet_by: 44,
            split_from: 32,
            promise: 0.30,
            seed: 1,
            policy: Policy::default(),
        }
    }
}

/// A proposed order, for a person to edit.
#[derive(Debug, Clone)]
pub struct Proposal {
    /// The steps.
    pub sequence: Sequence,
    /// What it was made under.
    pub constraints: Constraints,
    /// Child words that can be read after each step.
    pub words: Vec<usize>,
}

/// Ideas, and the words that need them.
struct Problem<'a> {
    engine: &'a Engine,
    /// Each idea: the correspondences introduced together (th of *this* and *thin*).
    ideas: Vec<Vec<GpcId>>,
    /// How much child-word weight needs each idea.
    use_of: Vec<f64>,
    /// Words by idea: which words need it.
    words_of: Vec<Vec<usize>>,
    weight: Vec<f64>,
    needs: Vec<u8>,
    /// For each idea, those it must not stand close to with the gap.
    gaps: Vec<Vec<(usize, u16)>>,
    openings: Set<&'static str>,
}

#[derive(Clone)]
struct State {
    order: Vec<usize>,
    missing: Vec<u8>,
    potential: f64,
    /// Weight of the words that can be read.
    readable: f64,
    /// Sum of `readable` over the steps so far.
    total: f64,
}

/// Longer words count for less early on.
const LENGTH_DISCOUNT: f64 = 0.62;
/// Words of more units are not what a sequence is built for.
const LONGEST_WORD: usize = 8;

/// Proposes an order. Deterministic for its constraints. Takes about a second; call it off the
/// request's thread. `progress` is told each step done and may stop the search by answering false.
pub fn propose(
    engine: &Engine,
    constraints: &Constraints,
    mut progress: impl FnMut(usize) -> bool,
) -> Proposal {
    let problem = Problem::new(engine, constraints.policy);
    let mut beam = vec![problem.start()];
    let mut rng = Rng::for_purpose(constraints.seed, "proposal");
    let jitter: Vec<f64> = problem.ideas.iter().map(|_| 1.0 + rng.below(1_000) as f64 / 50_000.0).collect();
    for step in 0..constraints.steps.min(170) {
        let next = problem.widen(&beam, step, constraints, &jitter);
        if next.is_empty() || !progress(step + 1) {
            break;
        }
        beam = next;
    }
    let best = beam.into_iter().max_by(|a, b| a.total.total_cmp(&b.total));
    problem.finish(best.unwrap_or_else(|| problem.start()), constraints)
}

impl<'a> Problem<'a> {
    fn new(engine: &'a Engine, policy: Policy) -> Self {
        let requirements = Requirements::new(engine.inventory(), policy);
        let frequency = frequencies(engine);
        let mut idea_of: BTreeMap<GpcId, usize> = BTreeMap::new();
        let mut ideas: Vec<Vec<GpcId>> = Vec::new();
        let mut words: Vec<(Vec<usize>, f64)> = Vec::new();
        for word in engine.lexicon().iter().filter(|w| w.child_band() > 0) {
            let Some(reading) = word.readings().next().filter(|r| r.units.len() <= LONGEST_WORD) else {
                continue;
            };
            let mut needs: Vec<usize> = Vec::new();
            for unit in reading.units {
                for id in chosen(engine, &requirements, &frequency, *unit) {
                    let idea = *idea_of.entry(id).or_insert_with(|| {
                        ideas.push(together(engine, &requirements, id));
                        ideas.len() - 1
                    });
                    needs.push(idea);
                }
            }
            needs.sort_unstable();
            needs.dedup();
            let length = reading.units.len().saturating_sub(3);
            let discount = LENGTH_DISCOUNT.powi(i32::try_from(length).unwrap_or(8));
            words.push((needs, f64::from(4 - word.child_band().min(3)) * discount));
        }
        let mut out = Self {
            engine,
            use_of: vec![0.0; ideas.len()],
            words_of: vec![Vec::new(); ideas.len()],
            weight: words.iter().map(|(_, w)| *w).collect(),
            needs: words.iter().map(|(n, _)| u8::try_from(n.len()).unwrap_or(u8::MAX)).collect(),
            gaps: Vec::new(),
            openings: data::lines(data::OPENINGS).map(|(_, l)| l.trim()).collect(),
            ideas,
        };
        for (n, (needs, weight)) in words.iter().enumerate() {
            for idea in needs {
                out.words_of[*idea].push(n);
                out.use_of[*idea] += weight;
            }
        }
        out.gaps = (0..out.ideas.len()).map(|i| out.gaps_of(i)).collect();
        out
    }

    fn gaps_of(&self, idea: usize) -> Vec<(usize, u16)> {
        let gap = |a: &GpcId, b: &GpcId| {
            let found = self.engine.confusable().gap(self.engine.inventory(), *a, *b);
            found.map(|(gap, _)| gap)
        };
        (0..self.ideas.len())
            .filter(|other| *other != idea)
            .filter_map(|other| {
                let own = &self.ideas[idea];
                let pairs = own.iter().flat_map(|a| self.ideas[other].iter().map(move |b| gap(a, b)));
                pairs.flatten().max().map(|gap| (other, gap))
            })
            .collect()
    }

    fn start(&self) -> State {
        State { order: Vec::new(), missing: self.needs.clone(), potential: 0.0, readable: 0.0, total: 0.0 }
    }

    fn widen(&self, beam: &[State], step: usize, constraints: &Constraints, jitter: &[f64]) -> Vec<State> {
        let mut candidates: Vec<(f64, usize, usize)> = Vec::new();
        for (from, state) in beam.iter().enumerate() {
            let untaught = self.letters_untaught(state);
            let hurry = step + untaught.len() >= constraints.alphabet_by;
            let letters = |idea: &usize| untaught.contains(self.letter(*idea).unwrap_or(""));
            let open = (0..self.ideas.len())
                .filter(|i| hurry && letters(i) && self.allowed(state, *i, step, constraints));
            let hurried: Vec<usize> = open.collect();
            let all: Vec<usize> = (0..self.ideas.len()).collect();
            for idea in if hurried.is_empty() { all } else { hurried } {
                if self.allowed(state, idea, step, constraints) {
                    let (score, words) = self.score(state, idea, constraints.promise, step);
                    if step + 1 < constraints.words_by || words > 0.0 {
                        candidates.push((state.potential + score * jitter[idea], from, idea));
                    }
                }
            }
        }
        candidates.sort_by(|a, b| b.0.total_cmp(&a.0).then((a.1, a.2).cmp(&(b.1, b.2))));
        let mut seen: Set<Vec<usize>> = Set::default();
        let mut out = Vec::new();
        for (_, from, idea) in candidates {
            let next = self.take(&beam[from], idea, constraints.promise);
            let mut key = next.order.clone();
            key.sort_unstable();
            if seen.insert(key) {
                out.push(next);
            }
            if out.len() >= constraints.beam.max(1) {
                break;
            }
        }
        out
    }

    /// The letter an idea gives a sound to; none for longer graphemes other than qu.
    fn letter(&self, idea: usize) -> Option<&str> {
        let id = self.ideas[idea].first()?;
        let grapheme = self.engine.inventory().get(*id)?.gpc.grapheme().as_str();
        (grapheme.len() == 1 || grapheme == "qu").then(|| &grapheme[..1])
    }

    fn letters_untaught(&self, state: &State) -> BTreeSet<&str> {
        let mut all: BTreeSet<&str> = (0..self.ideas.len()).filter_map(|i| self.letter(i)).collect();
        for idea in &state.order {
            if let Some(letter) = self.letter(*idea) {
                all.remove(letter);
            }
        }
        all
    }

    fn allowed(&self, state: &State, idea: usize, step: usize, constraints: &Constraints) -> bool {
        let first = self.ideas[idea].first().and_then(|id| self.engine.inventory().get(*id));
        let Some(first) = first.filter(|c| c.keyword.is_some()) else {
            return false;
        };
        if state.order.contains(&idea) {
            return false;
        }
        let close = self.gaps[idea].iter().any(|(other, gap)| {
            let at = state.order.iter().position(|o| o == other);
            at.is_some_and(|at| step - at < usize::from(*gap))
        });
        let grapheme = first.gpc.grapheme();
        let early_pair =
            grapheme.letter_count() > 1 && grapheme.as_str() != "qu" && step < constraints.letters_first;
        let early_split = grapheme.is_split() && step < constraints.split_from;
        let barred = close || early_pair || early_split || step < 6 && self.opens_familiar(state, idea);
        !barred && self.commoner_sound_taught(state, idea)
    }

    /// The commonest sound of a spelling comes before its others.
    fn commoner_sound_taught(&self, state: &State, idea: usize) -> bool {
        let spelling = |i: usize| {
            let id = self.ideas[i].first()?;
            Some(self.engine.inventory().get(*id)?.gpc.grapheme().as_str())
        };
        (0..self.ideas.len()).all(|other| {
            other == idea
                || spelling(other) != spelling(idea)
                || self.use_of[other] <= self.use_of[idea]
                || state.order.contains(&other)
        })
    }

    fn opens_familiar(&self, state: &State, idea: usize) -> bool {
        let ideas = state.order.iter().chain([&idea]);
        let ids = ideas.filter_map(|i| self.ideas[*i].first().copied());
        familiar(self.engine, &self.openings, &ids.collect::<Vec<_>>())
    }

    /// What an idea adds, and the weight of words that can be read after it.
    fn score(&self, state: &State, idea: usize, promise: f64, step: usize) -> (f64, f64) {
        let mut now = 0.0;
        let mut gain = 0.0;
        for word in &self.words_of[idea] {
            let missing = i32::from(state.missing[*word]);
            let weight = self.weight[*word];
            gain += weight * (promise.powi(missing - 1) - promise.powi(missing));
            if missing == 1 {
                now += weight;
            }
        }
        let early = 0.15 * (state.total + now) / (step + 1) as f64;
        (gain + early, state.readable + now)
    }

    fn take(&self, state: &State, idea: usize, promise: f64) -> State {
        let mut next = state.clone();
        next.order.push(idea);
        for word in &self.words_of[idea] {
            let missing = i32::from(next.missing[*word]);
            let weight = self.weight[*word];
            next.potential += weight * (promise.powi(missing - 1) - promise.powi(missing));
            next.missing[*word] -= 1;
        }
        let readable = next.missing.iter().zip(&self.weight).filter(|(m, _)| **m == 0);
        next.readable = readable.map(|(_, w)| w).sum::<f64>();
        next.total += next.readable;
        next
    }

    fn finish(&self, best: State, constraints: &Constraints) -> Proposal {
        let mut missing = self.needs.clone();
        let mut words = Vec::new();
        for idea in &best.order {
            for word in &self.words_of[*idea] {
                missing[*word] -= 1;
            }
            words.push(missing.iter().filter(|m| **m == 0).count());
        }
        let steps = best.order.iter().map(|i| self.ideas[*i].clone()).collect();
        Proposal { sequence: Sequence::from_ids(steps), constraints: constraints.clone(), words }
    }
}

/// How often each correspondence stands in child words.
fn frequencies(engine: &Engine) -> Vec<u32> {
    let mut counts = vec![0u32; engine.inventory().len()];
    for word in engine.lexicon().iter().filter(|w| w.child_band() > 0) {
        for unit in word.readings().next().into_iter().flat_map(|r| r.units) {
            if let Some(count) = counts.get_mut(unit.id().index()) {
                *count += 1;
            }
        }
    }
    counts
}

/// The cheapest way to make a unit readable: the alternative whose rarest part is commonest.
fn chosen(engine: &Engine, requirements: &Requirements<'_>, frequency: &[u32], unit: Unit) -> Vec<GpcId> {
    let teachable = |id: &GpcId| {
        let item = engine.inventory().get(*id);
        u32::from(item.is_some_and(|c| c.keyword.is_some()))
    };
    requirements
        .alternatives(unit)
        .into_iter()
        .max_by_key(|a| {
            let rarest = a.iter().map(|id| frequency.get(id.index()).copied().unwrap_or(0)).min();
            (a.iter().map(teachable).min(), rarest)
        })
        .unwrap_or_default()
}

/// The teachable correspondences introduced with one, because the policy lets any stand for all.
fn together(engine: &Engine, requirements: &Requirements<'_>, id: GpcId) -> Vec<GpcId> {
    let mut out = vec![id];
    for (other, item) in engine.inventory().teachable() {
        let alternatives = requirements.alternatives(Unit::new(other));
        let same_spelling =
            engine.inventory().get(id).is_some_and(|c| c.gpc.grapheme() == item.gpc.grapheme());
        let doubled = item.gpc.grapheme().is_doubled_consonant();
        if other != id && (same_spelling || doubled) && alternatives.contains(&vec![id]) {
            out.push(other);
        }
    }
    out
}

/// Whether a sequence opens like an order in common use: four of its first six correspondences
/// have letters that stand together there. Checked for drafts too: an order is to be a school's own.
#[must_use]
pub fn opens_familiar(engine: &Engine, sequence: &Sequence) -> bool {
    let openings: Set<&'static str> = data::lines(data::OPENINGS).map(|(_, l)| l.trim()).collect();
    let first: Vec<GpcId> = sequence.taught(u16::MAX).take(6).collect();
    familiar(engine, &openings, &first)
}

fn familiar(engine: &Engine, openings: &Set<&'static str>, first: &[GpcId]) -> bool {
    let items = first.iter().filter_map(|id| engine.inventory().get(*id));
    let mut letters: Vec<&str> = items.map(|c| c.gpc.grapheme().as_str()).collect();
    letters.sort_unstable();
    letters.dedup();
    fours(&letters).iter().any(|four| openings.contains(hex(four).as_str()))
}

/// Every four of the letters, in alphabetical order.
fn fours(letters: &[&str]) -> Vec<String> {
    let mut out = vec![(String::new(), 0usize)];
    for letter in letters {
        let longer: Vec<(String, usize)> =
            out.iter().filter(|(_, n)| *n < 4).map(|(text, n)| (format!("{text}{letter}"), n + 1)).collect();
        out.extend(longer);
    }
    out.into_iter().filter(|(_, n)| *n == 4).map(|(text, _)| text).collect()
}

fn hex(four: &str) -> String {
    let digest = Sha256::digest(format!("opening:{four}").as_bytes());
    digest.iter().take(8).map(|b| format!("{b:02x}")).collect()
}
