//! Checks built by the engine: for a place of a sequence, of what was taught up to there and nothing else, the same
//! items from the same recipe.
//!
//! **How forms are judged to be equally hard.** Before use, by what the engine knows of each item ([`Measure`]):
//! its graphemes, the places with two consonants side by side, its split digraphs, how well children know the word,
//! and how many lessons ago the last of its GPCs was taught. Forms are dealt a place at a time: the words of one
//! place are of one structure (the first three) wherever that many unused words are, as near as can be in the other
//! two, and given out so that the forms lie least apart in all five. The means of each form, and how far the two
//! furthest lie apart, go with the forms. That is likeness of words and no proof: after use the shares answered
//! right stand beside it, once enough answers do ([`FormUse`]), and no verdict is drawn from them here.
//!
//! Which GPCs: half of the places ask for what was taught last, the others for what came before, by the seed. No GPC
//! has a place twice before each has one once; words hold other GPCs beside. Forms share no word, but where fewer words
//! hold a GPC that is due than there are forms, and no GPC has a second form: a check of GPC recognition has the same in
//! another order. How many are shared goes with the forms.

mod deal;
mod measure;
mod source;
mod used;

use std::collections::BTreeSet;

pub use measure::{Means, Measure};
use serde::{Deserialize, Serialize};
pub use used::{FormUse, form_use};

use self::{
    deal::{Dealing, Slot},
    source::{Source, Words},
};
use super::{Asked, CheckKind};
use crate::{
    id::{ItemId, PseudoWordSetId, VersionId},
    phonics::{Engine, policy::Policy, pseudo::OfferedPseudoWord, rng::Rng},
    rules::{CheckRule, PracticeSection},
    sequence::{Content, Fault, Gpc, ItemKind, Lesson, Place},
};

/// What a check is built from. The same recipe builds the same items, as long as words and data are the same.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Recipe {
    /// What the check asks for.
    pub kind: CheckKind,
    /// The sequence version.
    pub sequence_version_id: VersionId,
    /// The step, counted from 1, of the last lesson that counts as taught.
    pub step: u16,
    /// That lesson within its step, counted from 1.
    pub lesson: u16,
    /// Items of a form.
    pub items: u16,
    /// How many forms were built together.
    pub forms: u8,
    /// Which of them, counted from 1.
    pub form: u8,
    /// The seed.
    pub seed: u32,
    /// The approved set that made-up words come from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pseudo_word_set_id: Option<PseudoWordSetId>,
    /// The version of the school's words and phonics choices it was built with.
    pub words_version: i64,
    /// The engine's data it was built with.
    pub engine_data: String,
}

impl Recipe {
    /// What cannot be built, as fields of the recipe.
    #[must_use]
    pub fn faults(&self, rule: &CheckRule) -> Vec<Fault> {
        let mut faults = Vec::new();
        let mut fault = |field: &str, message: String| faults.push(Fault { field: field.into(), message });
        if self.kind == CheckKind::Placement {
            fault("kind", "is made by a placement alone".into());
        }
        if self.kind != CheckKind::PracticeCheck && !(1..=rule.items_most).contains(&self.items) {
            fault("items", format!("must be 1 to {}", rule.items_most));
        }
        if !(1..=rule.forms_most).contains(&self.forms) {
            fault("forms", format!("must be 1 to {}", rule.forms_most));
        } else if !(1..=self.forms).contains(&self.form) {
            fault("form", format!("must be 1 to {}, the forms built", self.forms));
        }
        let made_up = matches!(self.kind, CheckKind::PseudoWordReading | CheckKind::PracticeCheck);
        match self.pseudo_word_set_id {
            Some(_) if !made_up => fault("pseudo_word_set_id", "is for made-up words only".into()),
            None if self.kind == CheckKind::PseudoWordReading => {
                fault("pseudo_word_set_id", "is required for reading pseudo-words".into());
            }
            _ => {}
        }
        faults
    }

