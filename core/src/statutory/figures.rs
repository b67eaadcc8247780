//! What is counted of results, with the denominator of the published percentage.

use std::collections::BTreeMap;

use serde::Serialize;

use super::{CheckResult, Outcome, StatutoryRule};
use crate::attainment::percent;

/// One pupil, as counted.
#[derive(Clone, Copy, Debug)]
pub enum Counted<'a> {
    /// With the result of the window; none while it is missing.
    Here(Option<&'a CheckResult>),
    /// Reached it in a window before, and so not checked again: counts as met.
    ReachedBefore,
}

/// How many pupils have a code.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = statutory_code_count))]
pub struct CodeCount {
    /// The code.
    pub code: String,
    /// Pupils.
    pub pupils: u64,
}

/// Figures of some pupils, exact.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = statutory_figures))]
pub struct Figures {
    /// Pupils.
    pub pupils: u64,
    /// With a mark.
    pub marks: u64,
    /// With a code, by code.
    pub codes: Vec<CodeCount>,
    /// Not checked again, having reached it before.
    pub reached_before: u64,
    /// With nothing entered: left out of the denominator, and not 0.
    pub missing: u64,
    /// With a mark, a code that counts, or reached before: what percentages are of.
    pub denominator: u64,
    /// Of these, at the threshold or above, now or before; null while the threshold is not known.
    pub met: Option<u64>,
    /// With a mark below it; null while the threshold is not known.
    pub not_met: Option<u64>,
    /// Met of the denominator, in whole per cent; null while the threshold is not known, and of nobody.
    pub met_percent: Option<u8>,
    /// To be shown with the percentage, where pupils are missing in it.
    pub caution: Option<String>,
}

/// Whether one pupil met it, as [`figures`] counts: none where it is not known, or the pupil is in no denominator.
pub fn met(rule: &StatutoryRule, threshold: Option<u8>, pupil: Counted<'_>) -> Option<bool> {
    threshold?;
    match pupil {
        Counted::ReachedBefore => Some(true),
        Counted::Here(result) => match result?.outcome(threshold) {
            Some(outcome) => Some(outcome == Outcome::Met),
            None => is_in_denominator(rule, result?).then_some(false),
        },
    }
}

/// Whether a result is in the denominator: a mark, or a code that counts.
pub fn is_in_denominator(rule: &StatutoryRule, result: &CheckResult) -> bool {
    match result {
        CheckResult::Mark(_) => true,
        CheckResult::Code(code) => rule.code(code).is_some_and(|known| known.in_denominator),
    }
}

/// Counts pupils. Whoever has no result is missing; a pupil whose code does not count is in no denominator.
pub fn figures<'a>(
    rule: &StatutoryRule,
    threshold: Option<u8>,
    pupils: impl IntoIterator<Item = Counted<'a>>,
) -> Figures {
    let mut out = Figures::default();
    let (mut met, mut not_met) = (0, 0);
    let mut codes: BTreeMap<&str, u64> = BTreeMap::new();
    for pupil in pupils {
        out.pupils += 1;
        let result = match pupil {
            Counted::ReachedBefore => {
                (out.reached_before, met) = (out.reached_before + 1, met + 1);
                continue;
            }
            Counted::Here(None) => {
                out.missing += 1;
                continue;
            }
            Counted::Here(Some(result)) => result,
        };
        match result.outcome(threshold) {
            Some(Outcome::Met) => met += 1,
            Some(Outcome::NotMet) => not_met += 1,
            _ => {}
        }
        match result {
            CheckResult::Mark(_) => out.marks += 1,
            CheckResult::Code(code) => {
                *codes.entry(code).or_default() += 1;
                out.denominator += u64::from(is_in_denominator(rule, result));
            }
        }
    }
    out.denominator += out.marks + out.reached_before;
    out.codes = codes.into_iter().map(|(code, pupils)| CodeCount { code: code.to_owned(), pupils }).collect();
    if threshold.is_some() {
        (out.met, out.not_met) = (Some(met), Some(not_met));
        out.met_percent = percent(met, out.denominator);
    }
    if out.met_percent.is_some() && out.missing > 0 {
        let (missing, pupils, counted) = (out.missing, out.pupils, out.denominator);
        out.caution = Some(format!(
            "Of {pupils} pupils {missing} have nothing entered: the percentage is of {counted}, and says nothing of \
             the others."
        ));
    }
    out
}

/// How many pupils have a mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = statutory_mark_count))]
pub struct MarkCount {
    /// The mark.
    pub mark: u8,
    /// Pupils.
    pub pupils: u64,
}

/// Marks about the threshold.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = statutory_near_threshold))]
pub struct NearThreshold {
    /// The threshold.
    pub threshold: u8,
    /// Pupils by mark, a few marks on either side, lowest first.
    pub marks: Vec<MarkCount>,
    /// Pupils at the threshold.
    pub at_threshold: u64,
    /// Pupils one mark below it.
    pub one_below: u64,
    /// The same in words.
    pub text: String,
}

