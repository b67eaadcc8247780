//! What a draft sequence does: words unlocked, thin steps, pairs too close, content never taught,
//! exception words before their parts, days needed.

use std::collections::BTreeSet;

use serde::Serialize;

use super::Engine;
use super::bank::{Audience, BankKind, Plan};
use super::confusable::Confusion;
use super::gpc::Gpc;
use super::statutory::Year;
use super::unlock::NEVER;

/// What counts as a fault, and the time there is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// A step with fewer new child words than this is thin.
    pub thin: usize,
    /// Teaching days a step takes.
    pub days_per_step: u32,
    /// After so many steps comes a day of review; 0 for none.
    pub review_every: u32,
    /// Teaching days there are, if known.
    pub days_available: Option<u32>,
}

impl Default for Limits {
    fn default() -> Self {
        Self { thin: 4, days_per_step: 1, review_every: 4, days_available: None }
    }
}

/// One step of a draft.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StepAnalysis {
    /// The step, from 1.
    pub step: u16,
    /// What it introduces.
    pub gpcs: Vec<Gpc>,
    /// Child words it unlocks.
    pub new_words: usize,
    /// Child words that can be read after it.
    pub total_words: usize,
    /// Up to nine of the new words, commonest for children first.
    pub examples: Vec<String>,
    /// Whether it introduces something and unlocks too few words.
    pub thin: bool,
}

/// Two correspondences taught closer than is good.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TooClose {
    /// The earlier.
    pub first: Gpc,
    /// The later.
    pub second: Gpc,
    /// Why they are confused.
    pub confusion: Confusion,
    /// Steps between them.
    pub gap: u16,
    /// Steps better kept.
    pub wanted: u16,
}

/// Statutory content of which something is never taught.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NeverTaught {
    /// The statutory year.
    pub year: Year,
    /// The content's short name.
    pub unit: &'static str,
    /// What it is about.
    pub title: &'static str,
    /// The correspondences missing.
    pub missing: Vec<Gpc>,
}

/// An exception word taught while regular parts of it are still to come, or after it can be
/// decoded anyway.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ExceptionFault {
    /// The word.
    pub word: String,
    /// The step that teaches it as a whole.
    pub step: u16,
    /// Correspondences of the word that the sequence teaches only later.
    pub later_parts: Vec<Gpc>,
    /// Whether every part was taught before: it need not be taught as an exception.
    pub needless: bool,
}

/// The whole analysis.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Analysis {
    /// Step by step.
    pub steps: Vec<StepAnalysis>,
    /// Pairs too close.
    pub too_close: Vec<TooClose>,
    /// Statutory content not taught.
    pub never_taught: Vec<NeverTaught>,
    /// Letters of the alphabet that stand in no correspondence taught.
    pub letters_never_taught: Vec<char>,
    /// Exception words at the wrong time.
    pub exception_faults: Vec<ExceptionFault>,
    /// Of all child words weighted by how well known they are, the part that can be read at the
    /// end, in per cent.
    pub child_coverage: f64,
    /// Teaching days the sequence takes, review days included.
    pub days_needed: u32,
    /// Days left over (negative: missing), when the days available are known.
    pub days_spare: Option<i64>,
}

impl Plan {
    /// Analyses the sequence.
    #[must_use]
    pub fn analysis(&self, engine: &Engine, limits: Limits) -> Analysis {
        let last = u32::from(self.last_step());
        let reviews = last.checked_div(limits.review_every).unwrap_or(0);
        let days_needed = last.saturating_mul(limits.days_per_step).saturating_add(reviews);
        Analysis {
            steps: self.step_analysis(engine, limits.thin),
            too_close: self.too_close(engine),
            never_taught: self.never_taught(engine),
            letters_never_taught: self.letters_never_taught(engine),
            exception_faults: self.exception_faults(engine),
            child_coverage: self.child_coverage(engine),
            days_needed,
            days_spare: limits.days_available.map(|d| i64::from(d) - i64::from(days_needed)),
        }
    }

    fn letters_never_taught(&self, engine: &Engine) -> Vec<char> {
        let ids = self.sequence.steps().iter().flat_map(|step| &step.gpcs);
        let items = ids.filter_map(|id| engine.inventory().get(*id));
        let taught: BTreeSet<char> = items.flat_map(|item| item.gpc.grapheme().letters().chars()).collect();
        ('a'..='z').filter(|letter| !taught.contains(letter)).collect()
    }

