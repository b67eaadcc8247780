//! What a lesson that teaches no new correspondence is about, read from its items' labels.

use std::collections::BTreeSet;

use super::Engine;
use super::unit::GpcId;
use super::version::find;
use super::word_part::WordPart;
use crate::sequence::{Content, Item, ItemKind, Step, label};

/// What a lesson is about.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Subject {
    /// The correspondences of its step.
    pub about: Vec<GpcId>,
    /// Those its items name.
    pub named: Vec<GpcId>,
    /// The kinds of words its items name. None where it is about correspondences; empty where it
    /// is about a kind of words whose label is not understood.
    pub parts: Option<Vec<WordPart>>,
}

impl Subject {
    /// What a lesson of a step is about that teaches these items.
    #[must_use]
    pub fn of(engine: &Engine, content: &Content, step: &Step, items: &[&Item]) -> Self {
        let own = step.lessons.iter().flat_map(|lesson| &lesson.items);
        let mut out = Self {
            about: own.filter_map(|item| find(engine, item.gpc.as_ref()?).ok()).collect(),
            ..Self::default()
        };
        let mut seen = BTreeSet::new();
        for item in items {
            let label = item.label.as_str();
            let gpcs = match item.kind {
                ItemKind::WordPart | ItemKind::SpellingRule | ItemKind::Review => {
                    named(engine, content, label)
                }
                _ => continue,
            };
            let parts = if gpcs.is_empty() { WordPart::parse(label) } else { Vec::new() };
            // Going back to something that is no kind of words is going back to what is due.
            if gpcs.is_empty() && (item.kind != ItemKind::Review || !parts.is_empty()) {
                out.parts.get_or_insert_default().extend(parts);
            }
            out.named.extend(gpcs.into_iter().filter(|gpc| seen.insert(*gpc)));
        }
        out
    }
}

/// The correspondences a label names: pairs written as in `review of ed /ɪ d/ and a_e /eɪ/`, and
/// those of a step whose title ends the label. Each once; what the engine does not know is left
/// out.
#[must_use]
fn named(engine: &Engine, content: &Content, label: &str) -> Vec<GpcId> {
    let known = |(grapheme, phonemes)| engine.inventory().find(&format!("{grapheme}:{phonemes}")).ok();
    let mut out: Vec<GpcId> = label::pairs(label).into_iter().filter_map(known).collect();
    if out.is_empty() {
        let steps = content.steps.iter().filter(|step| label::ends_with(label, step.title.as_str()));
        let items = steps.flat_map(|step| &step.lessons).flat_map(|lesson| &lesson.items);
        out.extend(items.filter_map(|item| find(engine, item.gpc.as_ref()?).ok()));
    }
    let mut seen = BTreeSet::new();
    out.retain(|gpc| seen.insert(*gpc));
    out
}
