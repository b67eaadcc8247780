//! What a lesson goes back to, and when: each correspondence comes back at growing gaps after it
//! was taught, sooner where it was answered wrongly or missed.

use std::collections::BTreeMap;

use serde::Serialize;

use super::Engine;
use super::bank::Plan;
use super::gpc::Gpc;
use super::lesson::{LessonRequest, LessonShape};
use super::rng::Rng;
use super::unit::GpcId;

/// What is known of one taught correspondence in a group. Days are teaching days, counted from
/// any fixed day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct History {
    /// The correspondence.
    pub gpc: GpcId,
    /// The day it was last taught, or came back because it was due.
    pub last_day: u32,
    /// How often it came back since it was taught.
    pub reviews: u32,
    /// Taught in the last lesson or the one before.
    pub recent: bool,
    /// The part of recent answers that were wrong, 0 to 1; 0 when nothing was checked.
    pub wrong: f32,
    /// The part of the group that missed it, 0 to 1.
    pub missed: f32,
}

/// One lesson that was given.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Given {
    /// The teaching day.
    pub day: u32,
    /// What it taught, new or again.
    pub taught: Vec<GpcId>,
}

/// Why a correspondence is in the review set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ReviewReason {
    /// Often wrong in recent checks.
    OftenWrong,
    /// Missed by a good part of the group.
    Missed,
    /// Taught in the last two lessons, or due by spacing.
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

/// How often each correspondence came back, and when last, worked out from the lessons given, in
/// order: a lesson goes back to what was due on its day, as much as has a place, so that what
/// found none stays due. Answers have places of their own ([`LessonShape::struggled`]), so this is
/// what the lessons really held, whatever was answered when; what was shown in a place of theirs
/// counts as not shown. What was taught `before` the first lesson counts as past all gaps since
/// day 0. Teaching it again starts over. In the order of `before`, then of teaching.
#[must_use]
pub fn history(engine: &Engine, before: &[GpcId], lessons: &[Given], shape: &LessonShape) -> Vec<History> {
    let settled = u32::try_from(shape.intervals.len()).unwrap_or(u32::MAX);
    let known = |gpc: GpcId, last_day: u32, reviews: u32| History {
        gpc,
        last_day,
        reviews,
        recent: false,
        wrong: 0.0,
        missed: 0.0,
    };
    let mut out: Vec<History> = before.iter().map(|gpc| known(*gpc, 0, settled)).collect();
    let mut place: BTreeMap<GpcId, usize> = (0..).zip(&out).map(|(n, h)| (h.gpc, n)).collect();
    for (at, lesson) in lessons.iter().enumerate() {
        mark_recent(&mut out, &lessons[..at]);
        for n in due(engine, &out, &lesson.taught, lesson.day, shape).into_iter().take(due_places(shape)) {
            if waited(&out[n], lesson.day, &shape.intervals) >= 1.0 {
                out[n].last_day = lesson.day;
                out[n].reviews += 1;
            }
        }
        for gpc in &lesson.taught {
            let n = *place.entry(*gpc).or_insert(out.len());
            let taught = known(*gpc, lesson.day, 0);
            if n == out.len() {
                out.push(taught);
            } else {
                out[n] = taught;
            }
        }
    }
    mark_recent(&mut out, lessons);
    out
}

fn mark_recent(all: &mut [History], lessons: &[Given]) {
    let last: Vec<GpcId> = lessons.iter().rev().take(2).flat_map(|l| l.taught.iter().copied()).collect();
    for one in all {
        one.recent = last.contains(&one.gpc);
    }
}

