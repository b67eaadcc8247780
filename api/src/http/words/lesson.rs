//! What a group's next lesson is made of: computed from what the group was taught, fresh each
//! day and the same at each look.

use std::{
    collections::{BTreeMap, BTreeSet},
    sync::Arc,
};

use plumbline_core::{
    calendar::OwnCalendar,
    id::{GroupId, ItemId, PupilId},
    lesson::{CarriedIn, NextLesson, Record, coverage, items_taught},
    phonics::{
        Engine,
        bank::{BankWord, Plan},
        lesson::{Lesson, LessonRequest, LessonShape},
        review::{self, Given, History, ReviewReason},
        subject::Subject,
        unit::GpcId,
        version::{find, taught_and_new},
    },
    rules::RulePack,
    sequence::{Content, Item},
    time::Date,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::{daily_seed, school::SchoolEngine};
use crate::{
    http::v1::words::VariantBody,
    store::{SavedCarriedIn, SavedCatchUp, Tally},
};

/// Why a correspondence is in the review set.
#[derive(Clone, Copy, Debug, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Why {
    /// Often wrong in checks of the days before. Said to whoever may read the checks of the group's
    /// pupils, where at least as many pupils answered as the school's rules set for the smallest
    /// group shown; `due` to others.
    OftenWrong,
    /// Missed by a good part of the group.
    Missed,
    /// Taught in the last two lessons, or due by spacing.
    Due,
    /// Not due yet; fills the set.
    Fill,
}

/// Why a lesson has no words to read, or none to spell.
#[derive(Clone, Copy, Debug, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum NoWords {
    /// The lesson is about a kind of words, and nothing in its items' labels names one that is
    /// known here: a suffix (`-ing`), a prefix (`un-`), contractions, compound words, words of two
    /// syllables, adjacent consonants, or words listed after a colon (`homophones: see, sea`).
    KindUnknown,
    /// No word of the kind can be read, or spelt, yet with what was taught.
    NoneOfTheKind,
    /// What was taught makes no word yet.
    TooLittleTaught,
}

/// A correspondence to go back to.
#[derive(Serialize, ToSchema)]
pub struct ReviewBody {
    /// The correspondence.
    pub gpc: String,
    /// Why it is here.
    pub why: Why,
}

/// A word to read or spell.
#[derive(Serialize, ToSchema)]
pub struct PlanWord {
    /// The word.
    pub word: String,
    /// How it is read with what was taught.
    pub reading: VariantBody,
}

/// What a lesson can be made of. All of it needs only what was taught and what is new; the
/// teacher changes it at will.
#[derive(Serialize, ToSchema)]
pub struct LessonWords {
    /// Correspondences to go back to, in the order to show them.
    pub review: Vec<ReviewBody>,
    /// What is new.
    pub new: Vec<String>,
    /// Words to read, those with the new correspondence first. Where nothing is new, those with
    /// the correspondences of the lesson's own step, then those its items name, then those due.
    /// Where it is about a kind of words, such as those with a suffix, only words of that kind.
    pub read: Vec<PlanWord>,
    /// Why there are no words to read; null where there are some.
    pub no_words: Option<NoWords>,
    /// Words to spell: each correspondence was itself taught. In a lesson about an ending the ending
    /// may have a weak vowel, which is what the lesson teaches.
    pub spell: Vec<PlanWord>,
    /// Why there are no words to spell; null where there are some.
    pub no_spelling: Option<NoWords>,
    /// Made-up words to read.
    pub pseudo_words: Vec<String>,
    /// Exception words: the new ones first. None that the school struck off: a lesson's `items`
    /// still name one that the sequence teaches.
    pub exception_words: Vec<String>,
    /// Sentences of taught words only, one for each new exception word where it can be said.
    pub sentences: Vec<String>,
    /// Letters to practise writing.
    pub handwriting: Vec<String>,
}

/// What is known of the group.
pub struct GroupFacts {
    /// The group.
    pub group: GroupId,
    /// The version in force.
    pub content: Arc<Content>,
    /// What was carried in for the group.
    pub carried: Option<CarriedIn>,
    /// What was carried in for its members, in whatever group.
    pub pasts: Vec<SavedCarriedIn>,
    /// Catch-up up to that day of its members, in whatever group.
    pub catch_ups: Vec<SavedCatchUp>,
    /// The group's records up to that day.
    pub records: Vec<Record>,
    /// Members that day.
    pub members: Vec<PupilId>,
    /// The group's calendar.
    pub calendar: OwnCalendar,
    /// The day of the lesson.
    pub on: Date,
    /// How the members answered on the days before, by correspondence.
    pub tallies: BTreeMap<ItemId, Tally>,
    /// Whether the reader may know what checks of the members showed.
    pub reads_checks: bool,
    /// The school's rules.
    pub rules: &'static RulePack,
}

