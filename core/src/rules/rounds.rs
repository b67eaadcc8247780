//! How rounds of checks are kept to their days, and why a pupil may be left out of one.

use serde::Deserialize;

use super::Coded;

/// Rounds of checks.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct RoundRule {
    /// Days after a round closed in which answers given in it are still taken.
    pub late_answers_days: u32,
    /// Days, at most, until an exemption is looked at again.
    pub exemption_review_days: u32,
    /// Why a pupil may be exempt.
    pub exemption_reasons: Vec<Coded>,
}

#[cfg(test)]
mod tests {
    use crate::rules::{ids, pack};

    #[test]
    fn every_pack_bounds_its_rounds() {
        for id in ids() {
            let rule = &pack(id).unwrap().rounds;
            assert!((1..=92).contains(&rule.late_answers_days), "{id}");
            assert!((1..=366).contains(&rule.exemption_review_days), "{id}");
            let codes: std::collections::BTreeSet<_> =
                rule.exemption_reasons.iter().map(|reason| &reason.code).collect();
            assert!(!codes.is_empty() && codes.len() == rule.exemption_reasons.len(), "{id}");
        }
    }
}
