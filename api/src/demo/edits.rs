//! How the demonstration's sequence came about: what the proposer makes of `proposal.json`, and
//! what we changed in it by hand, each change in `edits.json` with its reason. Only the test needs
//! this; the demonstration reads the sequence that came of it.

use plumbline_core::{
    phonics::{
        Engine,
        proposal::{Constraints, Search, exception_title},
    },
    sequence::{Draft, DraftItem, DraftLesson, DraftStep, ItemKind},
    text::Title,
};
use serde::Deserialize;

use super::Failure;

/// A change by hand. Steps are named by a correspondence they teach, as the engine writes it.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Edit {
    change: Change,
    /// Why, for a reader.
    reason: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
enum Change {
    /// Steps before everything that was proposed.
    Begin { steps: Vec<DraftStep> },
    /// Steps after it.
    End { steps: Vec<DraftStep> },
    /// A further lesson of a step, before its last one.
    Lesson { step: String, lesson: DraftLesson },
    /// Exception words taught at a step, and nowhere else.
    ExceptionWords { step: String, words: Vec<Title> },
}

/// The proposer's draft with our changes.
fn made() -> Result<Draft, Failure> {
    let constraints: Constraints = serde_json::from_str(include_str!("data/proposal.json"))?;
    let edits: Vec<Edit> = serde_json::from_str(include_str!("data/edits.json"))?;
    let engine = Engine::load()?;
    let search = Search::new(&engine, &constraints).map_err(|faults| format!("{faults:?}"))?;
    let proposal = search.run(|_| true).ok_or("the search stopped")?;
    if !proposal.figures.unmet.is_empty() {
        return Err(format!("not kept: {:?}", proposal.figures.unmet).into());
    }
    let mut draft = proposal.draft(&engine, 3)?;
    for edit in edits {
        if edit.reason.is_empty() {
            return Err("an edit has no reason".into());
        }
        edit.change.apply(&mut draft)?;
    }
    Ok(draft)
}

impl Change {
    fn apply(self, draft: &mut Draft) -> Result<(), Failure> {
        match self {
            Self::Begin { steps } => {
                draft.steps.splice(0..0, steps);
            }
            Self::End { steps } => draft.steps.extend(steps),
            Self::Lesson { step, lesson } => {
                let lessons = &mut step_of(draft, &step)?.lessons;
                lessons.insert(lessons.len().saturating_sub(1), lesson);
            }
            Self::ExceptionWords { step, words } => {
                for step in &mut draft.steps {
                    for lesson in &mut step.lessons {
                        lesson.items.retain(|item| !teaches_one_of(item, &words));
                    }
                    step.lessons.retain(|lesson| !lesson.items.is_empty());
                    step.lessons.iter_mut().try_for_each(name_after_words)?;
                }
                let lessons = &mut step_of(draft, &step)?.lessons;
                let taught = lessons.iter().position(|lesson| lesson.items.iter().any(is_exception));
                let at = taught.unwrap_or_else(|| {
                    let at = lessons.len().saturating_sub(1);
                    let title = words.first().cloned();
                    lessons.splice(at..at, title.map(|title| DraftLesson { id: None, title, items: vec![] }));
                    at
                });
                let item = |label| DraftItem {
                    id: None,
                    kind: ItemKind::ExceptionWord,
                    label: Some(label),
                    gpc: None,
                    keyword: None,
                };
                lessons[at].items.extend(words.into_iter().map(item));
                name_after_words(&mut lessons[at])?;
            }
        }
        Ok(())
    }
}

fn is_exception(item: &DraftItem) -> bool {
    item.kind == ItemKind::ExceptionWord
}

fn teaches_one_of(item: &DraftItem, words: &[Title]) -> bool {
    is_exception(item) && item.label.as_ref().is_some_and(|label| words.contains(label))
}

/// A lesson of exception words is called after them.
fn name_after_words(lesson: &mut DraftLesson) -> Result<(), Failure> {
    let labels = lesson.items.iter().filter(|item| is_exception(item)).filter_map(|item| item.label.as_ref());
    let words: Vec<String> = labels.map(Title::to_string).collect();
    if !words.is_empty() {
        lesson.title = Title::new(&exception_title(&words))?;
    }
    Ok(())
}

/// The step that teaches a correspondence.
fn step_of<'a>(draft: &'a mut Draft, gpc: &str) -> Result<&'a mut DraftStep, Failure> {
    let teaches = |step: &DraftStep| {
        let items = step.lessons.iter().flat_map(|lesson| &lesson.items);
        let mut pairs = items.filter_map(|item| item.gpc.as_ref());
        pairs.any(|pair| format!("{}:{}", pair.grapheme, pair.phoneme.replace(' ', ".")) == gpc)
    };
    Ok(draft.steps.iter_mut().find(|step| teaches(step)).ok_or_else(|| format!("no step teaches {gpc}"))?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sequence_is_what_the_proposer_makes_with_our_edits() {
        let data = crate::demo::data::Data::read().unwrap();
        let made = made().unwrap();
        let written = serde_json::to_string(&made).unwrap();
        assert!(
            data.sequence.draft == made,
            "review the change, then write these steps to api/src/demo/data/sequence.json:\n{written}"
        );
    }

    /// What a lead would look for: a few correspondences a step, and every statutory word either taught
    /// as a whole or readable by its parts.
    #[test]
    fn the_sequence_is_fit_to_teach_from() {
        use plumbline_core::phonics::{
            analysis::Limits, bank::Plan, policy::Policy, proposal::opens_familiar, sequence::Sequence,
            sequence::StepText,
        };
        let engine = Engine::load().unwrap();
        let draft = crate::demo::data::Data::read().unwrap().sequence.draft;
        let mut steps = vec![StepText::default(); draft.steps.len()];
        for (step, read) in draft.steps.iter().zip(&mut steps) {
            for item in step.lessons.iter().flat_map(|lesson| &lesson.items) {
                let pair = item.gpc.as_ref();
                read.gpcs.extend(pair.map(|pair| format!("{}:{}", pair.grapheme, pair.phoneme)));
                read.exception_words
                    .extend(item.label.iter().filter(|_| is_exception(item)).map(Title::to_string));
            }
            let doubled = read.gpcs.iter().all(|gpc| gpc.as_bytes()[0] == gpc.as_bytes()[1]);
            assert!(read.gpcs.len() <= 3 || doubled, "{}", step.title);
            assert!(read.exception_words.len() <= 2, "{}", step.title);
        }
        let sequence = Sequence::parse(&engine, &steps).unwrap();
        assert!(!opens_familiar(&engine, &sequence));
        let policy = Policy { n_before_k_taught: true, ..Policy::default() };
        let plan = Plan::new(&engine, sequence, policy);
        let analysis = plan.analysis(&engine, Limits::default());
        assert_eq!((analysis.too_close, analysis.never_taught), (vec![], vec![]));
        for listed in engine.statutory().exception_words() {
            let word = engine.lexicon().find(listed.word).unwrap();
            let whole = plan.sequence.exception_step(listed.word).is_some();
            assert!(whole || plan.reading.word(&word) <= plan.last_step(), "{}", listed.word);
        }
    }
}
