//! A school's sequence as the engine sees it: from the content of a draft or version, or from
//! what one class was taught.

use std::collections::BTreeSet;

use super::{
    Engine,
    inventory::UnknownGpc,
    sequence::{Sequence, SequenceError, Step, StepText},
    unit::GpcId,
    word::Word,
};
use crate::{
    id::ItemId,
    sequence::{Content, Gpc, Item, ItemKind, Lesson},
};

/// A correspondence of a sequence that the engine does not know, with its place and suggestions.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unknown {
    /// Where, as in `steps[2].lessons[0].items[1].gpc`.
    pub field: String,
    /// What is wrong and what may have been meant.
    pub error: UnknownGpc,
}

/// A sequence made of the content's steps, and what of it the engine does not know. Unknown
/// correspondences are left out: no word needs them, so no word is unlocked by them.
///
/// # Errors
/// [`SequenceError`] where known correspondences make no sequence, such as one taught twice.
pub fn by_step(engine: &Engine, content: &Content) -> Result<(Sequence, Vec<Unknown>), SequenceError> {
    let mut unknown = Vec::new();
    let mut steps = vec![StepText::default(); content.steps.len()];
    for (place, _, lesson) in content.lessons() {
        for (n, item) in lesson.items.iter().enumerate() {
            match engine_text(engine, item) {
                Some(Ok(text)) => steps[place.step - 1].gpcs.push(text),
                Some(Err(error)) => unknown.push(Unknown {
                    field: format!("steps[{}].lessons[{}].items[{n}].gpc", place.step - 1, place.lesson - 1),
                    error,
                }),
                None if item.kind == ItemKind::ExceptionWord => {
                    steps[place.step - 1].exception_words.push(item.label.to_string());
                }
                None => {}
            }
        }
    }
    Ok((Sequence::parse(engine, &steps)?, unknown))
}

/// A sequence of one step a lesson, each correspondence at the first lesson that teaches it. What the engine does
/// not know is left out.
#[must_use]
pub fn by_lesson(engine: &Engine, content: &Content) -> Sequence {
    let step = |lesson: &Lesson| {
        let mut step = Step::default();
        for item in &lesson.items {
            match &item.gpc {
                Some(gpc) => step.gpcs.extend(find(engine, gpc).ok()),
                None if item.kind == ItemKind::ExceptionWord => {
                    step.exception_words.extend(Word::parse(item.label.as_str()).ok().map(|word| word.key()));
                }
                None => {}
            }
        }
        step
    };
    Sequence::of_steps(content.lessons().map(|(_, _, lesson)| step(lesson)).collect())
}

fn engine_text(engine: &Engine, item: &Item) -> Option<Result<String, UnknownGpc>> {
    let gpc = item.gpc.as_ref()?;
    let text = text_of(gpc);
    Some(engine.inventory().find(&text).map(|_| text))
}

/// A pair as the engine reads it.
fn text_of(gpc: &Gpc) -> String {
    format!("{}:{}", gpc.grapheme, gpc.phoneme)
}

/// The engine's id of a correspondence of a sequence.
///
/// # Errors
/// [`UnknownGpc`] with suggestions.
pub fn find(engine: &Engine, gpc: &Gpc) -> Result<GpcId, UnknownGpc> {
    engine.inventory().find(&text_of(gpc))
}

/// Two steps: all that was taught before, and what is new. Words of step 1 need nothing else;
/// step 2 adds the new. Items the engine does not know, and items of other kinds than
/// correspondence and exception word, are left out.
///
/// # Errors
/// [`SequenceError`], which known items rule out.
pub fn taught_and_new(
    engine: &Engine,
    content: &Content,
    taught: &BTreeSet<ItemId>,
    new: &[ItemId],
) -> Result<Sequence, SequenceError> {
    let mut steps = [StepText::default(), StepText::default()];
    let mut seen = BTreeSet::new();
    for item in content.items().filter(|item| seen.insert(item.id)) {
        let step = match (taught.contains(&item.id), new.contains(&item.id)) {
            (true, _) => &mut steps[0],
            (false, true) => &mut steps[1],
            (false, false) => continue,
        };
        match engine_text(engine, item) {
            Some(Ok(text)) => step.gpcs.push(text),
            None if item.kind == ItemKind::ExceptionWord => step.exception_words.push(item.label.to_string()),
            _ => {}
        }
    }
    Sequence::parse(engine, &steps)
}
