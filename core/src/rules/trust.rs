//! What is said beside figures of several schools.

use serde::Deserialize;

use super::Coded;

/// Schools side by side.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct TrustRule {
    /// To be shown with the figures.
    pub caution: String,
    /// Why a school is not compared, in words.
    pub not_compared: Vec<Coded>,
}

impl TrustRule {
    /// Why, in words.
    #[must_use]
    pub fn says(&self, code: &str) -> String {
        Coded::find(&self.not_compared, code).map_or_else(String::new, |one| one.label.clone())
    }
}

#[cfg(test)]
mod tests {
    use crate::{
        rules::{ids, pack},
        trust::Apart,
    };

    #[test]
    fn every_reason_has_its_words_in_every_pack() {
        for id in ids() {
            let rule = &pack(id).unwrap().trust;
            let codes: Vec<&str> = rule.not_compared.iter().map(|one| one.code.as_str()).collect();
            assert_eq!(codes, Apart::ALL.iter().map(|why| why.as_str()).collect::<Vec<_>>(), "{id}");
            assert!(rule.not_compared.iter().all(|one| !one.label.is_empty()), "{id}");
        }
    }
}
