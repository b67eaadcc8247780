//! What a person types as a result, and what it comes to.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::StatutoryRule;

crate::vocabulary! {
    /// What a mark comes to. Worked out each time and kept nowhere.
    pub enum Outcome as "statutory_outcome" {
        /// At the threshold or above.
        Met = "met",
        /// Below it.
        NotMet = "not_met",
        /// The threshold is not known yet.
        NotYetKnown = "not_yet_known",
    }
}

/// A result: a mark, or a code in its place.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum CheckResult {
    /// Words read rightly, 0 to the pack's maximum.
    Mark(u8),
    /// One of the pack's codes.
    Code(String),
}

impl CheckResult {
    /// The mark, where there is one.
    pub const fn mark(&self) -> Option<u8> {
        match self {
            Self::Mark(mark) => Some(*mark),
            Self::Code(_) => None,
        }
    }

    /// The code, where there is one.
    pub fn code(&self) -> Option<&str> {
        match self {
            Self::Mark(_) => None,
            Self::Code(code) => Some(code),
        }
    }

    /// What it comes to; a code comes to nothing.
    pub fn outcome(&self, threshold: Option<u8>) -> Option<Outcome> {
        let mark = self.mark()?;
        Some(match threshold {
            None => Outcome::NotYetKnown,
            Some(least) if mark >= least => Outcome::Met,
            Some(_) => Outcome::NotMet,
        })
    }
}

impl std::fmt::Display for CheckResult {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Mark(mark) => write!(f, "{mark}"),
            Self::Code(code) => f.write_str(code),
        }
    }
}

/// What has to be reached, by year: the pack's, what the school entered once it was published, and what the pack
/// says of every year.
#[derive(Clone, Debug)]
pub struct Thresholds<'a> {
    rule: &'a StatutoryRule,
    entered: BTreeMap<i32, u8>,
}

impl<'a> Thresholds<'a> {
    /// With what the school entered.
    pub const fn new(rule: &'a StatutoryRule, entered: BTreeMap<i32, u8>) -> Self {
        Self { rule, entered }
    }

    /// The least mark that meets the check of a year; none while it is not known.
    pub fn of(&self, year: i32) -> Option<u8> {
        self.of_pack(year).or_else(|| self.entered.get(&year).copied()).or(self.rule.threshold_default)
    }

    /// The pack's own for a year, which nobody enters.
    pub fn of_pack(&self, year: i32) -> Option<u8> {
        self.rule.thresholds.iter().find(|one| one.year == year).and_then(|one| one.threshold)
    }
}

/// Why a text is no result.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ResultError {
    /// Below 0 or above the maximum.
    #[error("must be a whole mark from 0 to {0}")]
    OutOfRange(u8),
    /// As a number that was cut or stuck to another is.
    #[error("is written with zeros before it, as a slip of the hand is: enter {0} if that is the mark")]
    NeedlessZeros(u8),
    /// Not whole.
    #[error("must be a whole mark: each word is right or wrong")]
    NotWhole,
    /// Both.
    #[error("holds a code and a mark: a code stands in place of a mark, so enter one of the two")]
    CodeAndMark,
    /// Entered by nobody.
    #[error("{0} is worked out from the mark: enter the mark")]
    Derived(String),
    /// Neither.
    #[error("is neither a mark from 0 to {maximum} nor {codes}")]
    Unknown {
        /// The most marks.
        maximum: u8,
        /// The codes, for a person.
        codes: String,
    },
}

