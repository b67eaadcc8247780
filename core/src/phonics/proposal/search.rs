//! The beam search.

use super::constraints::Constraints;
use super::figures;
use super::ideas::{Ideas, gap};
use super::opening::{OPENING, Openings};
use super::{Progress, Proposal};
use crate::phonics::{Engine, fixed::Set, rng::Rng, sequence::Sequence, unit::GpcId};
use crate::sequence::Fault;

/// Promised ideas are turned to so many steps before only they would fit, because the last of
/// them may have to keep apart.
const SLACK: usize = 8;
/// Where an idea that was not taught stands.
const NOWHERE: u16 = u16::MAX;

/// A search that can be run: constraints that contradict neither English nor each other.
pub struct Search<'a> {
    engine: &'a Engine,
    constraints: &'a Constraints,
    ideas: Ideas,
    /// For each idea, those it must not stand close to, with the gap.
    gaps: Vec<Vec<(usize, u16)>>,
    /// For each idea, those of its spelling that come before it.
    before: Vec<Vec<usize>>,
    /// By which step each idea is best taught.
    due: Vec<Option<usize>>,
    openings: Openings,
    /// Tells equally good ideas apart, by the seed.
    jitter: Vec<f64>,
}

/// A partial order.
#[derive(Clone)]
struct State {
    order: Vec<usize>,
    /// The step of each idea, from 0.
    at: Vec<u16>,
    /// Ideas each word still lacks.
    missing: Vec<u8>,
    potential: f64,
    /// Weight of the words that can be read.
    readable: f64,
    /// Sum of `readable` over the steps so far.
    total: f64,
}

impl<'a> Search<'a> {
    /// Checks the constraints and gets ready: some milliseconds.
    ///
    /// # Errors
    /// Every fault of the constraints, by its field.
    pub fn new(engine: &'a Engine, constraints: &'a Constraints) -> Result<Self, Vec<Fault>> {
        let ideas = constraints.ideas(engine)?;
        let mut rng = Rng::for_purpose(constraints.seed, "proposal");
        let all = 0..ideas.len();
        let before =
            |idea: usize| all.clone().filter(|other| ideas.comes_before(engine, *other, idea)).collect();
        Ok(Self {
            engine,
            constraints,
            gaps: all.clone().map(|idea| gaps(engine, &ideas, idea)).collect(),
            before: all.clone().map(before).collect(),
            due: ideas.due(engine),
            openings: Openings::load(),
            jitter: all.clone().map(|_| 1.0 + rng.below(1_000) as f64 / 50_000.0).collect(),
            ideas,
        })
    }

    /// Searches. Deterministic for its constraints. `progress` is told each partial order it goes
    /// on from, and stops the search by answering false: then there is no proposal.
    pub fn run(&self, mut progress: impl FnMut(Progress) -> bool) -> Option<Proposal> {
        let steps = self.constraints.steps;
        let mut beam = vec![self.start()];
        for step in 0..steps {
            let mut candidates = Vec::new();
            for (from, state) in beam.iter().enumerate() {
                let part = from as f64 / beam.len() as f64;
                let done = (step as f64 + part) / steps as f64;
                if !progress(Progress { done, step: step + 1, steps }) {
                    return None;
                }
                self.candidates(from, state, step, &mut candidates);
            }
            if candidates.is_empty() {
                break;
            }
            beam = self.widen(&beam, candidates);
        }
        let better =
            |a: &State, b: &State| self.broken(b).cmp(&self.broken(a)).then(a.total.total_cmp(&b.total));
        let best = beam.into_iter().max_by(better)?;
        Some(self.finish(&best))
    }

    fn start(&self) -> State {
        State {
            order: Vec::new(),
            at: vec![NOWHERE; self.ideas.len()],
            missing: self.ideas.needs.clone(),
            potential: 0.0,
            readable: 0.0,
            total: 0.0,
        }
    }

    /// What a partial order may go on with: the score, where from, and the idea.
    fn candidates(&self, from: usize, state: &State, step: usize, out: &mut Vec<(f64, usize, usize)>) {
        let ideas: Vec<usize> = match self.ideas.start.get(step) {
            Some(idea) => vec![*idea],
            None => {
                let pressing = self.pressing(state, step);
                let any = (0..self.ideas.len()).filter(|idea| self.allowed(state, *idea, step));
                if pressing.is_empty() { any.collect() } else { pressing }
            }
        };
        for idea in ideas {
            let (score, words) = self.score(state, idea, step);
            if step + 1 < self.constraints.words_by || words > 0.0 || step < self.ideas.start.len() {
                out.push((state.potential + score * self.jitter[idea], from, idea));
            }
        }
    }

    /// Ideas that are due, or would not all fit if anything else came now, and are allowed now.
    fn pressing(&self, state: &State, step: usize) -> Vec<usize> {
        let waiting = |idea: &usize| self.due[*idea].is_some() && state.at[*idea] == NOWHERE;
        let mut waiting: Vec<usize> = (0..self.ideas.len()).filter(waiting).collect();
        waiting.sort_by_key(|idea| self.due[*idea]);
        let tight = |n: &usize| self.due[waiting[*n]].is_some_and(|due| step + n + 1 + SLACK >= due);
        let Some(first) = (0..waiting.len()).find(tight) else { return Vec::new() };
        let by = self.due[waiting[first]];
        let pressing = waiting.into_iter().filter(|idea| self.due[*idea] <= by);
        pressing.filter(|idea| self.allowed(state, *idea, step)).collect()
    }

