//! What goes into a lesson: review, new correspondences, words to read and spell, pseudo-words,
//! exception words, a sentence, letters to write. Everything from what is taught, the same for the
//! same seed: a seed made from group and date varies by day and not by refresh.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::Engine;
use super::bank::{Audience, BankKind, BankWord, Plan};
use super::gpc::Gpc;
use super::lexicon::{LexWord, WordId};
use super::pseudo::{PseudoRequest, PseudoWord};
use super::rng::Rng;
use super::sentence::Wanted;
use super::suffix;
use super::unit::GpcId;

/// What is known of one taught correspondence in a group. Days are teaching days, counted from
/// any fixed day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct History {
    /// The correspondence.
    pub gpc: GpcId,
    /// The day it was last taught or reviewed.
    pub last_day: u32,
    /// How often it was reviewed since it was taught.
    pub reviews: u32,
    /// The part of recent answers that were wrong, 0 to 1; 0 when nothing was checked.
    pub wrong: f32,
    /// The part of the group that missed it, 0 to 1.
    pub missed: f32,
}

/// How many of each part, and when review is due. A school's data; these are the defaults.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct LessonShape {
    /// Teaching days after which the first, second, third ... review is due; the last repeats.
    /// Spaced review helps (about 0.7 of a standard deviation over massed practice in published
    /// reviews); whether the gaps grow or stay even makes no known difference.
    pub intervals: Vec<u32>,
    /// Correspondences in the review set.
    pub review: usize,
    /// Words to read.
    pub read: usize,
    /// Words to spell.
    pub spell: usize,
    /// Pseudo-words.
    pub pseudo: usize,
    /// Exception words.
    pub exception: usize,
    /// Sentences.
    pub sentences: usize,
}

impl Default for LessonShape {
    fn default() -> Self {
        Self {
            intervals: vec![1, 3, 7, 14, 28],
            review: 8,
            read: 8,
            spell: 4,
            pseudo: 4,
            exception: 3,
            sentences: 1,
        }
    }
}

/// Why a correspondence is in the review set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ReviewReason {
    /// Often wrong in recent checks.
    OftenWrong,
    /// Missed by a good part of the group.
    Missed,
    /// Due by spacing.
    Due,
    /// Not due yet; fills the set.
    Fill,
}

