//! The content of a draft or version, with every id settled.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use unicode_normalization::UnicodeNormalization as _;
use uuid::Uuid;

use crate::{
    id::{ItemId, LessonId, StepId},
    text::Title,
};

/// Namespace of item ids that follow from a GPC's pair.
const GPC_NAMESPACE: Uuid = Uuid::from_u128(0x5f0c_6f5a_3b1e_5d7c_9a42_71d0_c8e3_4b16);

crate::vocabulary! {
    /// What an item is.
    pub enum ItemKind {
        /// A grapheme-phoneme correspondence.
        Gpc = "gpc",
        /// A word whose spelling holds a correspondence not yet taught.
        ExceptionWord = "exception_word",
        /// A suffix, prefix, contraction or other part of a word.
        WordPart = "word_part",
        /// A spelling rule, homophones among them.
        SpellingRule = "spelling_rule",
        /// Hearing, blending or segmenting sounds without letters.
        OralSkill = "oral_skill",
        /// Going back over what was taught.
        Review = "review",
    }
}

/// A grapheme-phoneme correspondence. Its identity is this pair and nothing else.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Gpc {
    /// The letters; a split digraph with its gap, as `a_e`.
    pub grapheme: String,
    /// The sound, in the International Phonetic Alphabet without slashes.
    pub phoneme: String,
}

impl Gpc {
    /// The pair in its one spelling, trimmed and composed, with what is wrong with it by
    /// field: two spellings of one pair must never become two ids.
    pub fn settled(&self) -> (Self, Vec<(&'static str, &'static str)>) {
        let one = |text: &str| text.trim().nfc().collect::<String>();
        let typed = Self { grapheme: one(&self.grapheme), phoneme: one(&self.phoneme) };
        let mut faults = Vec::new();
        if !is_grapheme(&typed.grapheme) {
            faults.push((
                "grapheme",
                "must be 1 to 6 lower-case letters, a split digraph with one gap as in a_e",
            ));
        }
        if !is_phoneme(&typed.phoneme) {
            faults.push((
                "phoneme",
                "must be 1 to 8 letters of the International Phonetic Alphabet, no slashes",
            ));
        }
        let gpc = if faults.is_empty() { typed.canonical() } else { None };
        (gpc.unwrap_or(typed), faults)
    }

    /// The pair as the engine spells it: script g for the open one, affricates as two letters,
    /// phonemes apart. None for what the engine cannot read.
    fn canonical(&self) -> Option<Self> {
        let read: crate::phonics::gpc::Gpc = format!("{}:{}", self.grapheme, self.phoneme).parse().ok()?;
        Some(Self::from(&read))
    }

    /// The id that follows from the pair, the same in every school and sequence.
    pub fn id(&self) -> ItemId {
        ItemId::from_parts(GPC_NAMESPACE, &["gpc", &self.grapheme, &self.phoneme])
    }

    /// As written on a page: `ai /eɪ/`.
    pub fn label(&self) -> String {
        format!("{} /{}/", self.grapheme, self.phoneme)
    }
}

impl From<&crate::phonics::gpc::Gpc> for Gpc {
    fn from(read: &crate::phonics::gpc::Gpc) -> Self {
        let symbols: Vec<&str> = read.phonemes().iter().map(|phoneme| phoneme.symbol()).collect();
        Self { grapheme: read.grapheme().to_string(), phoneme: symbols.join(" ") }
    }
}

/// Something a lesson teaches. The id stays when the label is corrected.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Item {
    /// Stable across drafts and versions; a GPC's follows from its pair.
    pub id: ItemId,
    /// What it is.
    pub kind: ItemKind,
    /// As shown: the word, the part, the rule, or the GPC as `ai /eɪ/`.
    pub label: Title,
    /// The pair, for a GPC.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gpc: Option<Gpc>,
    /// A word to remember the GPC by, such as `rain`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keyword: Option<Title>,
}

/// A planned lesson.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Lesson {
    /// Stable across drafts and versions.
    pub id: LessonId,
    /// As shown.
    pub title: Title,
    /// What it teaches, in order.
    pub items: Vec<Item>,
}

