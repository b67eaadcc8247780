//! What one pupil has to read with: what this very pupil was taught, and which of it is secure.

use std::{
    collections::{BTreeMap, BTreeSet},
    sync::Arc,
};

use super::{Answer, State, state};
use crate::{
    check::Outcome,
    id::ItemId,
    lesson::ItemCoverage,
    phonics::{
        Engine,
        policy::Policy,
        practice::{Practice, Practised, Sizes, practice},
        require::Requirements,
        sequence::{Sequence, SequenceError, StepText},
        unit::GpcId,
        version::find,
        word::Word,
    },
    rules::SecureRule,
    sequence::{Content, ItemKind},
    time::Date,
};

/// What is on record of one pupil.
#[derive(Clone, Debug, Default)]
pub struct PupilRecords {
    /// The versions that the pupil's lessons and groups are taught from.
    pub contents: Vec<Arc<Content>>,
    /// What lessons covered, by the pupil's own presence, and what was carried in.
    pub covered: BTreeMap<ItemId, ItemCoverage>,
    /// The days on which each item was taught to the pupil.
    pub days: BTreeMap<ItemId, BTreeSet<Date>>,
    /// Answers to items that ask for a correspondence.
    pub answers: BTreeMap<ItemId, Vec<Answer>>,
}

/// What one pupil was taught, as the engine knows it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Learner {
    /// Correspondences with the first day a lesson taught each to this pupil, earliest first. No
    /// day: carried in, or secure by checks alone.
    pub taught: Vec<(Option<Date>, GpcId)>,
    /// Those that checks show to be secure.
    pub secure: Vec<GpcId>,
    /// Those that lessons taught last and that are not secure, latest first.
    pub current: Vec<GpcId>,
    /// The other ones taught that no check has shown secure and none has shown not known, oldest
    /// first.
    pub taught_only: Vec<GpcId>,
    /// Exception words, as `taught`.
    pub exception_words: Vec<(Option<Date>, String)>,
}

/// Puts together what a pupil was taught and what of it is secure. What the engine does not know is
/// left out, and so is what this pupil missed. At most `most_current` ideas are current: what the
/// policy lets one stand for (nn, mm and gg taught together) is one idea.
pub fn learner(
    engine: &Engine,
    policy: Policy,
    records: &PupilRecords,
    rule: &SecureRule,
    most_current: usize,
) -> Learner {
    let (mut seen, mut known) = (BTreeSet::new(), BTreeSet::new());
    let mut not_right = BTreeSet::new();
    let mut learner = Learner::default();
    for item in records.contents.iter().flat_map(|content| content.items()) {
        if !seen.insert(item.id) {
            continue;
        }
        let line = records.covered.get(&item.id).copied().unwrap_or_default();
        let taught = line.taught_on.is_some();
        // The day as of which something was carried in is not the day it was taught on.
        let on = line.taught_on.filter(|_| !line.carried_in);
        if let Some(gpc) = &item.gpc {
            let answers = records.answers.get(&item.id).map_or(&[][..], Vec::as_slice);
            let secure = state(line.taught_on, answers, rule) == State::Secure;
            let id = find(engine, gpc).ok().filter(|id| (taught || secure) && known.insert(*id));
            learner.taught.extend(id.map(|id| (on, id)));
            learner.secure.extend(id.filter(|_| secure));
            let right = |a: &Answer| matches!(a.outcome, Outcome::Right | Outcome::NotOffered);
            not_right.extend(find(engine, gpc).ok().filter(|_| !answers.iter().all(right)));
        } else if taught && item.kind == ItemKind::ExceptionWord && Word::parse(item.label.as_str()).is_ok() {
            learner.exception_words.push((on, item.label.to_string()));
        }
    }
    learner.taught.sort_by_key(|(on, _)| *on);
    let requirements = Requirements::new(engine.inventory(), policy);
    let mut ideas = BTreeSet::new();
    for (_, id) in learner.taught.iter().rev().filter(|(on, _)| on.is_some()) {
        let idea = requirements.together(*id).into_iter().min();
        if !learner.secure.contains(id) && (ideas.len() < most_current || ideas.contains(&idea)) {
            ideas.insert(idea);
            learner.current.push(*id);
        }
    }
    let others = learner.taught.iter().map(|(_, id)| *id);
    learner.taught_only = others
        .filter(|id| !learner.secure.contains(id) && !learner.current.contains(id) && !not_right.contains(id))
        .collect();
    learner
}

impl Learner {
    /// A step for each day on which something was first taught to this pupil, and the days; what
    /// has no day is the first step.
    ///
    /// # Errors
    /// [`SequenceError`] where lessons taught new things on more days than a sequence has steps.
    pub fn by_day(&self, engine: &Engine) -> Result<(Vec<Option<Date>>, Sequence), SequenceError> {
        let mut days: BTreeMap<Option<Date>, StepText> = BTreeMap::new();
        for (on, id) in &self.taught {
            days.entry(*on).or_default().gpcs.extend(written(engine, *id));
        }
        for (on, word) in &self.exception_words {
            days.entry(*on).or_default().exception_words.push(word.clone());
        }
        let (days, steps): (Vec<_>, Vec<_>) = days.into_iter().unzip();
        Ok((days, Sequence::parse(engine, &steps)?))
    }

    /// One step of what is secure, with every exception word taught.
    ///
    /// # Errors
    /// [`SequenceError`], which known items rule out.
    pub fn secured(&self, engine: &Engine) -> Result<Sequence, SequenceError> {
        let step = StepText {
            gpcs: self.secure.iter().filter_map(|id| written(engine, *id)).collect(),
            exception_words: self.exception_words.iter().map(|(_, word)| word.clone()).collect(),
        };
        Sequence::parse(engine, &[step])
    }

    /// Practice for home from what is secure and what is current, filled up with what was only
    /// taught, and from nothing else: no tolerance, since nobody is by to explain a weak vowel.
    pub fn practice(&self, engine: &Engine, policy: Policy, seed: u64, sizes: Sizes) -> Practice {
        let words: Vec<String> = self.exception_words.iter().map(|(_, word)| word.clone()).collect();
        let from = Practised {
            secure: &self.secure,
            current: &self.current,
            taught: &self.taught_only,
            exception_words: &words,
        };
        practice(engine, policy.exact(), from, seed, sizes)
    }
}

crate::vocabulary! {
    /// Why practice holds less than it might.
    pub enum PracticeGap {
        /// Nothing is secure, nothing was taught lately, and nothing earlier that checks have not
        /// shown to be not known: there is nothing to practise.
        NoGpcs = "no_gpcs",
        /// No word is made of what is secure, current or taught earlier.
        NoWords = "no_words",
        /// There are words, and no sentence can be made of them.
        NoSentences = "no_sentences",
    }
}

impl PracticeGap {
    /// What is missing from practice; none where nothing is.
    pub fn of(practice: &Practice) -> Option<Self> {
        if practice.gpcs.is_empty() {
            Some(Self::NoGpcs)
        } else if practice.words.is_empty() {
            Some(Self::NoWords)
        } else {
            practice.sentences.is_empty().then_some(Self::NoSentences)
        }
    }
}

fn written(engine: &Engine, id: GpcId) -> Option<String> {
    engine.inventory().get(id).map(|known| known.gpc.to_string())
}

#[cfg(test)]
mod tests;
