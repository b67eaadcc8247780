//! What a pupil has to learn, and what being taught from a place on costs.

use serde::{Deserialize, Serialize};

use crate::rules::GroupingRule;

/// How one item of the sequence stands with one pupil.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Need {
    /// Secure by the school's rule.
    Secure,
    /// Taught and not checked: nobody knows. It is nothing to catch up, and met again where it is taught again.
    Unknown,
    /// Missed, or checked and not secure.
    Gap,
    /// Not taught to this pupil.
    Untaught,
}

impl Need {
    const fn is_open(self) -> bool {
        matches!(self, Self::Gap | Self::Untaught)
    }

    const fn is_met_again(self) -> bool {
        matches!(self, Self::Secure | Self::Unknown)
    }
}

/// The costs of places.
#[derive(Clone, Copy, Debug)]
pub(super) struct Needs<'a> {
    /// By lesson its first item; the number of items last.
    pub(super) lessons: &'a [usize],
    /// The weights.
    pub(super) rule: &'a GroupingRule,
}

impl Needs<'_> {
    /// By place, what it costs the pupil to be taught from there on.
    pub(super) fn costs(&self, needs: &[Need]) -> Vec<u32> {
        let sums = |count: fn(Need) -> bool| -> Vec<u32> {
            let mut sums = vec![0];
            sums.extend(needs.iter().scan(0, |sum, need| {
                *sum += u32::from(count(*need));
                Some(*sum)
            }));
            sums
        };
        let (open, taught) = (sums(Need::is_open), sums(Need::is_met_again));
        let at = |sums: &[u32], item: usize| sums.get(item).or(sums.last()).copied().unwrap_or_default();
        let cost = |from: &usize| {
            let again = at(&taught, needs.len()) - at(&taught, *from);
            self.rule.not_learned * at(&open, *from) + self.rule.met_again * again
        };
        self.lessons.iter().map(cost).collect()
    }

    /// The items not learned before a place; the open ones and those met again of the lessons from it on.
    pub(super) fn told(&self, needs: &[Need], place: usize) -> (Vec<usize>, Vec<usize>, Vec<usize>) {
        let from = self.lessons.get(place).copied().unwrap_or(needs.len()).min(needs.len());
        let to = self.horizon(place).min(needs.len());
        let those = |items: std::ops::Range<usize>, which: fn(Need) -> bool| -> Vec<usize> {
            items.filter(|item| which(needs[*item])).collect()
        };
        (those(0..from, Need::is_open), those(from..to, Need::is_open), those(from..to, Need::is_met_again))
    }

    /// The first item beyond the lessons that are told of from a place on.
    fn horizon(&self, place: usize) -> usize {
        let last = place.saturating_add(self.rule.lessons_ahead);
        self.lessons.get(last).or(self.lessons.last()).copied().unwrap_or_default()
    }
}
