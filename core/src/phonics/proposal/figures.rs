//! What a proposal achieves, measured on the finished sequence.

use serde::{Deserialize, Serialize};

use super::constraints::Constraints;
use super::{Proposal, opens_familiar};
use crate::phonics::{
    Engine,
    analysis::{Analysis, Limits},
    bank::Plan,
    sequence::Sequence,
};
use crate::sequence::Fault;

/// What a proposal achieves.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = ProposalFigures))]
pub struct Figures {
    /// What the search makes as large as it can: of all child words, weighted by how well known and
    /// how short they are, the part that can be read, as a mean over the steps, in per cent.
    pub mean_readable_percent: f64,
    /// Child words that can be read after each step.
    pub words: Vec<usize>,
    /// Of all child words weighted by how well known they are, the part that can be read at the
    /// end, in per cent.
    pub child_words_percent: f64,
    /// The step after which the first word can be read.
    pub first_word_step: Option<u16>,
    /// The step after which every letter has a sound.
    pub alphabet_step: Option<u16>,
    /// Pairs easily confused that stand closer than is good.
    pub too_close: usize,
    /// Statutory content never taught, by its title.
    pub never_taught: Vec<String>,
    /// Statutory exception words placed.
    pub exception_words: usize,
    /// Statutory exception words that the order neither places nor ever makes decodable.
    pub exception_words_left: Vec<String>,
    /// Constraints that could not be kept, by field.
    pub unmet: Vec<Fault>,
}

/// Places exception words in an order found and measures it. `mean` is the part of the weight that
/// can be read, as a mean over the steps; `late` are promised ideas that missed their step.
pub(super) fn proposal(
    engine: &Engine,
    constraints: &Constraints,
    order: Sequence,
    mean: f64,
    late: Vec<(String, usize)>,
) -> Proposal {
    let policy = constraints.policy.unwrap_or_default();
    let plan = Plan::new(engine, order, policy);
    let sequence = plan.place_exception_words(engine, constraints.exception_words);
    let plan = Plan::new(engine, sequence, policy);
    let analysis = plan.analysis(engine, Limits::default());
    let statutory = engine.statutory().exception_words();
    let left = statutory.iter().map(|word| word.word).filter(|word| {
        let known = engine.lexicon().find(word);
        let decodable = known.is_some_and(|word| plan.reading.word(&word) <= plan.last_step());
        plan.sequence.exception_step(word).is_none() && !decodable
    });
    let figures = Figures {
        mean_readable_percent: (mean * 1000.0).round() / 10.0,
        words: analysis.steps.iter().map(|step| step.total_words).collect(),
        child_words_percent: analysis.child_coverage,
        first_word_step: first(&analysis, |step| step.total_words > 0),
        alphabet_step: alphabet_step(&analysis),
        too_close: analysis.too_close.len(),
        never_taught: analysis.never_taught.iter().map(|unit| unit.title.to_owned()).collect(),
        exception_words: plan.sequence.steps().iter().map(|step| step.exception_words.len()).sum(),
        exception_words_left: left.map(str::to_owned).collect(),
        unmet: unmet(engine, constraints, &plan.sequence, &analysis, late),
    };
    Proposal { sequence: plan.sequence, figures }
}

fn first(
    analysis: &Analysis,
    holds: impl Fn(&crate::phonics::analysis::StepAnalysis) -> bool,
) -> Option<u16> {
    analysis.steps.iter().find(|step| holds(step)).map(|step| step.step)
}

/// The step after which each of a to z has a sound, qu counting for q.
fn alphabet_step(analysis: &Analysis) -> Option<u16> {
    let step_of = |letter: char| {
        first(analysis, |step| {
            step.gpcs.iter().any(|gpc| {
                let spelling = gpc.grapheme().as_str();
                spelling.strip_prefix(letter).is_some_and(|rest| rest.is_empty() || spelling == "qu")
            })
        })
    };
    ('a'..='z').map(step_of).collect::<Option<Vec<u16>>>()?.into_iter().max()
}

fn unmet(
    engine: &Engine,
    constraints: &Constraints,
    sequence: &Sequence,
    analysis: &Analysis,
    late: Vec<(String, usize)>,
) -> Vec<Fault> {
    let mut out = Vec::new();
    let mut add = |field: &str, message: String| out.push(Fault { field: field.to_owned(), message });
    if sequence.len() < constraints.steps {
        add("steps", format!("no further idea fits after step {}", sequence.len()));
    }
    let word = first(analysis, |step| step.total_words > 0);
    if sequence.len() >= constraints.words_by
        && word.is_none_or(|step| usize::from(step) > constraints.words_by)
    {
        add("words_by", "no word can be read by then".to_owned());
    }
    if opens_familiar(engine, sequence) {
        add("start", "the order opens like one in common use".to_owned());
    }
    for (gpc, by) in late {
        let field = match by {
            by if by == constraints.alphabet_by => "alphabet_by",
            by if Some(by) == constraints.year1_by => "year1_by",
            by if Some(by) == constraints.year2_by => "year2_by",
            by if Some(by) == constraints.include_by => "include_by",
            _ => "include",
        };
        add(field, format!("{gpc} is not taught by step {by}"));
    }
    out
}
