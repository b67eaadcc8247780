//! A proposal as a draft: each step teaches its idea, then its exception words, then goes back over
//! what came before at widening distances.

use serde::{Deserialize, Serialize};

use super::{Figures, Proposal};
use crate::phonics::{Engine, gpc::Gpc as Pair, sequence::Step, unit::GpcId};
use crate::sequence::{Draft, DraftItem, DraftLesson, DraftStep, Gpc, ItemKind};
use crate::text::{TextError, Title};

/// How many steps back a step's last lesson reviews: itself, the one before, and two long ago.
const REVIEWED: [usize; 4] = [0, 1, 4, 11];

/// A proposal as a school takes it: a draft to edit and save, and what it achieves.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Proposed {
    /// The draft; save it with the operation that saves drafts.
    pub draft: Draft,
    /// What it achieves before anybody edits it.
    pub figures: Figures,
}

impl Proposal {
    /// The proposal as a school takes it; see [`Proposal::draft`].
    ///
    /// # Errors
    /// As [`Proposal::draft`].
    pub fn proposed(&self, engine: &Engine, per_lesson: usize) -> Result<Proposed, TextError> {
        Ok(Proposed { draft: self.draft(engine, per_lesson)?, figures: self.figures.clone() })
    }

    /// The proposal as a draft, which the draft operation takes as it is. A lesson holds at most
    /// `per_lesson` correspondences.
    ///
    /// # Errors
    /// [`TextError`] for a title that is none, which the inventory rules out.
    pub fn draft(&self, engine: &Engine, per_lesson: usize) -> Result<Draft, TextError> {
        let steps = self.sequence.steps();
        let titles: Vec<String> = steps.iter().map(|step| title(engine, step)).collect();
        let step = |(n, step): (usize, &Step)| {
            let mut lessons = gpc_lessons(engine, &step.gpcs, per_lesson)?;
            if !step.exception_words.is_empty() {
                lessons.push(exception_lesson(engine, &step.exception_words)?);
            }
            let back = REVIEWED.iter().filter_map(|back| titles.get(n.checked_sub(*back)?));
            let items = back.map(|title| item(ItemKind::Review, &format!("review of {title}")));
            let items = items.collect::<Result<_, _>>()?;
            lessons.push(lesson(&format!("Read and spell with {}", titles[n]), items)?);
            Ok(DraftStep { id: None, title: Title::new(&titles[n])?, lessons })
        };
        Ok(Draft { steps: steps.iter().enumerate().map(step).collect::<Result<_, TextError>>()? })
    }
}

fn pair(engine: &Engine, id: GpcId) -> Option<(&Pair, &str)> {
    engine.inventory().get(id).map(|item| (&item.gpc, item.keyword.unwrap_or_default()))
}

/// As shown: `a /æ/`.
fn label(gpc: &Pair) -> String {
    Gpc::from(gpc).label()
}

fn title(engine: &Engine, step: &Step) -> String {
    let labels: Vec<String> =
        step.gpcs.iter().filter_map(|id| pair(engine, *id)).map(|(gpc, _)| label(gpc)).collect();
    listed(&labels)
}

/// `a, b and c`.
fn listed(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

fn gpc_lessons(engine: &Engine, gpcs: &[GpcId], per_lesson: usize) -> Result<Vec<DraftLesson>, TextError> {
    let lesson_of = |ids: &[GpcId]| {
        let pairs: Vec<(&Pair, &str)> = ids.iter().filter_map(|id| pair(engine, *id)).collect();
        let names = pairs.iter().map(|(gpc, keyword)| format!("{} as in {keyword}", gpc.grapheme()));
        let name = listed(&names.collect::<Vec<_>>());
        let items = pairs.iter().map(|(gpc, keyword)| gpc_item(gpc, keyword)).collect::<Result<_, _>>()?;
        lesson(&name, items)
    };
    gpcs.chunks(per_lesson.max(1)).map(lesson_of).collect()
}

fn exception_lesson(engine: &Engine, words: &[String]) -> Result<DraftLesson, TextError> {
    let words: Vec<String> = words.iter().map(|word| engine.shown(word)).collect();
    let items = words.iter().map(|word| item(ItemKind::ExceptionWord, word)).collect::<Result<_, _>>()?;
    lesson(&exception_title(&words), items)
}

/// What a lesson of exception words is called.
#[must_use]
pub fn exception_title(words: &[String]) -> String {
    let name = if words.len() == 1 { "Exception word" } else { "Exception words" };
    format!("{name}: {}", listed(words))
}

fn lesson(title: &str, items: Vec<DraftItem>) -> Result<DraftLesson, TextError> {
    Ok(DraftLesson { id: None, title: Title::new(title)?, items })
}

fn item(kind: ItemKind, label: &str) -> Result<DraftItem, TextError> {
    Ok(DraftItem { id: None, kind, label: Some(Title::new(label)?), gpc: None, keyword: None })
}

fn gpc_item(gpc: &Pair, keyword: &str) -> Result<DraftItem, TextError> {
    let keyword = Some(Title::new(keyword)?);
    Ok(DraftItem { id: None, kind: ItemKind::Gpc, label: None, gpc: Some(Gpc::from(gpc)), keyword })
}
