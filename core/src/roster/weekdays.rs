//! The weekdays on which a pupil comes to a group's lessons.

use std::collections::BTreeSet;

use chrono::Datelike as _;

use crate::time::{Date, Span};

crate::vocabulary! {
    /// A day of the week.
    pub enum Weekday {
        /// The first.
        Monday = "monday",
        /// The second.
        Tuesday = "tuesday",
        /// The third.
        Wednesday = "wednesday",
        /// The fourth.
        Thursday = "thursday",
        /// The fifth.
        Friday = "friday",
        /// The sixth.
        Saturday = "saturday",
        /// The seventh.
        Sunday = "sunday",
    }
}

impl Weekday {
    /// The weekday of a date.
    pub fn of(on: Date) -> Self {
        match on.weekday() {
            chrono::Weekday::Mon => Self::Monday,
            chrono::Weekday::Tue => Self::Tuesday,
            chrono::Weekday::Wed => Self::Wednesday,
            chrono::Weekday::Thu => Self::Thursday,
            chrono::Weekday::Fri => Self::Friday,
            chrono::Weekday::Sat => Self::Saturday,
            chrono::Weekday::Sun => Self::Sunday,
        }
    }
}

/// Some days of the week, at least one. As a number, bit 0 is Monday.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Weekdays(i16);

impl Weekdays {
    /// These days; none where there is none.
    pub fn new(days: &BTreeSet<Weekday>) -> Option<Self> {
        let bits = Weekday::ALL.iter().zip(0..).filter(|(day, _)| days.contains(day));
        Self::from_bits(bits.fold(0, |all, (_, n)| all | 1 << n))
    }

    /// From the number they are stored as.
    pub const fn from_bits(bits: i16) -> Option<Self> {
        if matches!(bits, 1..=127) { Some(Self(bits)) } else { None }
    }

    /// The number they are stored as, 1 to 127.
    pub const fn bits(self) -> i16 {
        self.0
    }

    /// The days, Monday first.
    pub fn days(self) -> Vec<Weekday> {
        Weekday::ALL.iter().zip(0..).filter(|(_, n)| self.0 >> n & 1 == 1).map(|(day, _)| *day).collect()
    }

    /// Whether a date lies on one of them.
    pub fn holds(self, on: Date) -> bool {
        self.0 >> on.weekday().num_days_from_monday() & 1 == 1
    }
}

/// The weekdays that count on a day, of lines that each count from a day on; none for every day.
pub fn weekdays_on(lines: &[(Date, Option<Weekdays>)], on: Date) -> Option<Weekdays> {
    lines.iter().filter(|(from, _)| *from <= on).max_by_key(|(from, _)| *from).and_then(|(_, days)| *days)
}

/// Whether a member comes on a day.
pub fn comes_on(lines: &[(Date, Option<Weekdays>)], on: Date) -> bool {
    weekdays_on(lines, on).is_none_or(|days| days.holds(on))
}

/// The lines of one child who had two records in a group, each with its days in the group and its
/// lines: where the record kept was in the group its own count, elsewhere the other's.
#[must_use]
pub fn weekdays_of_both(
    kept: (&[Span], &[(Date, Option<Weekdays>)]),
    other: (&[Span], &[(Date, Option<Weekdays>)]),
) -> Vec<(Date, Option<Weekdays>)> {
    let mut turns = BTreeSet::new();
    for (spans, lines) in [kept, other] {
        turns.extend(spans.iter().map(|span| span.from));
        turns.extend(spans.iter().filter_map(|span| span.until?.succ_opt()));
        turns.extend(lines.iter().map(|(from, _)| *from));
    }
    let mut out = Vec::new();
    for day in turns {
        let said = |(spans, lines): (&[Span], &[(Date, Option<Weekdays>)])| {
            spans.iter().any(|span| span.holds(day)).then(|| weekdays_on(lines, day))
        };
        let Some(days) = said(kept).or_else(|| said(other)) else { continue };
        if weekdays_on(&out, day) != days {
            out.push((day, days));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Date {
        text.parse().unwrap()
    }

    #[test]
    fn days_travel_as_a_number_and_back() {
        let days = BTreeSet::from([Weekday::Friday, Weekday::Monday]);
        // Monday is 1, Friday 16.
        let set = Weekdays::new(&days).unwrap();
        assert_eq!((set.bits(), set.days()), (17, vec![Weekday::Monday, Weekday::Friday]));
        assert_eq!(Weekdays::new(&BTreeSet::new()), None);
        assert_eq!([0, 128, -1].map(Weekdays::from_bits), [None, None, None]);
        assert_eq!(Weekdays::from_bits(64).unwrap().days(), [Weekday::Sunday]);
    }

    #[test]
    fn the_latest_line_begun_counts() {
        let lines = [(day("2026-11-09"), Weekdays::from_bits(1)), (day("2026-11-23"), None)];
        // 9 November 2026 is a Monday; before that day there is no line.
        let comes = |on| comes_on(&lines, day(on));
        assert_eq!(
            ["2026-11-05", "2026-11-09", "2026-11-10", "2026-11-16"].map(comes),
            [true, true, false, true]
        );
        // From the 23rd on every day again.
        assert_eq!(["2026-11-20", "2026-11-24"].map(comes), [false, true]);
    }
    #[test]
    fn of_two_records_the_kept_ones_days_count_where_it_was_in_the_group() {
        let span = |from, until: Option<&str>| Span { from: day(from), until: until.map(day) };
        let (monday, friday) = (Weekdays::from_bits(1), Weekdays::from_bits(16));
        let autumn = [span("2026-09-01", Some("2026-10-23"))];
        let onward = [span("2026-10-12", None)];
        // The record kept came every day: what is said of the other does not count until the 23rd.
        let said = [(day("2026-10-12"), monday), (day("2026-11-16"), friday)];
        let expected = [(day("2026-10-24"), monday), (day("2026-11-16"), friday)];
        assert_eq!(weekdays_of_both((&autumn, &[]), (&onward, &said)), expected);
        // The other way round the kept one's lines are all there are.
        let september = [(day("2026-09-01"), friday)];
        assert_eq!(weekdays_of_both((&onward, &said), (&autumn, &[])), said);
        // On Fridays until the 11th, then as the record kept, which is every day.
        let expected = [(day("2026-09-01"), friday), (day("2026-10-12"), None)];
        assert_eq!(weekdays_of_both((&onward, &[]), (&autumn, &september)), expected);
        // Weekdays do not reach over a time away.
        let spring = [span("2027-01-04", None)];
        let expected = [(day("2026-09-01"), friday), (day("2027-01-04"), None)];
        assert_eq!(weekdays_of_both((&autumn, &september), (&spring, &[])), expected);
    }
}
