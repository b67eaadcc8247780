//! A sitting: one adult asks one pupil the items of one check, one after the other. Which answers a device
//! sends can be taken, what is asked next, and which answer an undo takes back.

use std::collections::{BTreeMap, BTreeSet};

use super::{
    AnswerError, CheckItem, Facts, Heard, Outcome, Response, ResponseMode, check_answers,
    placement::{Asked, as_asked},
};
use crate::{
    id::{CheckItemId, ResponseId},
    time::Date,
};

/// An answer as a device sends it, under an id of its own.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sent {
    /// Its id.
    pub id: ResponseId,
    /// The item.
    pub item: CheckItemId,
    /// What came of it.
    pub outcome: Outcome,
    /// What was heard instead.
    pub heard: Option<Heard>,
    /// How the pupil answered.
    pub mode: ResponseMode,
}

impl Sent {
    fn is(&self, on: Date, known: &Response) -> bool {
        let said = (known.item, known.on, known.outcome, known.heard.as_ref(), known.mode);
        said == (self.item, on, self.outcome, self.heard.as_ref(), self.mode)
    }
}

/// What becomes of an answer that was sent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Taken {
    /// It is new, and is written down.
    New,
    /// It came before.
    Known,
    /// It cannot be taken, now or later.
    Refused(AnswerError),
}

/// Sorts out what a device sent: each answer stands for itself, so that one that cannot be taken holds back
/// none of the others.
///
/// `there` are the pupil's responses in the round, `elsewhere` which of the ids sent belong to other answers
/// of the school.
#[must_use]
pub fn sort_out(
    facts: &Facts<'_>,
    on: Date,
    there: &[Response],
    elsewhere: &BTreeSet<ResponseId>,
    sent: &[Sent],
) -> Vec<Taken> {
    let mut existing: BTreeMap<CheckItemId, ResponseId> = facts.existing.clone();
    let mut new: BTreeMap<ResponseId, &Sent> = BTreeMap::new();
    let mut out = Vec::new();
    for (n, one) in sent.iter().enumerate() {
        let before = there.iter().find(|known| known.id == one.id).map(|known| one.is(on, known));
        let taken = match before.or_else(|| new.get(&one.id).map(|known| *known == one)) {
            Some(true) => Taken::Known,
            Some(false) => Taken::Refused(AnswerError::OtherAnswer(n)),
            None if elsewhere.contains(&one.id) => Taken::Refused(AnswerError::OtherAnswer(n)),
            None => {
                let facts = Facts { existing: &existing, ..facts.clone() };
                match check_answers(&facts, on, &[(one.item, one.outcome)]) {
                    Ok(()) => Taken::New,
                    Err(error) => Taken::Refused(error),
                }
            }
        };
        if taken == Taken::New {
            new.insert(one.id, one);
            if one.outcome != Outcome::NotOffered {
                existing.insert(one.item, one.id);
            }
        }
        out.push(taken);
    }
    out
}

/// What stands for each item of the check, in its order: the answer; or that this sitting left it out; or
/// nothing, and it is still to be asked.
///
/// `responses` are the pupil's of this check in the round, in order of entry; `here` those of this sitting.
#[must_use]
pub fn as_answered(
    items: &[CheckItem],
    responses: &[Response],
    here: &BTreeSet<ResponseId>,
) -> Vec<Option<Asked>> {
    let asked = as_asked(responses);
    let of_item = |item: CheckItemId| asked.iter().rev().filter(move |one| one.item == item);
    let stands = |item: &CheckItem| {
        let answer = of_item(item.id).find(|one| one.outcome != Outcome::NotOffered);
        answer.or_else(|| of_item(item.id).find(|one| here.contains(&one.response))).copied()
    };
    items.iter().map(stands).collect()
}

/// The item to ask next: the first of which nothing stands.
#[must_use]
pub fn next(items: &[CheckItem], standing: &[Option<Asked>]) -> Option<CheckItemId> {
    items.iter().zip(standing).find(|(_, stands)| stands.is_none()).map(|(item, _)| item.id)
}

/// The answer that was given last in a sitting, as last corrected: the one an undo takes back.
///
/// `responses` are those of the sitting, in order of entry.
#[must_use]
pub fn last(responses: &[Response]) -> Option<Asked> {
    as_asked(responses).pop()
}

#[cfg(test)]
mod tests;
