//! What goes into a lesson: review, new correspondences, words to read and spell, pseudo-words,
//! exception words, a sentence, letters to write. Everything from what is taught, the same for the
//! same seed: a seed made from group and date varies by day and not by refresh.

use std::collections::BTreeSet;

use serde::Serialize;

use super::Engine;
use super::bank::{BankKind, BankWord, Plan};
use super::focus::Focus;
use super::gpc::Gpc;
use super::lexicon::{LexWord, WordId};
use super::pseudo::{PseudoRequest, PseudoWord};
use super::review::{History, ReviewItem};
use super::rng::Rng;
use super::sentence::Wanted;
use super::unit::GpcId;
use super::word_part::WordPart;
use crate::rules::{LessonRule, StruggledWeights};

/// How many of each part, and when review is due: [`LessonShape::of`] a rule pack. By default no
/// part has any.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct LessonShape {
    /// Teaching days after which the first, second, third ... review is due; the last repeats.
    /// Spaced review helps (about 0.7 of a standard deviation over massed practice in published
    /// reviews); whether the gaps grow or stay even makes no known difference.
    pub intervals: Vec<u32>,
    /// The part, 0 to 1, from which answers count as often wrong and a group as having missed
    /// something.
    pub often: f32,
    /// Correspondences in the review set.
    pub review: usize,
    /// Of these, places kept for what was often wrong or missed. Those that are due have the others,
    /// so that what a lesson went back to does not hang on answers.
    pub struggled: usize,
    /// How wrong answers and a missed lesson weigh against each other.
    pub weights: StruggledWeights,
    /// How many of its gaps what is easily confused with something new waits beyond what else is
    /// due.
    pub confusable_waits: f32,
    /// Words to read.
    pub read: usize,
    /// Words to spell.
    pub spell: usize,
    /// Pseudo-words.
    pub pseudo: usize,
    /// Exception words.
    pub exception: usize,
    /// Sentences, where no more exception words are new.
    pub sentences: usize,
}

impl LessonShape {
    /// What a school's rules say.
    #[must_use]
    pub fn of(rule: &LessonRule) -> Self {
        Self {
            // The engine counts from the day after; the day itself is the lesson.
            intervals: rule.review_gaps_days.iter().copied().filter(|gap| *gap > 0).collect(),
            often: f32::from(rule.often_percent) / 100.0,
            review: rule.review_items_max,
            struggled: rule.review_struggled_max,
            weights: rule.struggled_weights,
            confusable_waits: f32::from(rule.confusable_waits_percent) / 100.0,
            read: rule.read_words,
            spell: rule.spell_words,
            pseudo: rule.pseudo_words,
            exception: rule.exception_words,
            sentences: rule.sentences,
        }
    }
}

/// What to plan.
#[derive(Debug, Clone, Default)]
pub struct LessonRequest {
    /// The step taught today; what it introduces is new today.
    pub step: u16,
    /// Today, as a teaching day.
    pub today: u32,
    /// Group and date, made into a number.
    pub seed: u64,
    /// What was taught before today, with its history.
    pub history: Vec<History>,
    /// Sizes and intervals.
    pub shape: LessonShape,
    /// What a lesson without anything new is about, such as the correspondences of its own step.
    pub about: Vec<GpcId>,
    /// What else its items name.
    pub named: Vec<GpcId>,
    /// Kinds of words, where a lesson without anything new is about kinds: words of others are not
    /// shown then, and where there are none of these the lists are empty.
    pub parts: Option<Vec<WordPart>>,
}

/// A lesson's content.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Lesson {
    /// The step.
    pub step: u16,
    /// The review set, in the order to show it.
    pub review: Vec<ReviewItem>,
    /// What is new.
    pub new: Vec<Gpc>,
    /// Words to read, those with the new correspondence first.
    pub read: Vec<BankWord>,
    /// Words to spell.
    pub spell: Vec<BankWord>,
    /// Pseudo-words to read.
    pub pseudo: Vec<PseudoWord>,
    /// Exception words: new at this step first, then from the steps before.
    pub exception: Vec<String>,
    /// Sentences of taught words only.
    pub sentences: Vec<String>,
    /// Letters and letter groups to practise writing.
    pub handwriting: Vec<String>,
}

