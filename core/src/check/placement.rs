//! A placement check: walks the GPCs of a sequence to find from where on a new pupil has to be taught. Its
//! result is a suggestion of lessons to look at, never a placement, and says nothing of what was not asked.
//!
//! What a pupil knows is taken to run from the start of the sequence up to an unknown place, with slips below
//! it and lucky hits above. Each answer weighs every place, and the next item is asked where the pupil more
//! likely knows it than not: the bisection of noisy answers (Waeber, Frazier and Henderson 2013, Bisection
//! search with noisy responses, SIAM Journal on Control and Optimization 51(3)), asked below its middle so that
//! a child meets more that is known than not. It begins near the start of the sequence, and stops for the child
//! after some answers running that were not right.

use std::collections::{BTreeMap, BTreeSet};

use super::{Outcome, Response};
use crate::{
    id::{CheckItemId, ItemId, ResponseId},
    rules::PlacementRule,
    sequence::{Content, Item, Lesson, Place, Step},
};

crate::vocabulary! {
    /// Why a placement check asks nothing more.
    pub enum PlacementEnd {
        /// The place is known closely enough.
        Settled = "settled",
        /// As many items were asked as one sitting may have, or all there are.
        EnoughAsked = "enough_asked",
        /// Some answers running were not right: it stopped for the child.
        Stopped = "stopped",
        /// An adult ended it, or its days are over.
        Ended = "ended",
    }
}

/// A GPC in teaching order, with the lesson that teaches it first.
#[derive(Clone, Copy, Debug)]
pub struct Taught<'a> {
    /// The GPC.
    pub item: &'a Item,
    /// Where the lesson stands.
    pub place: Place,
    /// Its step.
    pub step: &'a Step,
    /// The lesson.
    pub lesson: &'a Lesson,
}

/// The GPCs of a sequence version in teaching order, each once.
#[must_use]
pub fn in_teaching_order(content: &Content) -> Vec<Taught<'_>> {
    let mut met = BTreeSet::new();
    let mut out = Vec::new();
    for (place, step, lesson) in content.lessons() {
        let items = lesson.items.iter().filter(|item| item.gpc.is_some());
        let new = items.filter(|item| met.insert(item.id));
        out.extend(new.map(|item| Taught { item, place, step, lesson }));
    }
    out
}

/// An answer that counts, and the response to correct it by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Asked {
    /// The item of the check.
    pub item: CheckItemId,
    /// What came of it.
    pub outcome: Outcome,
    /// The latest response about it.
    pub response: ResponseId,
}

/// The answers of a placement in the order they were asked, each as last corrected. One that was corrected to
/// "not offered" was taken back: it can be asked again.
///
/// `responses` are all of the placement, in order of entry.
#[must_use]
pub fn as_asked(responses: &[Response]) -> Vec<Asked> {
    let mut asked: Vec<(Asked, bool)> = Vec::new();
    for one in responses {
        let now = Asked { item: one.item, outcome: one.outcome, response: one.id };
        let old = one.corrects.and_then(|old| asked.iter_mut().find(|(known, _)| known.response == old));
        match old {
            Some(old) => *old = (now, true),
            None => asked.push((now, false)),
        }
    }
    let taken_back = |(one, corrected): &(Asked, bool)| *corrected && one.outcome == Outcome::NotOffered;
    asked.into_iter().filter(|one| !taken_back(one)).map(|(one, _)| one).collect()
}

/// How far a placement check is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Placing {
    /// What to ask next, as its place in the order from 0; none once it is over.
    pub next: Option<usize>,
    /// Why it is over.
    pub end: Option<PlacementEnd>,
    /// Items that were asked, one way or another.
    pub asked: usize,
    /// The pupil seems to know the GPCs before a place between these two, counted from 0; as many as there are
    /// stands for all.
    pub between: (usize, usize),
}

