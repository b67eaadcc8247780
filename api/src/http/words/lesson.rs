//! What a group's next lesson is made of: computed from what the group was taught, fresh each
//! day and the same at each look.

use std::collections::BTreeMap;

use plumbline_core::{
    calendar::Calendar,
    id::{GroupId, ItemId, PupilId},
    lesson::{Record, coverage, items_taught},
    phonics::{
        Engine,
        bank::{BankWord, Plan},
        lesson::{History, Lesson, LessonRequest, LessonShape, ReviewReason},
        version::{find, taught_and_new},
    },
    rules::LessonRule,
    sequence::{Content, ItemKind},
    time::Date,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::school::SchoolEngine;
use crate::{http::v1::words::VariantBody, store::Tally};

/// Why a correspondence is in the review set.
#[derive(Clone, Copy, Debug, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Why {
    /// Often wrong in recent checks.
    OftenWrong,
    /// Missed by a good part of the group.
    Missed,
    /// Due by spacing.
    Due,
    /// Not due yet; fills the set.
    Fill,
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
    /// Words to read, those with the new correspondence first.
    pub read: Vec<PlanWord>,
    /// Words to spell.
    pub spell: Vec<PlanWord>,
    /// Made-up words to read.
    pub pseudo_words: Vec<String>,
    /// Exception words: the new ones first.
    pub exception_words: Vec<String>,
    /// Sentences of taught words only.
    pub sentences: Vec<String>,
    /// Letters to practise writing.
    pub handwriting: Vec<String>,
}

/// What is known of the group.
pub struct GroupFacts<'a> {
    /// The group.
    pub group: GroupId,
    /// The version in force.
    pub content: &'a Content,
    /// The lesson the group started from.
    pub start: Option<plumbline_core::id::LessonId>,
    /// The group's records.
    pub records: &'a [Record],
    /// Members that day.
    pub members: &'a [PupilId],
    /// The school's calendar.
    pub calendar: &'a Calendar,
    /// The day of the lesson.
    pub on: Date,
    /// How the members answered lately, by correspondence.
    pub tallies: &'a BTreeMap<ItemId, Tally>,
    /// The rule pack's lesson.
    pub rule: &'a LessonRule,
}

/// Plans the words of a lesson whose new items are these.
pub fn lesson_words(words: &SchoolEngine, facts: &GroupFacts<'_>, new: &[ItemId]) -> Option<LessonWords> {
    let SchoolEngine { engine, policy } = words;
    let taught = items_taught(facts.content, facts.start, facts.records);
    let steps = taught_and_new(engine, facts.content, &taught, new)
        .inspect_err(|error| tracing::warn!(%error, "no words for a lesson"))
        .ok()?;
    let plan = Plan::new(engine, steps, *policy);
    let gaps = &facts.rule.review_gaps_days;
    let shape = LessonShape {
        // The engine counts from the day after; the day itself is the lesson.
        intervals: gaps.iter().copied().filter(|gap| *gap > 0).collect(),
        review: facts.rule.review_items_max,
        ..LessonShape::default()
    };
    let (today, history) = history(engine, facts, &taught);
    let (high, low) = facts.group.uuid().as_u64_pair();
    let day = facts.on.signed_duration_since(Date::default()).num_days().unsigned_abs();
    let seed = high ^ low.rotate_left(17) ^ day.wrapping_mul(0x9e37_79b9_7f4a_7c15);
    let suffixes = suffixes(facts.content, new);
    let lesson = plan.lesson(engine, &LessonRequest { step: 2, today, seed, history, shape, suffixes });
    Some(body(lesson))
}

/// The suffixes among new items, without a hyphen: "-ing" is one, "un-" is none.
fn suffixes(content: &Content, new: &[ItemId]) -> Vec<String> {
    let parts = content.items().filter(|item| item.kind == ItemKind::WordPart && new.contains(&item.id));
    parts.filter_map(|item| item.label.as_str().strip_prefix('-').map(str::to_lowercase)).collect()
}

#[allow(clippy::cast_precision_loss)]
fn part(some: usize, all: usize) -> f32 {
    some as f32 / all.max(1) as f32
}

/// When each correspondence was last taught, in teaching days, and how many of the members
/// missed it.
fn history(
    engine: &Engine,
    facts: &GroupFacts<'_>,
    taught: &std::collections::BTreeSet<ItemId>,
) -> (u32, Vec<History>) {
    let first = facts.records.iter().map(|record| record.on).min().unwrap_or(facts.on);
    let days = facts.calendar.teaching_days(first, facts.on);
    let day_of = |on: Date| u32::try_from(days.partition_point(|day| *day <= on)).unwrap_or(u32::MAX);
    let covered: Vec<BTreeMap<ItemId, _>> =
        facts.members.iter().map(|pupil| coverage(*pupil, facts.records.iter())).collect();
    let gpcs = facts.content.items().filter(|item| item.kind == ItemKind::Gpc && taught.contains(&item.id));
    let history = gpcs
        .filter_map(|item| {
            let gpc = find(engine, item.gpc.as_ref()?).ok()?;
            let on: Vec<Date> = facts
                .records
                .iter()
                .filter(|record| record.items.contains(&item.id))
                .map(|record| record.on)
                .collect();
            let missed =
                covered.iter().filter(|lines| lines.get(&item.id).is_some_and(|l| l.taught_on.is_none()));
            let (missed, members) = (missed.count(), facts.members.len());
            Some(History {
                gpc,
                last_day: on.iter().copied().max().map_or(0, day_of),
                reviews: u32::try_from(on.len().saturating_sub(1)).unwrap_or(0),
                wrong: facts.tallies.get(&item.id).map_or(0.0, |tally| part(tally.wrong, tally.asked)),
                missed: part(missed, members),
            })
        })
        .collect();
    (day_of(facts.on), history)
}

fn words(list: Vec<BankWord>) -> Vec<PlanWord> {
    list.into_iter().map(|word| PlanWord { word: word.word, reading: word.reading.into() }).collect()
}

fn body(lesson: Lesson) -> LessonWords {
    let why = |reason| match reason {
        ReviewReason::OftenWrong => Why::OftenWrong,
        ReviewReason::Missed => Why::Missed,
        ReviewReason::Due => Why::Due,
        ReviewReason::Fill => Why::Fill,
    };
    LessonWords {
        review: lesson
            .review
            .into_iter()
            .map(|item| ReviewBody { gpc: item.gpc.to_string(), why: why(item.reason) })
            .collect(),
        new: lesson.new.iter().map(ToString::to_string).collect(),
        read: words(lesson.read),
        spell: words(lesson.spell),
        pseudo_words: lesson.pseudo.into_iter().map(|word| word.word).collect(),
        exception_words: lesson.exception,
        sentences: lesson.sentences,
        handwriting: lesson.handwriting,
    }
}
