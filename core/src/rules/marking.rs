//! How pupils answer, and how marks are looked at a second time.

use serde::Deserialize;

use super::{Caution, Coded};

/// Rules of marking.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct MarkingRule {
    /// What is held of a pupil's usual accent and speech.
    pub speech_note: SpeechNoteRule,
    /// Checks that are not accessible to a pupil.
    pub not_accessible: NotAccessibleRule,
    /// Second marking of a sample.
    pub second: SecondMarkingRule,
}

/// What is held of a pupil's usual accent and speech.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct SpeechNoteRule {
    /// Pairs of sounds, at most.
    pub pairs_most: usize,
    /// To be shown with it.
    pub caution: String,
}

/// Checks that are not accessible to a pupil.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct NotAccessibleRule {
    /// Why: what stands between the check and the pupil, never what the pupil has.
    pub reasons: Vec<Coded>,
    /// Days ahead, at most, by which it is looked at again.
    pub review_days_most: u32,
    /// Days before that from which on it is listed.
    pub due_within_days: u32,
    /// To be shown with it.
    pub caution: String,
}

/// Second marking of a sample. No study says what good numbers are.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct SecondMarkingRule {
    /// Pupils in one sample, at most.
    pub pupils_most: usize,
    /// Items marked twice below which no interval of kappa is believed.
    pub interval_from: usize,
    /// To be shown with the figures.
    pub cautions: Vec<Caution>,
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use crate::rules::{ids, pack};

    #[test]
    fn every_pack_bounds_marking() {
        for id in ids() {
            let marking = &pack(id).unwrap().marking;
            assert!((1..=24).contains(&marking.speech_note.pairs_most), "{id}");
            let reach = &marking.not_accessible;
            assert!(reach.due_within_days < reach.review_days_most && reach.review_days_most <= 366, "{id}");
            let codes: BTreeSet<&str> = reach.reasons.iter().map(|reason| reason.code.as_str()).collect();
            assert!(codes.len() == reach.reasons.len() && !codes.is_empty(), "{id}: a code twice, or none");
            // A reason is about the check, and names no condition of the child.
            for reason in &reach.reasons {
                let text = reason.label.to_lowercase();
                let named = ["autis", "dyslex", "deaf", "blind", "mute", "disab", "impair", "disorder"];
                assert!(named.iter().all(|word| !text.contains(word)), "{id}: {text}");
            }
            let second = &marking.second;
            assert!(
                second.pupils_most > 0 && second.interval_from >= 10 && !second.cautions.is_empty(),
                "{id}"
            );
            assert!(!marking.speech_note.caution.is_empty() && !reach.caution.is_empty(), "{id}");
        }
    }
}
