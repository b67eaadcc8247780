//! The weekdays on which a pupil comes to a group's lessons, whole or by halves.

use std::collections::BTreeSet;

use chrono::Datelike as _;

use crate::{
    calendar::Half,
    time::{Date, Span},
};

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

/// Some days of the week, at least one, of each the whole or a half. As a number two bits stand for each day, Monday
/// first: bits 0 to 6 alone say whole days, as numbers of before halves were known do; bits 7 to 13 say that it is a
/// half: the morning where the day's lower bit is not set, else the afternoon.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Weekdays(i16);

/// What is wrong with weekdays.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum WeekdaysError {
    /// No day.
    #[error("names no day; null is for every day")]
    Nothing,
    /// A half of a day that is not named.
    #[error("names {0}, which is none of the weekdays")]
    NotNamed(Weekday),
    /// Only the morning of a day and only its afternoon.
    #[error("names {0}, as mornings_only does: leave both out for the whole day")]
    Both(Weekday),
}

impl Weekdays {
    /// These days; none where there is none.
    pub fn new(days: &BTreeSet<Weekday>) -> Option<Self> {
        let bits = Weekday::ALL.iter().zip(0..).filter(|(day, _)| days.contains(day));
        Self::from_bits(bits.fold(0, |all, (_, n)| all | 1 << n))
    }

    /// These days, of some only the morning and of some only the afternoon.
    ///
    /// # Errors
    /// The field at fault, and why.
    pub fn of_halves(
        days: &BTreeSet<Weekday>,
        mornings: &BTreeSet<Weekday>,
        afternoons: &BTreeSet<Weekday>,
    ) -> Result<Self, (&'static str, WeekdaysError)> {
        let Self(mut bits) = Self::new(days).ok_or(("weekdays", WeekdaysError::Nothing))?;
        for (field, halves) in [("mornings_only", mornings), ("afternoons_only", afternoons)] {
            if let Some(day) = halves.difference(days).next() {
                return Err((field, WeekdaysError::NotNamed(*day)));
            }
        }
        if let Some(day) = afternoons.intersection(mornings).next() {
            return Err(("afternoons_only", WeekdaysError::Both(*day)));
        }
        for (day, n) in Weekday::ALL.iter().zip(0..) {
            if mornings.contains(day) {
                bits = (bits & !(1 << n)) | 1 << (n + 7);
            } else if afternoons.contains(day) {
                bits |= 1 << (n + 7);
            }
        }
        Ok(Self(bits))
    }

    /// From the number they are stored as.
    pub const fn from_bits(bits: i16) -> Option<Self> {
        if matches!(bits, 1..=16383) { Some(Self(bits)) } else { None }
    }

    /// The number they are stored as, 1 to 16383.
    pub const fn bits(self) -> i16 {
        self.0
    }

    /// Whether the two bits of a day are these.
    const fn is(self, day: u32, whole: bool, half: bool) -> bool {
        (self.0 >> day & 1 == 1) == whole && (self.0 >> (day + 7) & 1 == 1) == half
    }

    fn those(self, of: impl Fn(u32) -> bool) -> Vec<Weekday> {
        Weekday::ALL.iter().zip(0..).filter(|(_, n)| of(*n)).map(|(day, _)| *day).collect()
    }

    /// The days, of which the whole or a half, Monday first.
    pub fn days(self) -> Vec<Weekday> {
        self.those(|day| !self.is(day, false, false))
    }

    /// Those of them of which only the morning.
    pub fn mornings_only(self) -> Vec<Weekday> {
        self.those(|day| self.is(day, false, true))
    }

    /// Those of them of which only the afternoon.
    pub fn afternoons_only(self) -> Vec<Weekday> {
        self.those(|day| self.is(day, true, true))
    }