/// Works out how far a placement check is from the answers in the order they were asked, each with its GPC's
/// place in teaching order, of `gpcs` there are.
#[must_use]
pub fn placing(gpcs: usize, answers: &[(usize, Outcome)], rule: &PlacementRule) -> Placing {
    let likely = likelihoods(gpcs, answers, rule);
    let between = narrowest(&likely, f64::from(rule.sure_percent) / 100.0);
    let met: BTreeSet<usize> = answers.iter().map(|(at, _)| *at).collect();
    let asked = answers.iter().filter(|(_, outcome)| *outcome != Outcome::NotOffered).count();
    let aim = quantile(&likely, f64::from(rule.ask_percent) / 100.0).min(gpcs.saturating_sub(1));
    let next = (0..gpcs).filter(|at| !met.contains(at)).min_by_key(|at| (at.abs_diff(aim), *at));
    let within = rule.within_gpcs.min(gpcs * usize::from(rule.within_percent) / 100);
    let end = if not_right_running(answers) >= rule.not_right_stop {
        Some(PlacementEnd::Stopped)
    } else if asked > 0 && between.1 - between.0 <= within {
        Some(PlacementEnd::Settled)
    } else if asked >= rule.items_most || next.is_none() {
        Some(PlacementEnd::EnoughAsked)
    } else {
        None
    };
    Placing { next: next.filter(|_| end.is_none()), end, asked, between }
}

/// The most answers running that were not right. What was not offered stands between none.
fn not_right_running(answers: &[(usize, Outcome)]) -> usize {
    let (mut most, mut running) = (0, 0);
    for (_, outcome) in answers.iter().filter(|(_, outcome)| *outcome != Outcome::NotOffered) {
        running = if *outcome == Outcome::Right { 0 } else { running + 1 };
        most = most.max(running);
    }
    most
}

/// How likely each place is, 0 to `gpcs`; they sum to 1. Before any answer, one half lies evenly on the first
/// part of the sequence and the other half evenly on the rest.
fn likelihoods(gpcs: usize, answers: &[(usize, Outcome)], rule: &PlacementRule) -> Vec<f64> {
    let first = gpcs * usize::from(rule.start_percent) / 100 + 1;
    let even = |many: usize| 0.5 / f64::from(u32::try_from(many.max(1)).unwrap_or(u32::MAX));
    let (low, high) = (even(first), even((gpcs + 1).saturating_sub(first)));
    let mut likely: Vec<f64> = (0..=gpcs).map(|place| if place < first { low } else { high }).collect();
    let (slip, lucky) = (f64::from(rule.slip_percent) / 100.0, f64::from(rule.lucky_percent) / 100.0);
    for (at, outcome) in answers.iter().filter(|(_, outcome)| *outcome != Outcome::NotOffered) {
        for (place, weight) in likely.iter_mut().enumerate() {
            let right = if *at < place { 1.0 - slip } else { lucky };
            *weight *= if *outcome == Outcome::Right { right } else { 1.0 - right };
        }
        normalise(&mut likely);
    }
    normalise(&mut likely);
    likely
}

fn normalise(likely: &mut [f64]) {
    let sum: f64 = likely.iter().sum();
    likely.iter_mut().for_each(|weight| *weight /= sum);
}

/// The first place at which so much of the weight lies at or before it.
fn quantile(likely: &[f64], part: f64) -> usize {
    let mut sum = 0.0;
    let at = likely.iter().position(|weight| {
        sum += weight;
        sum >= part
    });
    at.unwrap_or(likely.len() - 1)
}

/// The narrowest run of places that holds at least so much of the weight, the first of several.
fn narrowest(likely: &[f64], part: f64) -> (usize, usize) {
    let (mut from, mut sum, mut best) = (0, 0.0, (0, likely.len() - 1));
    for (to, weight) in likely.iter().enumerate() {
        sum += weight;
        while sum - likely[from] >= part {
            sum -= likely[from];
            from += 1;
        }
        if sum >= part && to - from < best.1 - best.0 {
            best = (from, to);
        }
    }
    best
}

/// The answers to GPCs of the order, each by its place in it.
#[must_use]
pub fn by_place(order: &[Taught<'_>], asked: &[(ItemId, Outcome)]) -> Vec<(usize, Outcome)> {
    let places: BTreeMap<ItemId, usize> = order.iter().enumerate().map(|(n, one)| (one.item.id, n)).collect();
    asked.iter().filter_map(|(item, outcome)| Some((*places.get(item)?, *outcome))).collect()
}

#[cfg(test)]
mod tests;