    /// What forms that belong together have in common, whatever words and data each was built with.
    #[must_use]
    pub fn family(&self) -> Self {
        Self { form: 0, words_version: 0, engine_data: String::new(), ..self.clone() }
    }
}

/// What there is to build from.
#[derive(Clone, Copy, Debug)]
pub struct Ground<'a> {
    /// The engine with the school's words.
    pub engine: &'a Engine,
    /// The school's phonics choices.
    pub policy: Policy,
    /// The sequence version.
    pub content: &'a Content,
    /// The words of the approved set.
    pub pseudo: &'a [OfferedPseudoWord],
    /// The jurisdiction's rule.
    pub rule: &'a CheckRule,
    /// The sections of a practice check.
    pub sections: &'a [PracticeSection],
}

/// An item as built.
#[derive(Clone, Debug, PartialEq)]
pub struct BuiltItem {
    /// What is asked.
    pub prompt: String,
    /// The GPC it asks for alone, in a check of GPC recognition.
    pub gpc: Option<Gpc>,
    /// The GPC its word was chosen for.
    pub chosen_for: Option<Gpc>,
    /// What the engine knows of its words.
    pub asked: Asked,
    /// How hard it may be.
    pub measure: Measure,
    /// Its section, in a practice check.
    pub section: Option<u8>,
    /// Whether it is made up, in a practice check.
    pub pseudo: bool,
}

/// What could not be built.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Short {
    /// The section, in a practice check.
    pub section: Option<u8>,
    /// Whether made-up words are missing.
    pub pseudo: bool,
    /// Items missing in each form.
    pub missing: usize,
}

/// Forms as built.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Built {
    /// The items of each form.
    pub forms: Vec<Vec<BuiltItem>>,
    /// What is missing.
    pub short: Vec<Short>,
    /// Places at which several forms have one item.
    pub shared: usize,
    /// Recently taught GPCs that no word fit for the check holds.
    pub without_words: Vec<Gpc>,
}

/// The last lesson up to which everything was taught; none where the first is still to come.
#[must_use]
pub fn reached(content: &Content, taught: &BTreeSet<ItemId>) -> Option<Place> {
    let whole = |lesson: &Lesson| {
        lesson.items.iter().filter(|item| item.kind != ItemKind::Review).all(|item| taught.contains(&item.id))
    };
    content.lessons().take_while(|(_, _, lesson)| whole(lesson)).last().map(|(place, ..)| place)
}

/// How many lessons there are up to a place, with it; none where the version has no such place.
#[must_use]
pub fn lessons_up_to(content: &Content, step: u16, lesson: u16) -> Option<u16> {
    let place = Place { step: step.into(), lesson: lesson.into() };
    let at = content.lessons().position(|(known, ..)| known == place)?;
    u16::try_from(at + 1).ok()
}

/// Builds the forms of a recipe, all of them whichever it names. A place the version does not have builds nothing.
#[must_use]
pub fn build(ground: &Ground<'_>, recipe: &Recipe) -> Built {
    let Some(at) = lessons_up_to(ground.content, recipe.step, recipe.lesson) else { return Built::default() };
    let source = Source::new(ground, at, recipe);
    let forms = usize::from(recipe.forms.max(1));
    let items = usize::from(recipe.items);
    let mut building = Building { ground, source: &source, recipe, out: Built::default() };
    building.out.forms = vec![Vec::new(); forms];
    match recipe.kind {
        CheckKind::GpcRecognition => building.gpcs(items),
        CheckKind::SentenceReading => building.listed(source.sentences(items * forms), items),
        CheckKind::ExceptionWordReading => building.listed(source.exception_words(items * forms), items),
        CheckKind::PseudoWordReading => building.aimed(source.pseudo_words(), items, None, true),
        CheckKind::PracticeCheck => building.practice(),
        _ => building.aimed(source.words(items * forms), items, None, false),
    }
    building.out
}

