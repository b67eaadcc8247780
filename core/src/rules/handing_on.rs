//! What is handed on of a pupil: to next year's adults, and to another school.

use serde::Deserialize;

/// What is handed on of a pupil.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct HandingOnRule {
    /// The line on what helped: characters, at most.
    pub what_helped_characters: usize,
    /// To be shown where that line is written.
    pub what_helped_caution: String,
    /// To be shown with what is handed on in the school.
    pub caution: String,
    /// To be shown with what another school gets.
    pub transfer_caution: String,
}

#[cfg(test)]
mod tests {
    use crate::rules::{ids, pack};

    #[test]
    fn every_pack_keeps_the_line_short_and_says_what_stays_out_of_it() {
        for id in ids() {
            let rule = &pack(id).unwrap().handing_on;
            assert!((40..=200).contains(&rule.what_helped_characters), "{id}");
            assert!(rule.what_helped_caution.contains("No diagnosis"), "{id}");
            assert!(!rule.caution.is_empty() && !rule.transfer_caution.is_empty(), "{id}");
        }
    }
}
