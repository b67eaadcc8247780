//! The weekdays on which a pupil comes to a group's lessons.

use std::collections::BTreeSet;

use chrono::Datelike as _;

use crate::time::Date;

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
}
