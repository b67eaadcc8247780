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

/// Writes the letter about a child called so; `again` if the child takes the check again after not meeting it, `left` if
/// the child has left, to whom the school promises nothing. Before the threshold is known it has the mark and no outcome.
/// Why a child did not take the check stands in no letter.
pub fn letter(
    rule: &StatutoryRule,
    name: &str,
    result: &CheckResult,
    threshold: Option<u8>,
    again: bool,
    left: bool,
) -> LetterText {
    let told = &rule.letter;
    let said = match result {
        CheckResult::Mark(mark) => format!("{name} read {mark} of {} words correctly.", rule.maximum),
        CheckResult::Code(code) => match rule.code(code) {
            Some(known) => format!("{name} {}", known.for_parents),
            None => format!("{name} has no mark."),
        },
    };
    let with = |text: &str, least: u8| {
        text.replace("{threshold}", &least.to_string()).replace("{maximum}", &rule.maximum.to_string())
    };
    let outcome = result.outcome(threshold).map(|outcome| match (outcome, threshold) {
        (Outcome::Met, Some(least)) => with(&told.met, least),
        (Outcome::NotMet, Some(least)) => {
            let then = Some(told.not_met_then.as_str()).filter(|_| !left);
            let again = told.again.as_deref().filter(|_| again);
            let not_met = with(&told.not_met, least);
            [Some(not_met.as_str()), then, again].into_iter().flatten().collect::<Vec<_>>().join(" ")
        }
        _ => told.not_yet_known.clone(),
    });
    LetterText { what: told.what.clone(), result: said, outcome, is_not: told.is_not.clone() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::{ids, pack};

    #[test]
    fn a_letter_says_the_mark_and_the_outcome_only_once_it_is_known() {
        let rule = &pack("england").unwrap().statutory_check;
        let of = |mark, threshold| letter(rule, "Zo", &CheckResult::Mark(mark), threshold, true, false);
        assert_eq!(of(31, Some(31)).result, "Zo read 31 of 40 words correctly.");
        let met = of(31, Some(31)).outcome.unwrap();
        assert_eq!(met, "This is at or above the mark set for the check, which was 31 of 40.");
        let below = of(30, Some(31)).outcome.unwrap();
        assert!(
            below.contains("below the mark set for the check, which was 31 of 40.")
                && below.ends_with("taken again next year."),
            "{below}"
        );
        let before = of(31, None).outcome.unwrap();
        assert!(before.contains("published later") && !before.contains("below") && !before.contains("above"));
        let away = letter(rule, "Zo", &CheckResult::Code("A".into()), Some(31), true, false);
        assert!(away.result.starts_with("Zo was away") && away.outcome.is_none());
    }

    #[test]
    fn nobody_is_told_to_take_it_again_who_will_not() {
        let of = |id: &str, again| {
            let rule = &pack(id).unwrap().statutory_check;
            letter(rule, "Zo", &CheckResult::Mark(3), Some(28), again, false).outcome.unwrap()
        };
        assert!(!of("england", false).contains("again"));
        assert!(of("england", true).contains("again"));
        let other = of("south-australia", true);
        assert!(!other.contains("again") && other.contains("was 28 of 40."), "{other}");
    }

    #[test]
    fn nobody_who_left_is_promised_help() {
        for id in ids() {
            let rule = &pack(id).unwrap().statutory_check;
            let of = |left| letter(rule, "Zo", &CheckResult::Mark(3), Some(28), true, left).outcome.unwrap();
            assert!(of(false).contains("help"), "{id}");
            assert!(!of(true).contains("help"), "{id}");
            assert!(of(true).contains("was 28 of 40."), "{id}");
        }
    }

    #[test]
    fn no_letter_of_any_pack_names_a_difficulty_but_to_say_what_it_is_not() {
        for id in ids() {
            let rule = &pack(id).unwrap().statutory_check;
            let told = &rule.letter;
            let texts = [&told.what, &told.met, &told.not_met, &told.not_met_then, &told.not_yet_known];
            let texts = texts.into_iter().chain(&told.again);
            let texts = texts.chain(rule.codes.iter().map(|code| &code.for_parents));
            for text in texts {
                for word in ["dyslexi", "diagnos", "difficult", "at risk", "fail", "behind", "disab"] {
                    assert!(!text.to_lowercase().contains(word), "{id}: {text}");
                }
            }
            assert!(told.is_not.contains("not a diagnosis"), "{id}");
        }
    }
}