struct Building<'a> {
    ground: &'a Ground<'a>,
    source: &'a Source<'a>,
    recipe: &'a Recipe,
    out: Built,
}

impl Building<'_> {
    fn forms(&self) -> usize {
        self.out.forms.len()
    }

    fn rng(&self, purpose: &str) -> Rng {
        Rng::for_purpose(self.recipe.seed.into(), purpose)
    }

    /// The GPCs themselves. They have no second form, so each form has all of them in another order.
    fn gpcs(&mut self, items: usize) {
        let gpcs: Vec<BuiltItem> = self
            .source
            .aims(items)
            .into_iter()
            .take(items)
            .filter_map(|aim| self.source.gpc_item(aim))
            .collect();
        self.lacking(items - gpcs.len(), None, false);
        if self.forms() > 1 {
            self.out.shared = gpcs.len();
        }
        let mut rng = self.rng("order");
        for form in &mut self.out.forms {
            let mut order = gpcs.clone();
            rng.shuffle(&mut order);
            *form = order;
        }
    }

    /// Words, each place for one of the GPCs.
    fn aimed(&mut self, words: Words, items: usize, section: Option<u8>, pseudo: bool) {
        let aims = self.source.aims(items);
        let held = |aim: &u32| words.candidates.iter().any(|word| word.holds.contains(aim));
        let (aims, without): (Vec<u32>, Vec<u32>) = aims.into_iter().partition(held);
        let recent = self.source.recent(items);
        let without = without.into_iter().filter(|aim| recent.contains(aim));
        self.out.without_words = without.filter_map(|aim| self.source.pair(aim)).collect();
        let slots = self.dealing(&words, "words").deal(&aims, items);
        self.add(&words, slots, items, section, pseudo);
    }

    /// What is there already, such as sentences: all of it is dealt.
    fn listed(&mut self, words: Words, items: usize) {
        let slots = self.dealing(&words, "list").deal_all(items);
        self.add(&words, slots, items, None, false);
    }

    /// The sections of the statutory check's shape: made-up words first, then real ones.
    fn practice(&mut self) {
        for (n, section) in self.ground.sections.iter().enumerate() {
            let aims = self.source.section_aims(n, &format!("section {}", section.number));
            for (pseudo, items) in [(true, section.pseudo_words), (false, section.real_words)] {
                let words = self.source.section_words(n, pseudo);
                let purpose = format!("section {} {pseudo}", section.number);
                let slots = self.dealing(&words, &purpose).deal(&aims, items);
                self.add(&words, slots, items, Some(section.number), pseudo);
            }
        }
    }

    fn dealing<'w>(&self, words: &'w Words, purpose: &str) -> Dealing<'w> {
        Dealing::new(&words.candidates, self.forms(), self.ground.rule.recent_lessons, self.rng(purpose))
    }

    fn add(&mut self, words: &Words, slots: Vec<Slot>, items: usize, section: Option<u8>, pseudo: bool) {
        self.lacking(items - slots.len(), section, pseudo);
        let in_practice = self.recipe.kind == CheckKind::PracticeCheck;
        for slot in slots {
            self.out.shared += usize::from(slot.is_shared());
            let chosen_for = slot.aim.filter(|_| !in_practice).and_then(|aim| self.source.pair(aim));
            for (form, word) in self.out.forms.iter_mut().zip(&slot.words) {
                let (Some(candidate), Some(asked)) = (words.candidates.get(*word), words.asked.get(*word))
                else {
                    continue;
                };
                form.push(BuiltItem {
                    prompt: candidate.text.clone(),
                    gpc: None,
                    chosen_for: chosen_for.clone(),
                    asked: asked.clone(),
                    measure: candidate.measure,
                    section,
                    pseudo: pseudo && in_practice,
                });
            }
        }
    }

    fn lacking(&mut self, missing: usize, section: Option<u8>, pseudo: bool) {
        if missing > 0 {
            self.out.short.push(Short { section, pseudo, missing });
        }
    }
}