impl Plan {
    /// The review set: what the last two lessons taught, then what is due; in the places kept for
    /// it, what was often wrong or missed. Where room is left, more of either, then others, not the
    /// same each day. What is easily confused with the new correspondence waits.
    #[must_use]
    pub fn review_set(
        &self,
        engine: &Engine,
        request: &LessonRequest,
        new: &[GpcId],
    ) -> Vec<(GpcId, ReviewReason)> {
        let mut rng = Rng::for_purpose(request.seed, "review");
        let (history, shape) = (&request.history, &request.shape);
        let due = due(engine, history, new, request.today, shape);
        let (placed, waiting) = due.split_at(due.len().min(due_places(shape)));
        let struggled = struggled(engine, history, new, shape);
        let mut others: Vec<usize> = (0..history.len()).filter(|n| !new.contains(&history[*n].gpc)).collect();
        rng.shuffle(&mut others);
        others.sort_by_key(|n| confused(engine, history[*n].gpc, new));
        let mut chosen: Vec<usize> = placed.to_vec();
        let room = |chosen: &[usize]| shape.review.saturating_sub(chosen.len());
        let fresh = |chosen: &[usize], n: &usize| !chosen.contains(n);
        let kept: Vec<usize> = struggled.iter().filter(|n| fresh(&chosen, n)).copied().collect();
        chosen.extend(kept.into_iter().take(shape.struggled.min(room(&chosen))));
        for n in waiting.iter().chain(&struggled).chain(&others) {
            if room(&chosen) > 0 && fresh(&chosen, n) {
                chosen.push(*n);
            }
        }
        let mut out: Vec<(GpcId, ReviewReason)> =
            chosen.into_iter().map(|n| (history[n].gpc, reason(&history[n], request.today, shape))).collect();
        rng.shuffle(&mut out);
        out
    }
}

/// How many places of a set those that are due are sure of.
fn due_places(shape: &LessonShape) -> usize {
    shape.review.saturating_sub(shape.struggled)
}

/// Places in a history of what the last two lessons taught and of what is due, most urgent first,
/// without what is new. Answers have no say in it.
fn due(engine: &Engine, history: &[History], new: &[GpcId], today: u32, shape: &LessonShape) -> Vec<usize> {
    let others = history.iter().enumerate().filter(|(_, h)| !new.contains(&h.gpc));
    let mut scored: Vec<(bool, f32, usize)> = others
        .filter_map(|(n, h)| {
            let waited = waited(h, today, &shape.intervals);
            let waits = if confused(engine, h.gpc, new) { shape.confusable_waits } else { 0.0 };
            (h.recent || waited >= 1.0).then_some((h.recent, waited - waits, n))
        })
        .collect();
    scored.sort_by(|a, b| b.0.cmp(&a.0).then(b.1.total_cmp(&a.1)));
    scored.into_iter().map(|(.., n)| n).collect()
}

/// Places in a history of what was often wrong or missed and would not be confused with what is
/// new, the worst first.
fn struggled(engine: &Engine, history: &[History], new: &[GpcId], shape: &LessonShape) -> Vec<usize> {
    let badly = |h: &History| h.wrong >= shape.often || h.missed >= shape.often;
    let weight =
        |h: &History| h.wrong * f32::from(shape.weights.wrong) + h.missed * f32::from(shape.weights.missed);
    let mut out: Vec<(f32, usize)> = history
        .iter()
        .enumerate()
        .filter(|(_, h)| badly(h) && !new.contains(&h.gpc) && !confused(engine, h.gpc, new))
        .map(|(n, h)| (weight(h), n))
        .collect();
    out.sort_by(|a, b| b.0.total_cmp(&a.0));
    out.into_iter().map(|(_, n)| n).collect()
}

fn confused(engine: &Engine, gpc: GpcId, new: &[GpcId]) -> bool {
    new.iter().any(|n| engine.confusable().gap(engine.inventory(), gpc, *n).is_some())
}

/// The days since it came, as a part of the gap it is in: from 1 on it is due. A day's delay of a
/// gap of one day weighs as much as four weeks' delay of one of four weeks, so what was just
/// taught goes first and, since this grows without bound, nothing waits for ever.
fn waited(history: &History, today: u32, intervals: &[u32]) -> f32 {
    let at = (history.reviews as usize).min(intervals.len().saturating_sub(1));
    let interval = intervals.get(at).copied().unwrap_or(1).max(1) as f32;
    today.saturating_sub(history.last_day) as f32 / interval
}

/// The chief reason to go back to a correspondence today.
fn reason(history: &History, today: u32, shape: &LessonShape) -> ReviewReason {
    if history.wrong >= shape.often {
        ReviewReason::OftenWrong
    } else if history.missed >= shape.often {
        ReviewReason::Missed
    } else if history.recent || waited(history, today, &shape.intervals) >= 1.0 {
        ReviewReason::Due
    } else {
        ReviewReason::Fill
    }
}
