//! A sitting: one adult asks one pupil the items of one check, one after the other. Which answers a device
//! sends can be taken, what is asked next, and which answer an undo takes back.

use std::collections::{BTreeMap, BTreeSet};

use super::{
    AnswerError, CheckItem, Facts, Heard, Outcome, Response, ResponseMode, check_day,
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
    /// What was heard instead, or why that cannot be read.
    pub heard: Option<Result<Heard, String>>,
    /// How the pupil answered.
    pub mode: ResponseMode,
}

impl Sent {
    /// What was heard instead, where it can be read.
    #[must_use]
    pub fn sounds(&self) -> Option<&Heard> {
        self.heard.as_ref()?.as_ref().ok()
    }

    fn is(&self, on: Date, known: &Response) -> bool {
        let said = (known.item, known.on, known.outcome, known.heard.as_ref(), known.mode);
        said == (self.item, on, self.outcome, self.sounds(), self.mode)
    }

    /// What of it cannot be, whatever else there is; said of its place in the run.
    fn fault(&self, n: usize) -> Option<AnswerError> {
        match self.heard.as_ref()? {
            Err(why) => Some(AnswerError::HeardUnread(n, why.clone())),
            Ok(_) if self.outcome != Outcome::Wrong => Some(AnswerError::HeardNotWrong(n)),
            Ok(_) => None,
        }
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
/// none of the others. They count in the order of their ids: of two answers to one item the one made first is
/// taken, and the other is refused. What becomes of each is said in the order sent.
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
    let mut in_order: Vec<(usize, &Sent)> = sent.iter().enumerate().collect();
    in_order.sort_by_key(|(_, one)| one.id);
    let mut out = BTreeMap::new();
    for (n, one) in in_order {
        let before = there.iter().find(|known| known.id == one.id).map(|known| one.is(on, known));
        let taken = match before.or_else(|| new.get(&one.id).map(|known| *known == one)) {
            Some(true) => Taken::Known,
            Some(false) => Taken::Refused(AnswerError::OtherAnswer(n)),
            None if elsewhere.contains(&one.id) => Taken::Refused(AnswerError::OtherAnswer(n)),
            None => {
                let facts = Facts { existing: &existing, ..facts.clone() };
                let fault = one.fault(n).or_else(|| check_day(&facts, on).err());
                fault.or_else(|| facts.fault(0, one.item)).map_or(Taken::New, Taken::Refused)
            }
        };
        if taken == Taken::New {
            new.insert(one.id, one);
            if one.outcome != Outcome::NotOffered {
                existing.insert(one.item, one.id);
            }
        }
        out.insert(n, taken);
    }
    out.into_values().collect()
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

/// An answer of a sitting that counts, by the id it or its last correction was given.
#[must_use]
pub fn counting(responses: &[Response], id: ResponseId) -> Option<Asked> {
    as_asked(responses).into_iter().find(|one| one.response == id)
}

#[cfg(test)]
mod tests;