/// Reads what a person typed or a cell holds. Nothing, or nothing but spaces, is no result and never 0. Spaces
/// around it and small letters mean nothing by themselves (cells are full of them), so they are taken; whatever
/// could mean two things is not.
///
/// # Errors
/// [`ResultError`].
pub fn read_result(text: &str, rule: &StatutoryRule) -> Result<Option<CheckResult>, ResultError> {
    let text = text.trim();
    if text.is_empty() {
        return Ok(None);
    }
    if let Some(code) = rule.code(text) {
        return Ok(Some(CheckResult::Code(code.code.clone())));
    }
    if let Some(derived) = rule.derived_codes.iter().find(|one| one.code.eq_ignore_ascii_case(text)) {
        return Err(ResultError::Derived(derived.code.clone()));
    }
    let digits = text.chars().any(|c| c.is_ascii_digit());
    if text.chars().all(|c| c.is_ascii_digit()) {
        let mark: Option<u8> = text.parse().ok().filter(|mark| *mark <= rule.maximum);
        let mark = mark.ok_or(ResultError::OutOfRange(rule.maximum))?;
        return match text.len() > 1 && text.starts_with('0') {
            true => Err(ResultError::NeedlessZeros(mark)),
            false => Ok(Some(CheckResult::Mark(mark))),
        };
    }
    if digits && text.parse::<f64>().is_ok_and(|number| number < 0.0 && number.fract() == 0.0) {
        return Err(ResultError::OutOfRange(rule.maximum));
    }
    if digits && text.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+' | '½')) {
        return Err(ResultError::NotWhole);
    }
    let letters: String = text.chars().filter(|c| c.is_alphabetic()).collect();
    if digits && rule.code(&letters).is_some() {
        return Err(ResultError::CodeAndMark);
    }
    let codes: Vec<&str> = rule.codes.iter().map(|one| one.code.as_str()).collect();
    let codes = if codes.is_empty() {
        "anything else that counts".into()
    } else {
        format!("one of {}", codes.join(", "))
    };
    Err(ResultError::Unknown { maximum: rule.maximum, codes })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::pack;

    fn england() -> &'static StatutoryRule {
        &pack("england").unwrap().statutory_check
    }

    fn australia() -> &'static StatutoryRule {
        &pack("south-australia").unwrap().statutory_check
    }

    #[test]
    fn what_people_type_is_read_or_refused() {
        let mark = |mark| Ok(Some(CheckResult::Mark(mark)));
        let code = |code: &str| Ok(Some(CheckResult::Code(code.into())));
        let range = Err(ResultError::OutOfRange(40));
        for (text, expected) in [
            ("32", mark(32)),
            (" 0", mark(0)),
            ("0", mark(0)),
            ("40", mark(40)),
            ("07", Err(ResultError::NeedlessZeros(7))),
            ("\u{a0}31\t", mark(31)),
            ("A", code("A")),
            ("a", code("A")),
            ("A ", code("A")),
            (" q", code("Q")),
            ("", Ok(None)),
            ("   ", Ok(None)),
            ("-1", range.clone()),
            ("41", range.clone()),
            ("300", range.clone()),
            ("99999999999999999999", range),
            ("12.5", Err(ResultError::NotWhole)),
            ("12,5", Err(ResultError::NotWhole)),
            ("12½", Err(ResultError::NotWhole)),
            ("32.0", Err(ResultError::NotWhole)),
            ("A32", Err(ResultError::CodeAndMark)),
            ("32 a", Err(ResultError::CodeAndMark)),
            ("A 0", Err(ResultError::CodeAndMark)),
            ("Wa", Err(ResultError::Derived("Wa".into()))),
            ("wt", Err(ResultError::Derived("Wt".into()))),
        ] {
            assert_eq!(read_result(text, england()), expected, "{text:?}");
        }
        for text in ["x", "AA", "thirty", "32/40", "٣٢", "B4", "1e1", "NaN", "-", "O"] {
            let refused = read_result(text, england()).unwrap_err();
            assert_ne!(refused, ResultError::CodeAndMark, "{text:?}");
        }
        assert_eq!(
            read_result("X", england()).unwrap_err().to_string(),
            "is neither a mark from 0 to 40 nor one of A, D, L, Q"
        );
        // A pack without codes takes none.
        assert!(read_result("A", australia()).is_err());
        assert_eq!(read_result("28", australia()), Ok(Some(CheckResult::Mark(28))));
    }

    #[test]
    fn an_outcome_is_one_of_three_and_codes_have_none() {
        let of = |mark, threshold| CheckResult::Mark(mark).outcome(threshold);
        assert_eq!(of(31, Some(32)), Some(Outcome::NotMet));
        assert_eq!(of(32, Some(32)), Some(Outcome::Met));
        assert_eq!(of(31, Some(31)), Some(Outcome::Met));
        assert_eq!([of(0, None), of(40, None)], [Some(Outcome::NotYetKnown); 2]);
        assert_eq!(CheckResult::Code("A".into()).outcome(Some(32)), None);
        assert_eq!(CheckResult::Code("A".into()).outcome(None), None);
    }

    #[test]
    fn thresholds_are_those_on_record_and_unknown_until_published() {
        let known = Thresholds::new(england(), BTreeMap::new());
        for year in 2012..=2025 {
            assert_eq!(known.of(year), Some(32), "{year}");
        }
        assert_eq!((known.of(2026), known.of(2027), known.of(2011)), (Some(31), None, None));
        let entered = Thresholds::new(england(), BTreeMap::from([(2027, 30), (2026, 5)]));
        // What the pack has is not for a school to change.
        assert_eq!((entered.of(2027), entered.of(2026), entered.of(2028)), (Some(30), Some(31), None));
        let before = Thresholds::new(australia(), BTreeMap::new());
        assert_eq!([before.of(2018), before.of(2026), before.of(2030)], [Some(28); 3]);
        let confirmed = Thresholds::new(australia(), BTreeMap::from([(2027, 29)]));
        assert_eq!((confirmed.of(2027), confirmed.of(2028)), (Some(29), Some(28)));
    }

    #[test]
    fn a_mark_with_needless_zeros_is_a_slip() {
        let rule = &pack("england").unwrap().statutory_check;
        for (typed, mark) in [("007", 7), ("07", 7), ("00", 0), (" 012 ", 12)] {
            assert_eq!(read_result(typed, rule), Err(ResultError::NeedlessZeros(mark)), "{typed}");
        }
        assert_eq!(read_result("0", rule), Ok(Some(CheckResult::Mark(0))));
        assert_eq!(read_result("20", rule), Ok(Some(CheckResult::Mark(20))));
        assert_eq!(read_result("099", rule), Err(ResultError::OutOfRange(40)));
    }
}