/// Counts marks about a threshold: those at it beside their neighbours, and no verdict.
pub fn near_threshold(
    rule: &StatutoryRule,
    threshold: u8,
    marks: impl IntoIterator<Item = u8>,
) -> NearThreshold {
    let side = rule.near_threshold.marks_either_side;
    let (from, to) = (threshold.saturating_sub(side), threshold.saturating_add(side).min(rule.maximum));
    let mut counts: BTreeMap<u8, u64> = (from..=to).map(|mark| (mark, 0)).collect();
    for mark in marks {
        counts.entry(mark).and_modify(|pupils| *pupils += 1);
    }
    let at = |mark: Option<u8>| mark.and_then(|mark| counts.get(&mark)).copied().unwrap_or(0);
    let (at_threshold, one_below) = (at(Some(threshold)), at(threshold.checked_sub(1)));
    let list = |of: &mut dyn Iterator<Item = (&u8, &u64)>| {
        of.map(|(mark, pupils)| format!("{pupils} at {mark}")).collect::<Vec<_>>().join(", ")
    };
    let below = list(&mut counts.range(..threshold));
    let above = list(&mut counts.range(threshold + 1..));
    let text = format!(
        "Pupils at the threshold of {threshold}: {at_threshold}. Below it: {below}. Above it: {above}."
    );
    let marks = counts.into_iter().map(|(mark, pupils)| MarkCount { mark, pupils }).collect();
    NearThreshold { threshold, marks, at_threshold, one_below, text }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::pack;

    fn england() -> &'static StatutoryRule {
        &pack("england").unwrap().statutory_check
    }

    fn results(list: &[&str]) -> Vec<Option<CheckResult>> {
        let read = |text: &&str| match text.parse::<u8>() {
            Ok(mark) => Some(CheckResult::Mark(mark)),
            Err(_) => Some(CheckResult::Code((*text).to_owned())).filter(|_| !text.is_empty()),
        };
        list.iter().map(read).collect()
    }

    fn count(list: &[&str], threshold: Option<u8>) -> Figures {
        let results = results(list);
        figures(england(), threshold, results.iter().map(|one| Counted::Here(one.as_ref())))
    }

    #[test]
    fn the_denominator_holds_marks_and_a_d_q_and_nobody_else() {
        // Ten pupils: 32, 31, 40 reach 31; 30 and 0 do not; A, D, Q count, L and the blank do not.
        let seen = count(&["32", "31", "40", "30", "0", "A", "D", "Q", "L", ""], Some(31));
        assert_eq!((seen.pupils, seen.marks, seen.missing, seen.denominator), (10, 5, 1, 8));
        assert_eq!((seen.met, seen.not_met), (Some(3), Some(2)));
        // 3 of 8 is 37.5, and halves go up.
        assert_eq!(seen.met_percent, Some(38));
        let codes: Vec<(&str, u64)> = seen.codes.iter().map(|one| (one.code.as_str(), one.pupils)).collect();
        assert_eq!(codes, [("A", 1), ("D", 1), ("L", 1), ("Q", 1)]);
    }

    #[test]
    fn what_is_said_of_single_pupils_adds_up_to_the_figures() {
        let list = results(&["32", "31", "40", "30", "0", "A", "D", "Q", "L", ""]);
        let pupils = || {
            list.iter().map(|one| Counted::Here(one.as_ref())).chain(std::iter::once(Counted::ReachedBefore))
        };
        let each: Vec<_> = pupils().map(|pupil| met(england(), Some(31), pupil)).collect();
        let (yes, no) = (Some(true), Some(false));
        assert_eq!(each, [yes, yes, yes, no, no, no, no, no, None, None, yes]);
        let figures = figures(england(), Some(31), pupils());
        assert_eq!((figures.met, figures.denominator), (Some(4), 9));
        assert!(pupils().all(|pupil| met(england(), None, pupil).is_none()));
    }

    #[test]
    fn no_threshold_no_percentage_and_nobody_none_either() {
        let seen = count(&["32", "31", "A"], None);
        assert_eq!((seen.met, seen.not_met, seen.met_percent, seen.denominator), (None, None, None, 3));
        let nobody = count(&["L", ""], Some(31));
        assert_eq!((nobody.denominator, nobody.met, nobody.met_percent), (0, Some(0), None));
    }

    #[test]
    fn a_percentage_of_a_few_says_how_many_are_missing() {
        let seen = count(&["40", "", "", "", ""], Some(31));
        assert_eq!((seen.met_percent, seen.missing), (Some(100), 4));
        let caution = seen.caution.unwrap();
        assert!(
            caution.starts_with("Of 5 pupils 4 have nothing entered: the percentage is of 1,"),
            "{caution}"
        );
        assert_eq!(count(&["40", "12"], Some(31)).caution, None);
        assert_eq!(count(&["40", ""], None).caution, None, "no percentage, nothing to be careful with");
    }

    #[test]
    fn who_reached_it_before_counts_by_the_end_of_the_year_after() {
        let here = results(&["31", "12"]);
        let both = here.iter().map(|one| Counted::Here(one.as_ref()));
        let seen = figures(england(), Some(31), both.chain([Counted::ReachedBefore, Counted::ReachedBefore]));
        assert_eq!((seen.pupils, seen.reached_before, seen.denominator), (4, 2, 4));
        assert_eq!((seen.met, seen.met_percent), (Some(3), Some(75)));
    }

    #[test]
    fn a_pile_at_the_threshold_stands_beside_its_neighbours() {
        let marks = [31, 31, 31, 31, 31, 30, 29, 33, 33, 35, 36, 12];
        let near = near_threshold(england(), 31, marks);
        let counts: Vec<(u8, u64)> = near.marks.iter().map(|one| (one.mark, one.pupils)).collect();
        assert_eq!(counts, [(27, 0), (28, 0), (29, 1), (30, 1), (31, 5), (32, 0), (33, 2), (34, 0), (35, 1)]);
        assert_eq!((near.at_threshold, near.one_below), (5, 1));
        assert_eq!(
            near.text,
            "Pupils at the threshold of 31: 5. Below it: 0 at 27, 0 at 28, 1 at 29, 1 at 30. \
             Above it: 0 at 32, 2 at 33, 0 at 34, 1 at 35."
        );
        // At the edge of the marks there are.
        assert_eq!(near_threshold(england(), 39, [40, 40]).marks.last().unwrap().pupils, 2);
        assert_eq!(near_threshold(england(), 0, [0]).at_threshold, 1);
    }
}
