//! Optional fields of a pupil by day. Each word counts from its day on, whatever was said before of
//! the days from then on; what it overrides stays on record. No word is no value: neither "no" nor
//! "unknown".

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::{
    id::StaffId,
    time::{Date, Instant},
};

/// The fewest words of a purpose: one alone names the field again.
const PURPOSE_WORDS: usize = 3;

/// Whether a text says in words what a field is recorded for.
#[must_use]
pub fn is_purpose(text: &str) -> bool {
    let is_word = |word: &&str| word.chars().filter(|c| c.is_alphabetic()).count() > 1;
    text.split_whitespace().filter(is_word).count() >= PURPOSE_WORDS
}

/// What was said of one field of a pupil.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Said {
    /// The school's version at which it was said: what was said later counts.
    pub v: i64,
    /// The day from which it counts.
    pub from: Date,
    /// A code of the rule pack; none takes back what was recorded.
    pub value: Option<String>,
    /// Who entered it.
    pub entered_by: StaffId,
    /// When.
    pub at: Instant,
}

/// All that was said of a pupil by field, each in the order it was said.
pub type SaidFields = BTreeMap<String, Vec<Said>>;

/// Days of one value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stretch<'a> {
    /// The first.
    pub from: Date,
    /// The last, if it is known.
    pub until: Option<Date>,
    /// The value.
    pub value: &'a str,
}

/// The value on a day; none where nothing is recorded.
#[must_use]
pub fn value_on(said: &[Said], day: Date) -> Option<&str> {
    said.iter().rev().find(|one| one.from <= day).and_then(|one| one.value.as_deref())
}

/// The days of each value, earliest first. Days between them are not recorded.
#[must_use]
pub fn stretches(said: &[Said]) -> Vec<Stretch<'_>> {
    let mut turns: Vec<(Date, Option<&str>)> = Vec::new();
    for one in said {
        turns.retain(|(from, _)| *from < one.from);
        if turns.last().and_then(|(_, value)| *value) != one.value.as_deref() {
            turns.push((one.from, one.value.as_deref()));
        }
    }
    let ends = turns.iter().skip(1).map(|(from, _)| from.pred_opt()).chain([None]);
    let lines = turns.iter().zip(ends).filter_map(|(&(from, value), until)| Some((from, until, value?)));
    lines.map(|(from, until, value)| Stretch { from, until, value }).collect()
}

/// What is on record of two records that are one child's: of a field both speak of, the kept one's.
#[must_use]
pub fn either(kept: &SaidFields, other: &SaidFields) -> SaidFields {
    let mut fields = other.clone();
    fields.extend(kept.clone());
    fields
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Date {
        text.parse().unwrap()
    }

    fn said(words: &[(&str, Option<&str>)]) -> Vec<Said> {
        let one = |(v, (from, value)): (i64, &(&str, Option<&str>))| Said {
            v,
            from: day(from),
            value: value.map(str::to_owned),
            entered_by: StaffId::from_uuid(uuid::Uuid::nil()),
            at: Instant::from_micros(0),
        };
        (1..).zip(words).map(one).collect()
    }

    fn shown(words: &[(&str, Option<&str>)]) -> Vec<String> {
        let said = said(words);
        let until = |until: Option<Date>| until.map(|day| day.to_string()).unwrap_or_default();
        stretches(&said).iter().map(|s| format!("{} {}/{}", s.value, s.from, until(s.until))).collect()
    }

    #[test]
    fn a_word_counts_from_its_day_on_whatever_was_said_before() {
        let words = [("2026-09-01", Some("N")), ("2026-11-02", Some("K"))];
        assert_eq!(shown(&words), ["N 2026-09-01/2026-11-01", "K 2026-11-02/"]);
        let of = |on: &str| value_on(&said(&words), day(on)).map(str::to_owned);
        assert_eq!(
            [of("2026-08-31"), of("2026-11-01"), of("2026-11-02")].map(Option::unwrap_or_default),
            ["", "N", "K"]
        );
        // Said last, of a day before: it counts from then on.
        let corrected = [("2026-09-01", Some("N")), ("2026-11-02", Some("K")), ("2026-10-05", Some("E"))];
        assert_eq!(shown(&corrected), ["N 2026-09-01/2026-10-04", "E 2026-10-05/"]);
        // Taken back: not recorded, which is neither unknown nor no.
        let back = [("2026-09-01", Some("K")), ("2026-10-05", None), ("2026-12-01", Some("U"))];
        assert_eq!(shown(&back), ["K 2026-09-01/2026-10-04", "U 2026-12-01/"]);
        assert_eq!(value_on(&said(&back), day("2026-10-05")), None);
        assert_eq!(shown(&[("2026-09-01", None)]), Vec::<String>::new());
        // The same once more makes no second stretch.
        assert_eq!(shown(&[("2026-09-01", Some("K")), ("2026-10-05", Some("K"))]), ["K 2026-09-01/"]);
    }

    #[test]
    fn of_two_records_the_kept_one_speaks_first() {
        let one = SaidFields::from([("sex".to_owned(), said(&[("2026-09-01", Some("F"))]))]);
        let two = SaidFields::from([
            ("sex".to_owned(), said(&[("2026-10-05", Some("M"))])),
            ("sen".to_owned(), said(&[("2026-10-05", Some("K"))])),
        ]);
        let both = either(&one, &two);
        assert_eq!((&both["sex"], &both["sen"]), (&one["sex"], &two["sen"]));
    }

    #[test]
    fn a_purpose_is_said_in_words() {
        assert!(is_purpose("Gap report for governors"));
        for thin in ["", "SEN", "because of SEN", "- - - -", "a b c d"] {
            assert_eq!(is_purpose(thin), thin == "because of SEN", "{thin}");
        }
    }
}