/// A step: a few lessons that belong together.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Step {
    /// Stable across drafts and versions.
    pub id: StepId,
    /// As shown.
    pub title: Title,
    /// The lessons, in order.
    pub lessons: Vec<Lesson>,
}

/// All steps of a draft or version.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Content {
    /// The steps, in order.
    pub steps: Vec<Step>,
}

/// Where a lesson stands in a version. A place is not an identity: it differs between versions.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Place {
    /// The step, counted from 1.
    pub step: usize,
    /// The lesson within the step, counted from 1.
    pub lesson: usize,
}

impl Content {
    /// Every lesson with its place, in teaching order.
    pub fn lessons(&self) -> impl Iterator<Item = (Place, &Step, &Lesson)> {
        self.steps.iter().enumerate().flat_map(|(s, step)| {
            step.lessons
                .iter()
                .enumerate()
                .map(move |(l, lesson)| (Place { step: s + 1, lesson: l + 1 }, step, lesson))
        })
    }

    /// The lesson with this id.
    pub fn lesson(&self, id: LessonId) -> Option<(Place, &Step, &Lesson)> {
        self.lessons().find(|(_, _, lesson)| lesson.id == id)
    }

    /// The first lesson of the step counted from 1.
    pub fn first_lesson_of(&self, step: usize) -> Option<&Lesson> {
        self.steps.get(step.checked_sub(1)?)?.lessons.first()
    }

    /// Every item in teaching order; reviews included.
    pub fn items(&self) -> impl Iterator<Item = &Item> {
        self.lessons().flat_map(|(_, _, lesson)| &lesson.items)
    }

    /// The items by id.
    pub fn items_by_id(&self) -> BTreeMap<ItemId, &Item> {
        self.items().map(|item| (item.id, item)).collect()
    }
}

/// 1 to 6 lower-case letters with at most one gap, which stands between letters.
fn is_grapheme(text: &str) -> bool {
    let letters = text.chars().filter(|c| *c != '_').count();
    let gaps = text.chars().count() - letters;
    (1..=6).contains(&letters)
        && gaps <= 1
        && !text.starts_with('_')
        && !text.ends_with('_')
        && text.chars().all(|c| c == '_' || (c.is_alphabetic() && c.is_lowercase()))
}

/// IPA letters and length or stress marks, or a space or dot between phonemes; checked for form only.
fn is_phoneme(text: &str) -> bool {
    let count = text.chars().count();
    (1..=8).contains(&count)
        && text
            .chars()
            .all(|c| c.is_alphabetic() || matches!(c, 'ː' | 'ˈ' | 'ˌ' | ' ' | '.' | '\u{300}'..='\u{36f}'))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gpc_is_its_pair() {
        let pair = |g: &str, p: &str| Gpc { grapheme: g.into(), phoneme: p.into() };
        assert_eq!(pair("ow", "aʊ").id(), pair("ow", "aʊ").id());
        assert_ne!(pair("ow", "aʊ").id(), pair("ow", "əʊ").id());
        assert_ne!(pair("a", "bc").id(), pair("ab", "c").id());
        assert_eq!(pair("a_e", "eɪ").label(), "a_e /eɪ/");
    }

    #[test]
    fn two_spellings_of_one_pair_are_one() {
        let id = |g: &str, p: &str| Gpc { grapheme: g.into(), phoneme: p.into() }.settled().0.id();
        assert_eq!(id("g", "g"), id(" g", "\u{261}"));
        assert_eq!(id("ch", "tʃ"), id("ch", "ʧ"));
        assert_eq!(id("x", "ks"), id("x", "k s"));
        assert_eq!(id("x", "k.s"), id("x", "k s"));
        assert_ne!(id("x", "k s"), id("x", "g z"));
    }

    #[test]
    fn gpc_ids_never_change() {
        // Stored in every school's records: a new value here would orphan them.
        let id = Gpc { grapheme: "igh".into(), phoneme: "aɪ".into() }.id();
        assert_eq!(id.to_string(), GPC_IGH);
    }

    const GPC_IGH: &str = "c090554b-55fd-56e2-92da-2bfe29aa5983";
}
