//! What a letter to parents says of one pupil's result.

use super::{CheckResult, Outcome, StatutoryRule};

/// The paragraphs of a letter, in order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LetterText {
    /// What the check is.
    pub what: String,
    /// The result.
    pub result: String,
    /// What it comes to; none for a code.
    pub outcome: Option<String>,
    /// What it is not.
    pub is_not: String,
}

/// Writes the letter about a child called so. Before the threshold is known it has the mark and no outcome.
/// Why a child did not take the check stands in no letter.
pub fn letter(rule: &StatutoryRule, name: &str, result: &CheckResult, threshold: Option<u8>) -> LetterText {
    let said = match result {
        CheckResult::Mark(mark) => format!("{name} read {mark} of {} words correctly.", rule.maximum),
        CheckResult::Code(code) => match rule.code(code) {
            Some(known) => format!("{name} {}", known.for_parents),
            None => format!("{name} has no mark."),
        },
    };
    let outcome = result.outcome(threshold).map(|outcome| match (outcome, threshold) {
        (Outcome::Met, Some(least)) => format!("{} It was {least}.", rule.letter.met),
        (Outcome::NotMet, Some(least)) => format!("{} It was {least}.", rule.letter.not_met),
        _ => rule.letter.not_yet_known.clone(),
    });
    LetterText { what: rule.letter.what.clone(), result: said, outcome, is_not: rule.letter.is_not.clone() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::{ids, pack};

    #[test]
    fn a_letter_says_the_mark_and_the_outcome_only_once_it_is_known() {
        let rule = &pack("england").unwrap().statutory_check;
        let of = |mark, threshold| letter(rule, "Zo", &CheckResult::Mark(mark), threshold);
        assert_eq!(of(31, Some(31)).result, "Zo read 31 of 40 words correctly.");
        let met = of(31, Some(31)).outcome.unwrap();
        assert!(met.contains("at or above") && met.ends_with("It was 31."), "{met}");
        let below = of(30, Some(31)).outcome.unwrap();
        assert!(below.contains("below the mark") && below.contains("again"), "{below}");
        let before = of(31, None).outcome.unwrap();
        assert!(before.contains("published later") && !before.contains("below") && !before.contains("above"));
        let away = letter(rule, "Zo", &CheckResult::Code("A".into()), Some(31));
        assert!(away.result.starts_with("Zo was away") && away.outcome.is_none());
    }

    #[test]
    fn no_letter_of_any_pack_names_a_difficulty_but_to_say_what_it_is_not() {
        for id in ids() {
            let rule = &pack(id).unwrap().statutory_check;
            let told = &rule.letter;
            let texts = [&told.what, &told.met, &told.not_met, &told.not_yet_known];
            let texts = texts.into_iter().chain(rule.codes.iter().map(|code| &code.for_parents));
            for text in texts {
                for word in ["dyslexi", "diagnos", "difficult", "at risk", "fail", "behind", "disab"] {
                    assert!(!text.to_lowercase().contains(word), "{id}: {text}");
                }
            }
            assert!(told.is_not.contains("not a diagnosis"), "{id}");
        }
    }
}