    /// Whether a half of a date lies in them; where the half is not known, whether either does.
    pub fn holds(self, on: Date, half: Option<Half>) -> bool {
        let day = on.weekday().num_days_from_monday();
        match half {
            None => !self.is(day, false, false),
            Some(Half::Morning) => self.is(day, true, false) || self.is(day, false, true),
            Some(Half::Afternoon) => self.is(day, true, false) || self.is(day, true, true),
        }
    }
}

/// The weekdays that count on a day, of lines that each count from a day on; none for every day.
pub fn weekdays_on(lines: &[(Date, Option<Weekdays>)], on: Date) -> Option<Weekdays> {
    lines.iter().filter(|(from, _)| *from <= on).max_by_key(|(from, _)| *from).and_then(|(_, days)| *days)
}

/// Whether a member comes to a half of a day; where the half is not known, to either.
pub fn comes_on(lines: &[(Date, Option<Weekdays>)], on: Date, half: Option<Half>) -> bool {
    weekdays_on(lines, on).is_none_or(|days| days.holds(on, half))
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
        assert_eq!([0, 16384, -1].map(Weekdays::from_bits), [None, None, None]);
        assert_eq!(Weekdays::from_bits(64).unwrap().days(), [Weekday::Sunday]);
        // Whole days are what they were before halves were known.
        assert_eq!((set.mornings_only(), set.afternoons_only()), (vec![], vec![]));
    }

    #[test]
    fn a_day_is_whole_or_a_half_and_each_number_is_one_of_them() {
        use Weekday::{Friday, Monday, Tuesday};
        let of = |days: &[Weekday], mornings: &[Weekday], afternoons: &[Weekday]| {
            let set = |days: &[Weekday]| days.iter().copied().collect();
            Weekdays::of_halves(&set(days), &set(mornings), &set(afternoons))
        };
        // Monday whole, 1; of Tuesday the morning, 2 << 7; of Friday the afternoon, 16 and 16 << 7.
        let set = of(&[Friday, Monday, Tuesday], &[Tuesday], &[Friday]).unwrap();
        assert_eq!(set.bits(), 1 + 256 + 16 + 2048);
        assert_eq!(set.days(), [Monday, Tuesday, Friday]);
        assert_eq!((set.mornings_only(), set.afternoons_only()), (vec![Tuesday], vec![Friday]));
        // 9 November 2026 is a Monday.
        let holds = |d: u32| {
            [None, Some(Half::Morning), Some(Half::Afternoon)]
                .map(|half| set.holds(Date::from_ymd_opt(2026, 11, d).unwrap(), half))
        };
        assert_eq!([9, 10, 11].map(holds), [[true; 3], [true, true, false], [false; 3]]);
        assert_eq!(holds(13), [true, false, true]);
        assert_eq!(of(&[], &[], &[]), Err(("weekdays", WeekdaysError::Nothing)));
        assert_eq!(of(&[Monday], &[Tuesday], &[]), Err(("mornings_only", WeekdaysError::NotNamed(Tuesday))));
        assert_eq!(of(&[Monday], &[], &[Friday]), Err(("afternoons_only", WeekdaysError::NotNamed(Friday))));
        assert_eq!(
            of(&[Monday], &[Monday], &[Monday]),
            Err(("afternoons_only", WeekdaysError::Both(Monday)))
        );
        for bits in 1..=16383 {
            let set = Weekdays::from_bits(bits).unwrap();
            let [days, mornings, afternoons] = [set.days(), set.mornings_only(), set.afternoons_only()]
                .map(|days| days.into_iter().collect());
            assert_eq!(Weekdays::of_halves(&days, &mornings, &afternoons), Ok(set), "{bits}");
        }
    }

    #[test]
    fn the_latest_line_begun_counts() {
        let lines = [(day("2026-11-09"), Weekdays::from_bits(1)), (day("2026-11-23"), None)];
        // 9 November 2026 is a Monday; before that day there is no line.
        let comes = |on| comes_on(&lines, day(on), None);
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