/// Plans the words of a lesson. `before` are items of lessons before it on the same day, which are taught by
/// then.
pub fn lesson_words(
    words: &SchoolEngine,
    facts: &GroupFacts,
    next: &NextLesson<'_>,
    before: &BTreeSet<ItemId>,
) -> Option<LessonWords> {
    let SchoolEngine { engine, policy } = words;
    let taught = items_taught(facts.carried.as_ref(), &facts.records);
    let by_then = &taught | before;
    let steps = taught_and_new(engine, &facts.content, &by_then, &next.remaining)
        .inspect_err(|error| tracing::warn!(%error, "no words for a lesson"))
        .ok()?;
    let plan = Plan::new(engine, steps, *policy);
    let shape = LessonShape::of(&facts.rules.lesson);
    let (today, history, shown) = history(engine, facts, &taught, &shape);
    let seed = daily_seed(facts.group.uuid(), facts.on);
    let remaining: Vec<&Item> = next.items().collect();
    let Subject { about, named, parts } = Subject::of(engine, &facts.content, next.step, &remaining);
    let request = LessonRequest { step: 2, today, seed, history, shape, about, named, parts };
    let lesson = plan.lesson(engine, &request);
    let reason = match &request.parts {
        Some(parts) if lesson.new.is_empty() && parts.is_empty() => NoWords::KindUnknown,
        Some(_) if lesson.new.is_empty() => NoWords::NoneOfTheKind,
        _ => NoWords::TooLittleTaught,
    };
    Some(body(lesson, reason, &shown))
}

#[allow(clippy::cast_precision_loss)]
fn part(some: usize, all: usize) -> f32 {
    some as f32 / all.max(1) as f32
}

/// Today as a teaching day; what is known of each correspondence; and the correspondences of which
/// the reader may know that they were often wrong.
fn history(
    engine: &Engine,
    facts: &GroupFacts,
    taught: &BTreeSet<ItemId>,
    shape: &LessonShape,
) -> (u32, Vec<History>, BTreeSet<String>) {
    let first = facts.records.iter().map(|record| record.on).min().unwrap_or(facts.on);
    let days = facts.calendar.teaching_days(first, facts.on);
    let day_of = |on: Date| u32::try_from(days.partition_point(|day| *day <= on)).unwrap_or(u32::MAX);
    let items: BTreeMap<ItemId, GpcId> = facts
        .content
        .items()
        .filter(|item| taught.contains(&item.id))
        .filter_map(|item| Some((item.id, find(engine, item.gpc.as_ref()?).ok()?)))
        .collect();
    let mut records: Vec<&Record> = facts.records.iter().filter(|r| !r.items.is_empty()).collect();
    records.sort_by_key(|record| (record.on, record.slot));
    let given: Vec<Given> = records
        .iter()
        .map(|record| Given {
            day: day_of(record.on),
            taught: record.items.iter().filter_map(|item| items.get(item).copied()).collect(),
        })
        .collect();
    let recorded: BTreeSet<GpcId> = given.iter().flat_map(|lesson| lesson.taught.iter().copied()).collect();
    let before: Vec<GpcId> = items.values().copied().filter(|gpc| !recorded.contains(gpc)).collect();
    let mut history = review::history(engine, &before, &given, shape);
    let of = |pupil: &PupilId| {
        let caught_up = facts.catch_ups.iter().map(|saved| &saved.catch_up);
        coverage(*pupil, facts.pasts.iter().map(|past| &past.carried), facts.records.iter(), caught_up)
    };
    let covered: Vec<BTreeMap<ItemId, _>> = facts.members.iter().map(of).collect();
    let item_of: BTreeMap<GpcId, ItemId> = items.iter().map(|(item, gpc)| (*gpc, *item)).collect();
    let mut shown = BTreeSet::new();
    for one in &mut history {
        let Some(item) = item_of.get(&one.gpc) else { continue };
        let missed = covered.iter().filter(|lines| lines.get(item).is_some_and(|l| l.taught_on.is_none()));
        one.missed = part(missed.count(), facts.members.len());
        let tally = facts.tallies.get(item).copied().unwrap_or_default();
        one.wrong = part(tally.wrong, tally.asked);
        if facts.reads_checks && tally.pupils >= facts.rules.disclosure.closed.minimum_group {
            shown.extend(engine.inventory().get(one.gpc).map(|found| found.gpc.to_string()));
        }
    }
    (day_of(facts.on), history, shown)
}

fn words(list: Vec<BankWord>) -> Vec<PlanWord> {
    list.into_iter().map(|word| PlanWord { word: word.word, reading: word.reading.into() }).collect()
}

fn body(lesson: Lesson, reason: NoWords, shown: &BTreeSet<String>) -> LessonWords {
    let why = |gpc: &str, reason| match reason {
        ReviewReason::OftenWrong if shown.contains(gpc) => Why::OftenWrong,
        ReviewReason::OftenWrong | ReviewReason::Due => Why::Due,
        ReviewReason::Missed => Why::Missed,
        ReviewReason::Fill => Why::Fill,
    };
    let review = |gpc: String, reason| ReviewBody { why: why(&gpc, reason), gpc };
    LessonWords {
        review: lesson.review.into_iter().map(|item| review(item.gpc.to_string(), item.reason)).collect(),
        no_words: lesson.read.is_empty().then_some(reason),
        no_spelling: lesson.spell.is_empty().then_some(reason),
        new: lesson.new.iter().map(ToString::to_string).collect(),
        read: words(lesson.read),
        spell: words(lesson.spell),
        pseudo_words: lesson.pseudo.into_iter().map(|word| word.word).collect(),
        exception_words: lesson.exception,
        sentences: lesson.sentences,
        handwriting: lesson.handwriting,
    }
}