/// One item of the review set.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReviewItem {
    /// The correspondence.
    pub gpc: Gpc,
    /// Why it is here.
    pub reason: ReviewReason,
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
    /// Suffixes taught today, without a hyphen: words that are a word with one of them come first.
    pub suffixes: Vec<String>,
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
        let focus: Vec<GpcId> =
            if new.is_empty() { review.iter().map(|(id, _)| *id).collect() } else { new.clone() };
        let held = Focus { gpcs: &focus, suffixes: &request.suffixes };
        let read = self.pick(engine, (step, BankKind::Read), held, request.seed, shape.read, &[]);
        let used: Vec<WordId> = read.iter().map(|w| w.id).collect();
        let spell = self.pick(engine, (step, BankKind::Spell), held, request.seed, shape.spell, &used);
        let wanted = Wanted { gpcs: &focus, words: taught_today.map_or(&[], |s| &s.exception_words) };
        let gpc = |id: &GpcId| engine.inventory().get(*id).map(|c| c.gpc.clone());
        let written = |words: Vec<LexWord<'_>>, kind| {
            words.iter().filter_map(|w| self.write(engine, w, kind)).collect()
        };
        Lesson {
            step,
            handwriting: handwriting(&new.iter().filter_map(gpc).collect::<Vec<_>>()),
            pseudo: self.lesson_pseudo(engine, step, &focus, request),
            exception: self.lesson_exceptions(engine, step, shape.exception, request.seed),
            sentences: self.sentences(engine, step, wanted, request.seed, shape.sentences),
            review: review
                .iter()
                .filter_map(|(id, reason)| Some(ReviewItem { gpc: gpc(id)?, reason: *reason }))
                .collect(),
            new: new.iter().filter_map(gpc).collect(),
            read: written(read, BankKind::Read),
            spell: written(spell, BankKind::Spell),
        }
    }

    /// The review set: what is due, often wrong or missed; what is easily confused with the new
    /// correspondence waits.
    #[must_use]
    pub fn review_set(
        &self,
        engine: &Engine,
        request: &LessonRequest,
        new: &[GpcId],
    ) -> Vec<(GpcId, ReviewReason)> {
        let mut rng = Rng::for_purpose(request.seed, "review");
        let mut scored: Vec<(f32, GpcId, ReviewReason)> = request
            .history
            .iter()
            .filter(|h| !new.contains(&h.gpc))
            .map(|h| {
                let (score, reason) = urgency(h, request);
                let confused =
                    new.iter().any(|n| engine.confusable().gap(engine.inventory(), h.gpc, *n).is_some());
                let score = if confused { score - 2.5 } else { score };
                (score + rng.below(100) as f32 / 10_000.0, h.gpc, reason)
            })
            .collect();
        scored.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        scored.truncate(request.shape.review);
        let mut out: Vec<(GpcId, ReviewReason)> = scored.into_iter().map(|(_, g, r)| (g, r)).collect();
        rng.shuffle(&mut out);
        out
    }

    /// Words of a bank, those of `focus` first (the ones not yet shown before the others), better
    /// known and shorter ones likelier; words that lean on tolerance for weak vowels last.
    pub(super) fn pick<'e>(
        &'e self,
        engine: &'e Engine,
        (step, kind): (u16, BankKind),
        focus: Focus<'_>,
        seed: u64,
        count: usize,
        without: &[WordId],
    ) -> Vec<LexWord<'e>> {
        let purpose = if kind == BankKind::Read { "read" } else { "spell" };
        let mut rng = Rng::for_purpose(seed, purpose);
        let weigh = |w: LexWord<'e>| {
            let length = w.readings().next().map_or(0, |r| r.units.len());
            let known = [1, 9, 5, 2][usize::from(w.child_band().min(3))];
            let short = 8u32.saturating_sub(u32::try_from(length).unwrap_or(8)).max(1);
            (w, known * short)
        };
        let without_weak = self.plain(engine);
        let mut groups: [Vec<LexWord<'e>>; 6] = Default::default();
        // Few words with an ending are among those children are sure to know.
        let audience = if focus.suffixes.is_empty() { Audience::Child } else { Audience::Common };
        for word in self.bank(engine, step, kind, audience).filter(|w| w.shown().len() > 1) {
            let reading = self.reading.first_reading(&word);
            let plain = reading.is_some_and(|r| without_weak.reading(r.units) <= step);
            let held = match focus.suffixes {
                [] => self.holds(engine, word.id, focus.gpcs),
                list => list.iter().any(|s| suffix::stem(engine.lexicon(), word.shown(), s).is_some()),
            };
            if !held && word.child_band() == 0 {
                continue;
            }
            let rank = match (held, without.contains(&word.id)) {
                (true, false) => 0,
                (true, true) => 1,
                (false, _) => 2,
            };
            if let Some(group) = groups.get_mut(if plain { rank } else { rank + 3 }) {
                group.push(word);
            }
        }
        let mut out: Vec<LexWord<'e>> = Vec::new();
        for group in groups {
            let more = count - out.len();
            out.extend(rng.sample(group.into_iter().map(weigh).collect(), more));
        }
        out
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
        out.truncate(count);
        out.iter().map(|w| engine.shown(w)).collect()
    }
}

/// What words should hold.
#[derive(Clone, Copy)]
pub(super) struct Focus<'a> {
    pub(super) gpcs: &'a [GpcId],
    pub(super) suffixes: &'a [String],
}

/// How much one correspondence needs review today, and the chief reason.
fn urgency(history: &History, request: &LessonRequest) -> (f32, ReviewReason) {
    let intervals = &request.shape.intervals;
    let at = (history.reviews as usize).min(intervals.len().saturating_sub(1));
    let interval = intervals.get(at).copied().unwrap_or(1).max(1) as f32;
    let waited = request.today.saturating_sub(history.last_day) as f32;
    let due = (waited / interval).min(3.0);
    let score = due + 2.0 * history.wrong + 1.5 * history.missed;
    let reason = if history.wrong >= 0.5 {
        ReviewReason::OftenWrong
    } else if history.missed >= 0.5 {
        ReviewReason::Missed
    } else if due >= 1.0 {
        ReviewReason::Due
    } else {
        ReviewReason::Fill
    };
    (score, reason)
}

/// Letters to write: the new graphemes, without repeats.
fn handwriting(new: &[Gpc]) -> Vec<String> {
    let set: BTreeSet<&str> = new.iter().map(|g| g.grapheme().as_str()).collect();
    set.into_iter().map(str::to_owned).collect()
}
