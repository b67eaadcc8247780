//! The values of the estimate as a school's own checks have them, where there are enough.
//!
//! The most likely values by the answers and by what the rule pack expects of them (a normal distribution of their
//! log-odds round the pack's): a penalised likelihood, searched one value at a time in shrinking steps (Kolda, Lewis
//! and Torczon 2003, Optimization by direct search, SIAM Review 45), never beyond the pack's bounds. No chance is in it:
//! the same answers give the same values.

use super::estimate::{Estimator, History, Parameters, VALUES, bounds};
use crate::rules::EstimateRule;

/// Steps in log-odds, coarse to fine, and how often all values are gone through at each, at most.
const STEPS: [f64; 5] = [0.8, 0.4, 0.2, 0.1, 0.05];
const SWEEPS: usize = 12;

/// Values, and where they are from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fitted {
    /// The values.
    pub parameters: Parameters,
    /// Whether they were fitted to answers; otherwise they are the rule pack's.
    pub fitted: bool,
    /// The answers they were fitted to, or that were too few for it.
    pub answers: usize,
    /// And the pupils who gave them.
    pub pupils: usize,
}

impl Fitted {
    /// The rule pack's values, where so few pupils and answers are there.
    #[must_use]
    pub fn pack(rule: &EstimateRule, pupils: usize, answers: usize) -> Self {
        Self { parameters: Parameters::of(rule), fitted: false, answers, pupils }
    }
}

/// Whether so many pupils and answers are enough.
#[must_use]
pub const fn enough(rule: &EstimateRule, pupils: usize, answers: usize) -> bool {
    pupils >= rule.fit.pupils_least && answers >= rule.fit.answers_least
}

/// Fits the values to the histories of some pupils, each with those of its GPCs, without answers carried in. Where
/// they are too few the values are the rule pack's.
#[must_use]
pub fn fit(rule: &EstimateRule, pupils: &[Vec<History>]) -> Fitted {
    let of = |histories: &[History]| histories.iter().map(History::answers).sum::<usize>();
    let asked: Vec<(usize, &Vec<History>)> = pupils
        .iter()
        .map(|histories| (of(histories), histories))
        .filter(|(answers, _)| *answers > 0)
        .collect();
    let all: usize = asked.iter().map(|(answers, _)| answers).sum();
    if !enough(rule, asked.len(), all) {
        return Fitted::pack(rule, asked.len(), all);
    }
    let every = all.div_ceil(rule.fit.answers_most.max(1));
    let looked: Vec<(usize, &Vec<History>)> = asked.into_iter().step_by(every).collect();
    let histories: Vec<&History> =
        looked.iter().flat_map(|(_, histories)| *histories).filter(|history| history.answers() > 0).collect();
    let answers = looked.iter().map(|(answers, _)| answers).sum();
    let parameters = most_likely(rule, &histories);
    Fitted { parameters, fitted: true, answers, pupils: looked.len() }
}

fn most_likely(rule: &EstimateRule, histories: &[&History]) -> Parameters {
    let bounds = bounds(rule);
    let expected = bounds.map(|one| log_odds(one.value));
    let values = |at: &[f64; VALUES]| Parameters::from_values(at.map(part));
    let score = |at: &[f64; VALUES]| {
        let estimator = Estimator::new(values(at));
        let likely: f64 = histories.iter().map(|history| estimator.log_likelihood(history)).sum();
        let far = |(at, expected): (&f64, &f64)| ((at - expected) / rule.fit.spread).powi(2) / 2.0;
        likely - at.iter().zip(&expected).map(far).sum::<f64>()
    };
    let mut best = expected;
    let mut found = score(&best);
    for step in STEPS {
        for _ in 0..SWEEPS {
            let before = found;
            for n in 0..VALUES {
                for to in [best[n] + step, best[n] - step] {
                    let mut tried = best;
                    tried[n] = to.clamp(log_odds(bounds[n].least), log_odds(bounds[n].most));
                    let now = score(&tried);
                    if now > found {
                        (best, found) = (tried, now);
                        break;
                    }
                }
            }
            if found <= before {
                break;
            }
        }
    }
    values(&best)
}

fn log_odds(part: f64) -> f64 {
    (part / (1.0 - part)).ln()
}

fn part(log_odds: f64) -> f64 {
    1.0 / (1.0 + (-log_odds).exp())
}
