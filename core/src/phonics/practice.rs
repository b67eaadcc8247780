//! Practice for one pupil, from what this pupil was taught.

use std::collections::BTreeSet;

use super::Engine;
use super::bank::{Audience, BankKind, BankWord, Plan};
use super::focus::Focus;
use super::gpc::Gpc;
use super::lexicon::LexWord;
use super::policy::Policy;
use super::rng::Rng;
use super::sentence::Wanted;
use super::sequence::{Sequence, Step};
use super::unit::GpcId;

/// How many times the words still wanted there should be to choose from, so that another day has
/// other words.
const ROOM: usize = 4;
/// The step of what is secure and current, in the sequence that practice is planned on.
const SURE: u16 = 1;

crate::vocabulary! {
    /// What a word or sentence of practice leans on.
    pub enum Basis {
        /// Only on what checks show to be secure and what lessons taught last.
        Secure = "secure",
        /// Also on what was taught earlier: no check has shown it secure, and none has shown it
        /// not known. Exception words are among it.
        Taught = "taught",
    }
}

/// What a pupil can practise.
#[derive(Debug, Clone, Copy, Default)]
pub struct Practised<'a> {
    /// Correspondences that are secure.
    pub secure: &'a [GpcId],
    /// Those that lessons taught last.
    pub current: &'a [GpcId],
    /// Those taught earlier that no check has shown secure or not known, oldest first: they fill
    /// up where the others make too few words.
    pub taught: &'a [GpcId],
    /// Exception words taught.
    pub exception_words: &'a [String],
}

/// How much practice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sizes {
    /// Words to read.
    pub words: usize,
    /// Sentences to read.
    pub sentences: usize,
}

/// Practice for one pupil.
#[derive(Debug, Clone, PartialEq)]
pub struct Practice {
    /// Correspondences to say: current ones first, then secure ones, then those taught earlier.
    pub gpcs: Vec<Gpc>,
    /// Words to read; each holds a current correspondence where one can be found.
    pub words: Vec<(BankWord, Basis)>,
    /// Sentences of readable words only.
    pub sentences: Vec<(String, Basis)>,
}

/// Practice items from what a pupil has secure and what is current; where these make fewer words
/// or sentences than wanted, earlier taught correspondences fill up, oldest first. Nothing else is
/// needed to read them. Where children's own words are too few, common ones that need no review
/// fill up.
#[must_use]
pub fn practice(engine: &Engine, policy: Policy, from: Practised<'_>, seed: u64, sizes: Sizes) -> Practice {
    let count = sizes.words;
    let plan = Plan::new(engine, sequence(from), policy);
    let focus = Focus::on(from.current);
    let last = plan.last_step();
    let same = |a: &LexWord<'_>, b: &LexWord<'_>| a.id == b.id;
    let mut words = plan.pick(engine, (SURE, BankKind::Read), focus, seed, count, &[]);
    if words.len() < count {
        let roomy = ROOM * (count - words.len()) + words.len();
        let enough = |step: &u16| long(&plan, engine, *step, Audience::Child).nth(roomy - 1).is_some();
        let step = (SURE + 1..=last).find(enough).unwrap_or(last);
        let more = plan.pick(engine, (step, BankKind::Read), focus, seed, count + words.len(), &[]);
        add(&mut words, more, count, same);
    }
    for step in [SURE, last] {
        let common = long(&plan, engine, step, Audience::Common).map(|w| (w, 1)).collect();
        let more = Rng::for_purpose(seed, "common words").sample(common, count + words.len());
        add(&mut words, more, count, same);
    }
    let basis = |step: u16| if step == SURE { Basis::Secure } else { Basis::Taught };
    let wanted = Wanted { gpcs: from.current, words: &[], parts: &[] };
    let mut sentences = plan.sentences(engine, SURE, wanted, seed, sizes.sentences);
    let sure = sentences.len();
    if sure < sizes.sentences {
        let more = plan.sentences(engine, last, wanted, seed, sizes.sentences + sure);
        add(&mut sentences, more, sizes.sentences, |a, b| a == b);
    }
    let written = words.iter().filter_map(|w| plan.write(engine, w, BankKind::Read));
    Practice {
        gpcs: gpcs(engine, from, seed, count),
        words: written
            .map(|w| {
                let on = basis(w.step);
                (w, on)
            })
            .collect(),
        sentences: sentences
            .into_iter()
            .enumerate()
            .map(|(n, text)| (text, if n < sure { Basis::Secure } else { Basis::Taught }))
            .collect(),
    }
}

/// What is sure as the first step, the exception words as the second, then one taught
/// correspondence a step.
fn sequence(from: Practised<'_>) -> Sequence {
    let step = |gpcs: Vec<GpcId>| Step { gpcs, exception_words: Vec::new() };
    let lower = from.exception_words.iter().map(|w| w.to_lowercase());
    let sure = from.secure.iter().chain(from.current).copied().collect();
    let mut steps = vec![step(sure), Step { gpcs: Vec::new(), exception_words: lower.collect() }];
    steps.extend(from.taught.iter().map(|id| step(vec![*id])));
    Sequence::of_steps(steps)
}

/// Fills a list up from another, each once.
fn add<T>(have: &mut Vec<T>, more: Vec<T>, count: usize, same: impl Fn(&T, &T) -> bool) {
    for one in more {
        if have.len() < count && !have.iter().any(|h| same(h, &one)) {
            have.push(one);
        }
    }
}

/// Words of a bank of more than one letter.
fn long<'e>(
    plan: &'e Plan,
    engine: &'e Engine,
    step: u16,
    audience: Audience,
) -> impl Iterator<Item = LexWord<'e>> {
    plan.bank(engine, step, BankKind::Read, audience).filter(|w| w.shown().len() > 1)
}

/// Current correspondences, then secure ones, then those taught earlier, each once.
fn gpcs(engine: &Engine, from: Practised<'_>, seed: u64, count: usize) -> Vec<Gpc> {
    let mut secure = from.secure.to_vec();
    Rng::for_purpose(seed, "practice").shuffle(&mut secure);
    let mut seen = BTreeSet::new();
    let each = from.current.iter().chain(&secure).chain(from.taught).filter(|id| seen.insert(**id));
    let known = each.take(count.max(from.current.len())).filter_map(|id| engine.inventory().get(*id));
    known.map(|c| c.gpc.clone()).collect()
}
