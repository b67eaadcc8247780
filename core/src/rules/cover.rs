//! What a cover teacher is given.

use chrono::NaiveTime;
use serde::Deserialize;

/// The cover page and the links that open it.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct CoverRule {
    /// How many days ahead a link can be made, today being none.
    pub days_ahead: u32,
    /// When a link ends on its day, by the school's clock.
    pub valid_until: NaiveTime,
    /// What to do at the end of the lesson, in order.
    pub hand_back: Vec<String>,
}

#[cfg(test)]
mod tests {
    use crate::rules::{ids, pack};

    #[test]
    fn every_pack_says_what_cover_is_given() {
        for id in ids() {
            let cover = &pack(id).unwrap().cover;
            assert!((1..=14).contains(&cover.days_ahead), "{id}");
            assert!((12..=23).contains(&chrono::Timelike::hour(&cover.valid_until)), "{id}");
            // They share one side of paper with the rest.
            assert!((1..=5).contains(&cover.hand_back.len()), "{id}");
            assert!(cover.hand_back.iter().all(|line| (1..=120).contains(&line.len())), "{id}");
        }
    }
}
