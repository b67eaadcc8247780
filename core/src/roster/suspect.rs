//! Two records that may be one child's, for a person to decide. Twins share a family name and a
//! birthday, so these alone never make a suspicion.

use std::collections::{BTreeMap, BTreeSet};

use super::{Decisions, Existing, Row, Upn};
use crate::{id::PupilId, text::search_key};

crate::vocabulary! {
    /// What two records have in common.
    pub enum Alike as "PupilsAlike" {
        /// Name and date of birth.
        NameAndBirth = "name_and_birth",
        /// Date of birth, and the name one is called by is a name of the other.
        CalledAndBirth = "called_and_birth",
        /// Date of birth, and the names the other way round.
        TurnedAndBirth = "turned_and_birth",
        /// The name; a date of birth is missing.
        Name = "name",
    }
}

/// Two records that may be one child's.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Suspicion {
    /// The two.
    pub pupils: [PupilId; 2],
    /// What they have in common.
    pub why: Alike,
    /// The same in words, with what else a person should know.
    pub says: String,
}

/// The pairs of pupils who may be one child, surest first, at most `most` of them: alike by name
/// and not different by date of birth or lasting UPN. Leavers count, since who comes back may have
/// been added anew. Different references speak for nothing: two records of a child have two.
#[must_use]
pub fn suspects(pupils: &[Existing], decisions: &Decisions, most: usize) -> Vec<Suspicion> {
    let mut by_name: BTreeMap<(String, String), Vec<usize>> = BTreeMap::new();
    for (n, pupil) in pupils.iter().enumerate() {
        for key in pupil.row.names() {
            by_name.entry(key).or_default().push(n);
        }
    }
    let mut seen: BTreeSet<[usize; 2]> = BTreeSet::new();
    let mut found: Vec<Suspicion> = Vec::new();
    let pairs = by_name.values().flat_map(|bearers| {
        bearers.iter().enumerate().flat_map(|(n, two)| bearers[..n].iter().map(move |one| [*one, *two]))
    });
    for pair in pairs {
        if found.len() == most {
            break;
        }
        let [one, other] = pair.map(|n| &pupils[n]);
        if seen.insert(pair)
            && !decisions.are_apart(one.id, other.id)
            && let Some(why) = alike(&one.row, &other.row)
        {
            found.push(Suspicion { pupils: [one.id, other.id], why, says: says(why, one, other) });
        }
    }
    found.sort_by_key(|suspicion| suspicion.why);
    found
}

fn alike(one: &Row, other: &Row) -> Option<Alike> {
    let lasting = |row: &Row| row.upn.clone().filter(|upn| !upn.is_temporary());
    let same_birth = one.date_of_birth.zip(other.date_of_birth).map(|(one, other)| one == other);
    let two_numbers = lasting(one).zip(lasting(other)).is_some_and(|(one, other)| one != other);
    if same_birth == Some(false) || two_numbers {
        return None;
    }
    let same_name = one.name_key() == other.name_key();
    let turned = || {
        let (given, family) = one.name_key();
        (family, given) == other.name_key()
    };
    match same_birth {
        Some(true) if same_name => Some(Alike::NameAndBirth),
        Some(true) if turned() => Some(Alike::TurnedAndBirth),
        Some(true) => Some(Alike::CalledAndBirth),
        None if same_name => Some(Alike::Name),
        _ => None,
    }
}

fn says(why: Alike, one: &Existing, other: &Existing) -> String {
    let mut says = vec![match why {
        Alike::NameAndBirth => "the same name and date of birth",
        Alike::CalledAndBirth => "the same date of birth, and one is called what is a name of the other",
        Alike::TurnedAndBirth => "the same date of birth, and the names the other way round",
        Alike::Name => "the same name, and a date of birth is missing",
    }];
    let differ =
        |one: &Option<String>, other: &Option<String>| one.is_some() && other.is_some() && one != other;
    if differ(&one.row.pupil_ref, &other.row.pupil_ref) {
        says.push("different references");
    }
    if [one, other].iter().any(|pupil| pupil.row.upn.as_ref().is_some_and(Upn::is_temporary)) {
        says.push("a temporary UPN");
    }
    if one.left != other.left {
        says.push("one has left");
    }
    says.join("; ")
}

impl Row {
    /// What two records may be alike by: the names, the names as called, the names turned round.
    fn names(&self) -> BTreeSet<(String, String)> {
        let (given, family) = self.name_key();
        let called = self.preferred_name.as_ref().map(|name| (search_key(name.as_str()), family.clone()));
        // Turned round it meets the other's own order, so that both stand under both.
        let turned = (family.clone(), given.clone());
        [Some((given, family)), called, Some(turned)].into_iter().flatten().collect()
    }
}

#[cfg(test)]
mod tests;