impl Plan {
    /// Plans a lesson. A step the sequence does not have gives an empty lesson.
    #[must_use]
    pub fn lesson(&self, engine: &Engine, request: &LessonRequest) -> Lesson {
        let step = request.step.min(self.last_step());
        let taught_today = usize::from(step).checked_sub(1).and_then(|at| self.sequence.steps().get(at));
        let new: Vec<GpcId> = taught_today.map(|s| s.gpcs.clone()).unwrap_or_default();
        let review = self.review_set(engine, request, &new);
        let shape = &request.shape;
        let taught = |list: &[GpcId]| -> Vec<GpcId> {
            let known = |id: &&GpcId| self.sequence.position(**id).is_some_and(|at| at <= step);
            list.iter().filter(known).copied().collect()
        };
        let (about, named) = (taught(&request.about), taught(&request.named));
        let due: Vec<GpcId> = review.iter().map(|(id, _)| *id).collect();
        let held = if new.is_empty() {
            Focus { gpcs: &about, also: &named, then: &due, parts: request.parts.as_deref() }
        } else {
            Focus::on(&new)
        };
        let focus = held.dearest().to_vec();
        let read = self.pick(engine, (step, BankKind::Read), held, request.seed, shape.read, &[]);
        let used: Vec<WordId> = read.iter().map(|w| w.id).collect();
        let spell = self.pick(engine, (step, BankKind::Spell), held, request.seed, shape.spell, &used);
        let new_words = taught_today.map_or(&[][..], |s| &s.exception_words);
        let parts = held.parts.unwrap_or_default();
        let wanted = Wanted { gpcs: &focus, words: new_words, parts };
        let sentences = shape.sentences.max(new_words.iter().filter(|w| !engine.is_struck(w)).count());
        let gpc = |id: &GpcId| engine.inventory().get(*id).map(|c| c.gpc.clone());
        let written = |words: Vec<LexWord<'_>>, kind| {
            let kind = |w: &LexWord<'_>| if self.spelling.word(w) <= step { kind } else { BankKind::Read };
            words.iter().filter_map(|w| self.write(engine, w, kind(w))).collect()
        };
        Lesson {
            step,
            handwriting: handwriting(&new.iter().filter_map(gpc).collect::<Vec<_>>()),
            pseudo: self.lesson_pseudo(engine, step, &focus, request),
            exception: self.lesson_exceptions(engine, step, shape.exception, request.seed),
            sentences: self.sentences(engine, step, wanted, request.seed, sentences),
            review: review
                .iter()
                .filter_map(|(id, reason)| Some(ReviewItem { gpc: gpc(id)?, reason: *reason }))
                .collect(),
            new: new.iter().filter_map(gpc).collect(),
            read: written(read, BankKind::Read),
            spell: written(spell, BankKind::Spell),
        }
    }

    fn lesson_pseudo(
        &self,
        engine: &Engine,
        step: u16,
        focus: &[GpcId],
        request: &LessonRequest,
    ) -> Vec<PseudoWord> {
        let mut wanted = PseudoRequest {
            count: request.shape.pseudo,
            seed: request.seed,
            holding: focus.iter().copied().collect(),
            ..PseudoRequest::default()
        };
        let mut made = self.pseudo_words(engine, step, &wanted).words;
        if made.len() < request.shape.pseudo {
            wanted.holding.clear();
            let others = self.pseudo_words(engine, step, &wanted).words;
            let fresh = others.into_iter().filter(|o| !made.iter().any(|m| m.word == o.word));
            let more: Vec<PseudoWord> = fresh.take(request.shape.pseudo - made.len()).collect();
            made.extend(more);
        }
        made
    }

    fn lesson_exceptions(&self, engine: &Engine, step: u16, count: usize, seed: u64) -> Vec<String> {
        let steps = self.sequence.steps();
        let words = |range: &[super::sequence::Step]| -> Vec<String> {
            range.iter().flat_map(|s| s.exception_words.clone()).collect()
        };
        let at = usize::from(step).min(steps.len());
        let mut out = words(&steps[at.saturating_sub(1)..at]);
        let mut before = words(&steps[..at.saturating_sub(1)]);
        Rng::for_purpose(seed, "exception words").shuffle(&mut before);
        out.extend(before);
        out.retain(|w| !engine.is_struck(w));
        out.truncate(count);
        out.iter().map(|w| engine.shown(w)).collect()
    }
}

/// Letters to write: the new graphemes, without repeats.
fn handwriting(new: &[Gpc]) -> Vec<String> {
    let set: BTreeSet<&str> = new.iter().map(|g| g.grapheme().as_str()).collect();
    set.into_iter().map(str::to_owned).collect()
}
