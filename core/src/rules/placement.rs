//! How a placement check is walked.

use serde::Deserialize;

/// The placement check of a new pupil. No study says what good numbers are.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct PlacementRule {
    /// Items asked, at most.
    pub items_most: usize,
    /// Answers running that are not right, after which it stops for the child.
    pub not_right_stop: usize,
    /// How often, in per cent, something known is answered wrongly.
    pub slip_percent: u8,
    /// How often, in per cent, something unknown is answered rightly.
    pub lucky_percent: u8,
    /// The first part of the sequence, in per cent, in which half of all pupils are expected.
    pub start_percent: u8,
    /// Where the next item is asked, in per cent of the weight of the places before it: 50 asks in the middle,
    /// less asks what is more likely known.
    pub ask_percent: u8,
    /// How likely, in per cent, the place lies between the two that are suggested.
    pub sure_percent: u8,
    /// How many GPCs may lie between the two once it is settled.
    pub within_gpcs: usize,
    /// And how many at most, in per cent of the sequence's: of a short one few GPCs are all of it.
    pub within_percent: u8,
    /// Days in which it can be gone on with, the first one included.
    pub days_open: u32,
    /// What is said beside a result.
    pub caution: String,
}

#[cfg(test)]
mod tests {
    use crate::rules::{ids, pack};

    #[test]
    fn every_pack_walks_within_bounds() {
        for id in ids() {
            let rule = &pack(id).unwrap().placement;
            assert!((1..=100).contains(&rule.items_most) && rule.not_right_stop >= 2, "{id}");
            assert!(rule.slip_percent > 0 && rule.lucky_percent > 0, "{id}: no answer rules a place out");
            assert!(rule.slip_percent + rule.lucky_percent < 100, "{id}: right answers must tell something");
            assert!(
                [rule.start_percent, rule.ask_percent].iter().all(|part| (1..=99).contains(part)),
                "{id}"
            );
            assert!((50..=99).contains(&rule.sure_percent) && (1..=60).contains(&rule.days_open), "{id}");
            assert!((1..=50).contains(&rule.within_percent), "{id}: narrower than at the start");
            assert!(!rule.caution.is_empty(), "{id}");
        }
    }
}