    fn step_analysis(&self, engine: &Engine, thin: usize) -> Vec<StepAnalysis> {
        let mut total = 0;
        (1..)
            .zip(self.sequence.steps())
            .map(|(step, taught)| {
                let new: Vec<&str> = self
                    .new_words(engine, step, BankKind::Read, Audience::Child)
                    .map(|w| w.shown())
                    .collect();
                total += new.len();
                StepAnalysis {
                    step,
                    gpcs: self.gpcs(engine, &taught.gpcs),
                    new_words: new.len(),
                    total_words: total,
                    examples: new.iter().take(9).map(|w| (*w).to_owned()).collect(),
                    thin: !taught.gpcs.is_empty() && new.len() < thin,
                }
            })
            .collect()
    }

    /// Pairs in steps closer than their gap. Two sounds of one spelling introduced in one step are
    /// meant to be taught together and not reported.
    #[must_use]
    pub fn too_close(&self, engine: &Engine) -> Vec<TooClose> {
        let all: Vec<_> = (1u16..)
            .zip(self.sequence.steps())
            .flat_map(|(step, s)| s.gpcs.iter().map(move |id| (step, *id)))
            .collect();
        let mut out = Vec::new();
        for (n, (at, a)) in all.iter().enumerate() {
            for (later, b) in all.iter().skip(n + 1) {
                let found = engine.confusable().gap(engine.inventory(), *a, *b);
                if let Some((wanted, confusion)) = found
                    && later - at < wanted
                    && !(later == at && confusion == Confusion::SameSpelling)
                    && let [first, second] = self.gpcs(engine, &[*a, *b]).as_slice()
                {
                    out.push(TooClose {
                        first: first.clone(),
                        second: second.clone(),
                        confusion,
                        gap: later - at,
                        wanted,
                    });
                }
            }
        }
        out
    }

    fn never_taught(&self, engine: &Engine) -> Vec<NeverTaught> {
        engine
            .statutory()
            .units()
            .iter()
            .filter_map(|unit| {
                let missing: Vec<_> = unit
                    .gpcs
                    .iter()
                    .copied()
                    .filter(|id| self.reading.unit(super::unit::Unit::new(*id)) == NEVER)
                    .collect();
                (!missing.is_empty()).then(|| NeverTaught {
                    year: unit.year,
                    unit: unit.id,
                    title: unit.title,
                    missing: self.gpcs(engine, &missing),
                })
            })
            .collect()
    }

    fn exception_faults(&self, engine: &Engine) -> Vec<ExceptionFault> {
        let mut out = Vec::new();
        for (step, taught) in (1..).zip(self.sequence.steps()) {
            for text in &taught.exception_words {
                let Some(word) = engine.lexicon().find(text) else {
                    continue;
                };
                let Some(reading) = self.reading.first_reading(&word) else {
                    continue;
                };
                let decodable = self.reading.reading(reading.units);
                let later = self.reading.lacking(engine, reading.units, step);
                let at_end = self.reading.lacking(engine, reading.units, self.last_step());
                let later_parts: Vec<Gpc> = later.into_iter().filter(|g| !at_end.contains(g)).collect();
                if decodable <= step || !later_parts.is_empty() {
                    out.push(ExceptionFault {
                        word: word.shown().to_owned(),
                        step,
                        later_parts,
                        needless: decodable <= step,
                    });
                }
            }
        }
        out
    }

    fn child_coverage(&self, engine: &Engine) -> f64 {
        let weight = |band: u8| f64::from(4 - band.clamp(1, 3));
        let (mut all, mut read) = (0.0, 0.0);
        for word in engine.lexicon().iter().filter(|w| w.child_band() > 0) {
            all += weight(word.child_band());
            if self.unlocks.step_of(word.id) != NEVER {
                read += weight(word.child_band());
            }
        }
        if all == 0.0 { 0.0 } else { (read * 1000.0 / all).round() / 10.0 }
    }

    fn gpcs(&self, engine: &Engine, ids: &[super::unit::GpcId]) -> Vec<Gpc> {
        ids.iter().filter_map(|id| engine.inventory().get(*id)).map(|c| c.gpc.clone()).collect()
    }
}
