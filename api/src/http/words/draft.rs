//! What the engine sees in a draft.

use plumbline_core::{
    phonics::{
        Engine,
        analysis::{Analysis, Limits},
        bank::Plan,
        confusable::Confusion,
        version::{by_step, find},
    },
    sequence::Content,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::school::SchoolEngine;
use crate::http::problem::{FieldError, Problem};

/// One step, as far as words go.
#[derive(Serialize, ToSchema)]
pub struct StepWords {
    /// The step, counted from 1.
    pub step: u16,
    /// Correspondences it introduces.
    pub gpcs: Vec<String>,
    /// Words children know that it unlocks.
    pub new_words: usize,
    /// Words children know that can be read after it.
    pub total_words: usize,
    /// Some of the new words.
    pub examples: Vec<String>,
    /// Whether it introduces something and unlocks too few words.
    pub thin: bool,
}

/// Two correspondences taught closer than is good.
#[derive(Serialize, ToSchema)]
pub struct ClosePair {
    /// The earlier.
    pub first: String,
    /// The later.
    pub second: String,
    /// Why they are confused.
    pub why: String,
    /// Steps between them.
    pub gap: u16,
    /// Steps better kept.
    pub wanted: u16,
}

/// Statutory content of which something is never taught.
#[derive(Serialize, ToSchema)]
pub struct Untaught {
    /// What it is about.
    pub content: String,
    /// The correspondences missing.
    pub missing: Vec<String>,
}

/// An exception word at the wrong time.
#[derive(Serialize, ToSchema)]
pub struct ExceptionTiming {
    /// The word.
    pub word: String,
    /// The step that teaches it as a whole.
    pub step: u16,
    /// Correspondences of the word that come only later.
    pub later_parts: Vec<String>,
    /// Whether it can be decoded by then anyway.
    pub needless: bool,
}

/// What the engine sees in a draft. Advice: professional judgement decides.
#[derive(Serialize, ToSchema)]
pub struct PhonicsAnalysis {
    /// Step by step.
    pub steps: Vec<StepWords>,
    /// Pairs easily confused that stand close together.
    pub too_close: Vec<ClosePair>,
    /// Statutory content never taught.
    pub never_taught: Vec<Untaught>,
    /// Letters of the alphabet that stand in no correspondence taught.
    pub letters_never_taught: Vec<String>,
    /// Exception words before their parts, or after they need to be taught.
    pub exception_words: Vec<ExceptionTiming>,
    /// Of the words children know, weighted by how well known they are, the part that can be
    /// read at the end, in per cent.
    pub child_words_percent: f64,
}

/// Analyses a draft; none where a correspondence is taught twice.
pub fn phonics_analysis(words: &SchoolEngine, content: &Content) -> Option<PhonicsAnalysis> {
    let SchoolEngine { engine, policy } = words;
    let (steps, _) = by_step(engine, content).ok()?;
    let analysis = Plan::new(engine, steps, *policy).analysis(engine, Limits::default());
    Some(body(analysis))
}

fn body(analysis: Analysis) -> PhonicsAnalysis {
    let texts =
        |list: &[plumbline_core::phonics::gpc::Gpc]| list.iter().map(ToString::to_string).collect::<Vec<_>>();
    PhonicsAnalysis {
        steps: analysis
            .steps
            .into_iter()
            .map(|step| StepWords {
                step: step.step,
                gpcs: texts(&step.gpcs),
                new_words: step.new_words,
                total_words: step.total_words,
                examples: step.examples,
                thin: step.thin,
            })
            .collect(),
        too_close: analysis
            .too_close
            .into_iter()
            .map(|pair| ClosePair {
                first: pair.first.to_string(),
                second: pair.second.to_string(),
                why: why(pair.confusion).to_owned(),
                gap: pair.gap,
                wanted: pair.wanted,
            })
            .collect(),
        never_taught: analysis
            .never_taught
            .into_iter()
            .map(|unit| Untaught { content: unit.title.to_owned(), missing: texts(&unit.missing) })
            .collect(),
        letters_never_taught: analysis.letters_never_taught.iter().map(ToString::to_string).collect(),
        exception_words: analysis
            .exception_faults
            .into_iter()
            .map(|fault| ExceptionTiming {
                word: fault.word,
                step: fault.step,
                later_parts: texts(&fault.later_parts),
                needless: fault.needless,
            })
            .collect(),
        child_words_percent: analysis.child_coverage,
    }
}

const fn why(confusion: Confusion) -> &'static str {
    match confusion {
        Confusion::Shape => "the letters look alike",
        Confusion::Sound => "the sounds are alike",
        Confusion::SameSpelling => "one spelling with two sounds",
        Confusion::SameSound => "one sound with two spellings",
    }
}

/// Refuses correspondences that English does not have, with what may have been meant.
///
/// # Errors
/// Every unknown one, with its field.
pub fn known_gpcs(engine: &Engine, content: &Content) -> Result<(), Problem> {
    let mut unknown = Vec::new();
    for (place, _, lesson) in content.lessons() {
        for (n, item) in lesson.items.iter().enumerate() {
            if let Some(Err(error)) = item.gpc.as_ref().map(|gpc| find(engine, gpc)) {
                let field = format!("steps[{}].lessons[{}].items[{n}].gpc", place.step - 1, place.lesson - 1);
                unknown.push(FieldError { field, message: error.to_string() });
            }
        }
    }
    if unknown.is_empty() { Ok(()) } else { Err(Problem::fields(unknown)) }
}
