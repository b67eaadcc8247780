//! One child with two records, or two children alike: what a person decided, and what becomes of
//! two records when they are one child's.

use std::collections::BTreeMap;

use super::{Row, Upn};
use crate::{
    id::PupilId,
    time::{Date, Instant},
};

crate::vocabulary! {
    /// What a person decided about two records.
    pub enum Verdict as "PupilVerdict" {
        /// They are one child's.
        Same = "same",
        /// They are two children's.
        Different = "different",
    }
}

/// What was decided and not taken back.
#[derive(Clone, Debug, Default)]
pub struct Decisions {
    apart: Vec<(PupilId, PupilId)>,
    merged: BTreeMap<PupilId, PupilId>,
}

impl Decisions {
    /// Adds a decision; of one child, `one` is the record that was kept.
    pub fn add(&mut self, verdict: Verdict, one: PupilId, other: PupilId) {
        match verdict {
            Verdict::Different => self.apart.push((one, other)),
            Verdict::Same => {
                self.merged.insert(other, one);
            }
        }
    }

    /// The record a child has now, by any record it ever had.
    #[must_use]
    pub fn now(&self, mut pupil: PupilId) -> PupilId {
        // A merged record is gone and never kept again, so this comes to an end.
        while let Some(kept) = self.merged.get(&pupil) {
            pupil = *kept;
        }
        pupil
    }

    /// Whether two pupils were said to be different children, under whatever record.
    #[must_use]
    pub fn are_apart(&self, one: PupilId, other: PupilId) -> bool {
        let pair = |a, b| (self.now(a), self.now(b));
        let asked = pair(one, other);
        self.apart.iter().any(|(a, b)| pair(*a, *b) == asked || pair(*b, *a) == asked)
    }
}

/// One of two records, as far as it matters for making them one.
#[derive(Clone, Debug)]
pub struct Merging {
    /// The pupil.
    pub id: PupilId,
    /// What is known, the number of now included.
    pub row: Row,
    /// The last day here.
    pub left_on: Option<Date>,
    /// Every number the pupil had: since when, and until when unless it is the one of now.
    pub upns: Vec<(Upn, Instant, Option<Instant>)>,
}

/// Why two records cannot be made one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum MergeError {
    /// One record twice.
    #[error("is the same record: name two")]
    Itself,
    /// Decided otherwise.
    #[error("the two were said to be different children: take that decision back first")]
    Apart,
    /// Each has a number, and not the same.
    #[error(
        "the two have different UPNs: name the pupil whose UPN is in use; the other's is kept as a former one"
    )]
    TwoUpns,
    /// Named for the number, and has none.
    #[error("names a record without a UPN")]
    NoUpn,
    /// Each has a result in one window of the statutory check, and not the same.
    #[error(
        "the two have different results in one window of the statutory check: take one back, or amend it, first"
    )]
    TwoResults,
    /// Named for the number, and none of the two.
    #[error("is none of the two")]
    Neither,
}

/// The record of the child: what is kept, filled up from the other where it says nothing. The
/// child is here if either record says so. Where both have a number now, `upn_of` says whose is in
/// use; the other's becomes a former one.
///
/// # Errors
/// [`MergeError`].
pub fn merge(
    kept: &Merging,
    other: &Merging,
    upn_of: Option<PupilId>,
    decisions: &Decisions,
    now: Instant,
) -> Result<Merging, MergeError> {
    if kept.id == other.id {
        return Err(MergeError::Itself);
    }
    if decisions.are_apart(kept.id, other.id) {
        return Err(MergeError::Apart);
    }
    let upn = upn_in_use(kept, other, upn_of)?;
    let mut upns: BTreeMap<&Upn, (Instant, Option<Instant>)> = BTreeMap::new();
    for (number, since, until) in kept.upns.iter().chain(&other.upns) {
        // One that is no longer in use is so from now on.
        let until = if upn.as_ref() == Some(number) { None } else { Some(until.unwrap_or(now)) };
        let held = upns.entry(number).or_insert((*since, until));
        *held = (held.0.min(*since), held.1.max(until));
    }
    Ok(Merging {
        id: kept.id,
        row: kept.row.or(&other.row, upn),
        left_on: kept.left_on.zip(other.left_on).map(|(one, other)| one.max(other)),
        upns: upns.into_iter().map(|(number, (since, until))| (number.clone(), since, until)).collect(),
    })
}

fn upn_in_use(kept: &Merging, other: &Merging, upn_of: Option<PupilId>) -> Result<Option<Upn>, MergeError> {
    let named = match upn_of {
        None => None,
        Some(id) if id == kept.id => Some(kept),
        Some(id) if id == other.id => Some(other),
        Some(_) => return Err(MergeError::Neither),
    };
    if let Some(named) = named {
        return named.row.upn.clone().map(Some).ok_or(MergeError::NoUpn);
    }
    match (&kept.row.upn, &other.row.upn) {
        (Some(one), Some(two)) if one != two => Err(MergeError::TwoUpns),
        (one, two) => Ok(one.clone().or(two.clone())),
    }
}

impl Row {
    fn or(&self, other: &Self, upn: Option<Upn>) -> Self {
        let (mine, theirs) = (self.clone(), other.clone());
        Self {
            pupil_ref: mine.pupil_ref.or(theirs.pupil_ref),
            upn,
            given_name: mine.given_name.or(theirs.given_name),
            family_name: mine.family_name.or(theirs.family_name),
            preferred_name: mine.preferred_name.or(theirs.preferred_name),
            date_of_birth: mine.date_of_birth.or(theirs.date_of_birth),
            ..mine
        }
    }
}

#[cfg(test)]
mod tests;
