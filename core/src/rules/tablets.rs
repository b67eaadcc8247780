//! How long what came from tablets is kept beside the records.

use serde::Deserialize;

/// Tablets.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct TabletRule {
    /// Days for which the answer to an operation is kept for a tablet that has not said that it knows.
    pub answers_days: u32,
    /// Days for which what a revoked tablet still sent is kept for the lead.
    pub held_ops_days: u32,
    /// The most of that of one person on one tablet.
    pub held_ops_most: u32,
    /// The same in kilobytes of 1,000.
    pub held_ops_kilobytes_most: u32,
}

#[cfg(test)]
mod tests {
    use crate::rules::{ids, pack};

    #[test]
    fn every_pack_keeps_what_tablets_sent_over_a_summer_and_not_for_ever() {
        for id in ids() {
            let rule = &pack(id).unwrap().tablets;
            assert!((60..=400).contains(&rule.answers_days), "{id}");
            assert!((60..=400).contains(&rule.held_ops_days), "{id}");
            assert!((500..=10_000).contains(&rule.held_ops_most), "{id}");
            assert!((1_000..=20_000).contains(&rule.held_ops_kilobytes_most), "{id}");
        }
    }
}
