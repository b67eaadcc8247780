//! Which measures one pupil meets.

use std::collections::{BTreeMap, BTreeSet};

use crate::{
    attainment::{Answer, PupilFacts, State, state},
    id::{ItemId, LessonId, PupilId},
    lesson::{ItemCoverage, Mark, Record},
    rules::{MeasureOf, MeasureRule, SecureRule},
    time::Date,
};

/// What is known of a pupil from which measures are counted.
#[derive(Debug)]
pub struct PupilSays<'a> {
    /// Teaching and answers.
    pub facts: &'a PupilFacts,
    /// The GPCs that the sequence expects to be taught by the day in the groups the pupil is in; none in no group.
    pub expects: Option<&'a BTreeSet<ItemId>>,
    /// Lessons.
    pub lessons: LessonsHad,
}

/// Lessons that were for one pupil: whoever was not to come then has no line in their registers.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LessonsHad {
    /// Given in the school year, each lesson once however many sessions it took.
    pub given: u64,
    /// Of these, all that was given of them was taught to this pupil, in them or since.
    pub had: u64,
    /// Sessions held in the half term.
    pub sessions: u64,
    /// Of these, with the pupil there, also late.
    pub attended: u64,
}

/// From which days on lessons count.
#[derive(Clone, Copy, Debug)]
pub struct LessonDays {
    /// The first day of the school year.
    pub year_from: Date,
    /// The first day of the half term.
    pub half_term_from: Date,
}

/// Counts the lessons of one pupil. `covered` is the pupil's coverage and `new` the items that stand for something to be
/// taught: what only goes back is never caught up.
#[must_use]
pub fn lessons_had<'a>(
    pupil: PupilId,
    records: impl IntoIterator<Item = &'a Record>,
    covered: &BTreeMap<ItemId, ItemCoverage>,
    new: &BTreeSet<ItemId>,
    days: LessonDays,
) -> LessonsHad {
    let mut counts = LessonsHad::default();
    // By lesson, what is new of it, and whether this pupil was taught in one of its sessions.
    let mut lessons: BTreeMap<LessonId, (BTreeSet<ItemId>, bool)> = BTreeMap::new();
    for record in records {
        let Some(entry) = record.register.iter().find(|entry| entry.pupil_id == pupil) else { continue };
        if record.on >= days.half_term_from {
            counts.sessions += 1;
            counts.attended += u64::from(entry.mark != Mark::Absent);
        }
        if record.on >= days.year_from {
            let (items, there) = lessons.entry(record.lesson).or_default();
            items.extend(record.items.iter().filter(|item| new.contains(item)));
            *there |= entry.was_taught();
        }
    }
    let is_taught = |item: &ItemId| covered.get(item).is_some_and(|line| line.taught_on.is_some());
    let had = |(items, there): &&(BTreeSet<ItemId>, bool)| match items.is_empty() {
        // It only went back: having been there once is enough.
        true => *there,
        false => items.iter().all(is_taught),
    };
    counts.given = lessons.len() as u64;
    counts.had = lessons.values().filter(had).count() as u64;
    counts
}

/// How many GPCs are secure of a pupil, taught here or before.
#[must_use]
pub fn secure(facts: &PupilFacts, rule: &SecureRule) -> u32 {
    let taught = facts.expected.iter().chain(&facts.carried_in);
    let secure = taught.filter(|(gpc, on)| state(**on, answers(facts, gpc), rule) == State::Secure).count();
    u32::try_from(secure).unwrap_or(u32::MAX)
}

fn answers<'a>(facts: &'a PupilFacts, gpc: &ItemId) -> &'a [Answer] {
    facts.gpc_answers.get(gpc).map_or(&[], Vec::as_slice)
}

/// Whether a pupil meets a measure; none where nothing tells. The statutory check tells of other pupils: see
/// [`super::OfCheck`].
#[must_use]
pub fn met(measure: &MeasureRule, pupil: &PupilSays<'_>, rule: &SecureRule) -> Option<bool> {
    let part = u64::from(measure.percent.unwrap_or(100));
    let is_enough = |right: u64, of: u64| 100 * right >= part * of;
    let enough = |right: u64, of: u64| (of > 0).then(|| is_enough(right, of));
    let facts = pupil.facts;
    match measure.of {
        MeasureOf::Gpcs => {
            let (mut known, mut right) = (0, 0);
            for (gpc, taught_on) in &facts.expected {
                match state(*taught_on, answers(facts, gpc), rule) {
                    State::Secure => (known, right) = (known + 1, right + 1),
                    State::Practising | State::Revisit => known += 1,
                    State::Taught | State::Unknown => {}
                }
            }
            enough(right, known)
        }
        MeasureOf::Expected => {
            let expects = pupil.expects.filter(|gpcs| !gpcs.is_empty())?;
            let (mut right, mut open) = (0, 0);
            for gpc in expects {
                let taught_on =
                    facts.expected.get(gpc).or_else(|| facts.carried_in.get(gpc)).copied().flatten();
                match state(taught_on, answers(facts, gpc), rule) {
                    State::Secure => right += 1,
                    State::Taught => open += 1,
                    State::Practising | State::Revisit | State::Unknown => {}
                }
            }
            // Where it is the same whatever those come to that nobody asked, it is known.
            let of = expects.len() as u64;
            let (least, most) = (is_enough(right, of), is_enough(right + open, of));
            (least == most).then_some(least)
        }
        MeasureOf::Coverage => enough(pupil.lessons.had, pupil.lessons.given),
        MeasureOf::Attendance => enough(pupil.lessons.attended, pupil.lessons.sessions),
        MeasureOf::Words => enough(facts.words_right, facts.words_offered),
        MeasureOf::Checked => Some(facts.checked_on.is_some()),
        MeasureOf::Statutory => None,
    }
}

#[cfg(test)]
mod tests;
