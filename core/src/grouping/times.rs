//! Times of groups as people write them.

use std::ops::Range;

use crate::{
    calendar::LocalTime,
    text::{Title, one_name},
};

/// A time of day as schools write it: 9.15, 9:15, 09:15.
fn clock(text: &str) -> Option<LocalTime> {
    let text = text.trim().replace('.', ":");
    let hours = text.find(':')?;
    format!("{}{text}", &"00"[hours.min(2)..]).parse().ok()
}

/// The minutes of the day that a time says: 9.15, or 9.15-9.45 and 9.15 to 9.45. Where it does not say how long, the
/// one it begins with.
pub(super) fn minutes(time: &Title) -> Option<Range<u16>> {
    let text = time.as_str().replace(['\u{2013}', '\u{2014}'], "-").replace(" to ", "-");
    let mut ends = text.split('-').map(clock);
    let first = ends.next()??.minute();
    match (ends.next(), ends.next()) {
        (None, _) => Some(first..first + 1),
        (Some(last), None) => Some(first..last?.minute()).filter(|minutes| !minutes.is_empty()),
        (Some(_), Some(_)) => None,
    }
}

/// Whether two stretches of a day share a minute.
pub(super) fn meet(one: &Range<u16>, other: &Range<u16>) -> bool {
    one.start < other.end && other.start < one.end
}

/// Whether two groups are at one time; groups without a time are all at once.
pub(super) fn at_once(one: Option<&Title>, other: Option<&Title>) -> bool {
    match (one, other) {
        (Some(one), Some(other)) => match (minutes(one), minutes(other)) {
            (Some(one), Some(other)) => meet(&one, &other),
            _ => one_name(one.as_str(), other.as_str()),
        },
        (one, other) => one == other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_read_as_they_are_written() {
        let title = |text: &str| Title::new(text).unwrap();
        let same = |one: &str, other: &str| at_once(Some(&title(one)), Some(&title(other)));
        assert!(same("9.15", "09:15") && same("9:15", "9.15") && same("After break", "after  break"));
        assert!(!same("9.15", "9.45") && !same("9.15", "quarter past nine") && !same("109.15", "09.15"));
        assert!(at_once(None, None) && !at_once(None, Some(&title("9.15"))));
        // 9.15 to 9.45 holds 9.30 and meets 9.40 to 10.10; what begins as it ends comes after it.
        assert!(same("9.15-9.45", "09:30") && same("9.15 \u{2013} 9.45", "9.40 to 10.10"));
        assert!(!same("9.15-9.45", "9.45") && !same("9.15-9.45", "9.45-10.15"));
        // What ends before it begins, or names three times, is read as words.
        assert!(!same("9.45-9.15", "9.30") && !same("9.15-9.30-9.45", "9.20"));
    }
}