    /// The best of the candidates, no two with the same ideas taught.
    fn widen(&self, beam: &[State], mut candidates: Vec<(f64, usize, usize)>) -> Vec<State> {
        candidates.sort_by(|a, b| b.0.total_cmp(&a.0).then((a.1, a.2).cmp(&(b.1, b.2))));
        let mut seen: Set<Vec<usize>> = Set::default();
        let mut out = Vec::new();
        for (_, from, idea) in candidates {
            let state = &beam[from];
            let mut taught: Vec<usize> = state.order.iter().copied().chain([idea]).collect();
            taught.sort_unstable();
            if seen.insert(taught) {
                out.push(self.take(state, idea));
            }
            if out.len() >= self.constraints.beam {
                break;
            }
        }
        out
    }

    fn allowed(&self, state: &State, idea: usize, step: usize) -> bool {
        let taught = |idea: usize| state.at[idea] != NOWHERE;
        let close = |(other, gap): &(usize, u16)| {
            taught(*other) && step - usize::from(state.at[*other]) < usize::from(*gap)
        };
        let early = self.ideas.is_long(self.engine, idea) && step < self.constraints.letters_first
            || self.ideas.is_split(self.engine, idea) && step + 1 < self.constraints.split_from
            || self.ideas.is_year2(idea) && step + 1 < self.constraints.year2_from;
        let reserved = self.ideas.start[self.ideas.start.len().min(step)..].contains(&idea);
        self.ideas.teachable(self.engine, idea)
            && !self.ideas.left_out[idea]
            && !taught(idea)
            && !reserved
            && !early
            && !self.gaps[idea].iter().any(close)
            && self.before[idea].iter().all(|other| taught(*other))
            && !(step < OPENING && self.opens_familiar(state, idea))
    }

    fn opens_familiar(&self, state: &State, idea: usize) -> bool {
        let ideas = state.order.iter().chain([&idea]);
        let first: Vec<GpcId> = ideas.filter_map(|idea| self.ideas.first(*idea)).collect();
        self.openings.hold(self.engine, &first)
    }

    /// What an idea adds, and the weight of words that can be read after it.
    fn score(&self, state: &State, idea: usize, step: usize) -> (f64, f64) {
        let mut now = 0.0;
        let mut gain = 0.0;
        for word in &self.ideas.words_of[idea] {
            gain += self.gain(state, *word);
            if state.missing[*word] == 1 {
                now += self.ideas.weight[*word];
            }
        }
        let early = 0.15 * (state.total + now) / (step + 1) as f64;
        (gain + early, state.readable + now)
    }

    /// How much more a word counts with one idea fewer to learn.
    fn gain(&self, state: &State, word: usize) -> f64 {
        let missing = i32::from(state.missing[word]);
        let promise = self.constraints.promise;
        self.ideas.weight[word] * (promise.powi(missing - 1) - promise.powi(missing))
    }

    fn take(&self, state: &State, idea: usize) -> State {
        let mut next = state.clone();
        next.at[idea] = u16::try_from(next.order.len()).unwrap_or(NOWHERE - 1);
        next.order.push(idea);
        for word in &self.ideas.words_of[idea] {
            next.potential += self.gain(state, *word);
            next.missing[*word] -= 1;
        }
        let readable = next.missing.iter().zip(&self.ideas.weight).filter(|(missing, _)| **missing == 0);
        next.readable = readable.map(|(_, weight)| weight).sum::<f64>();
        next.total += next.readable;
        next
    }

    /// How many promises an order breaks.
    fn broken(&self, state: &State) -> usize {
        let late = |(at, by): (&u16, &Option<usize>)| by.is_some_and(|by| usize::from(*at) >= by);
        state.at.iter().zip(&self.ideas.by).filter(|pair| late(*pair)).count()
    }

    fn finish(&self, best: &State) -> Proposal {
        let steps = best.order.iter().map(|idea| self.ideas.gpcs(*idea).to_vec()).collect();
        let all: f64 = self.ideas.weight.iter().sum();
        let mean = best.total / (all * best.order.len().max(1) as f64);
        let late = (0..self.ideas.len())
            .filter(|idea| self.ideas.by[*idea].is_some_and(|by| usize::from(best.at[*idea]) >= by));
        let late = late.map(|idea| (self.ideas.shown(self.engine, idea), self.ideas.by[idea].unwrap_or(0)));
        figures::proposal(self.engine, self.constraints, Sequence::from_ids(steps), mean, late.collect())
    }
}

/// The ideas that one must not stand close to, each with the gap in steps.
fn gaps(engine: &Engine, ideas: &Ideas, idea: usize) -> Vec<(usize, u16)> {
    let others = (0..ideas.len()).filter(|other| *other != idea);
    others.filter_map(|other| Some((other, gap(engine, ideas.gpcs(idea), ideas.gpcs(other))?))).collect()
}
