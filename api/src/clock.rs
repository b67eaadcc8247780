//! The one place that asks what time it is.

use std::time::{SystemTime, UNIX_EPOCH};

use chrono::{DateTime, Duration, NaiveTime, TimeZone as _};
use chrono_tz::Tz;
use plumbline_core::time::{Date, Instant};

/// A clock; for a demonstration it may run on another day than the machine's.
#[derive(Clone, Copy, Debug, Default)]
pub struct Clock {
    offset_micros: i64,
}

impl Clock {
    /// The machine's clock.
    pub const fn system() -> Self {
        Self { offset_micros: 0 }
    }

    /// A clock that shows nine in the morning, UTC, of this date now and goes on from there.
    pub fn starting(date: Date) -> Self {
        let nine = NaiveTime::from_hms_opt(9, 0, 0).unwrap_or_default();
        let start = date.and_time(nine).and_utc().timestamp_micros();
        Self { offset_micros: start - Self::system().now().micros() }
    }

    /// This moment.
    pub fn now(&self) -> Instant {
        let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
        Instant::from_micros(i64::try_from(since.as_micros()).unwrap_or(i64::MAX) + self.offset_micros)
    }
}

/// The date of a moment in a time zone; an unknown zone counts as UTC.
pub fn date_in(zone: &str, at: Instant) -> Date {
    let zone: Tz = zone.parse().unwrap_or(Tz::UTC);
    DateTime::from_timestamp_micros(at.micros()).unwrap_or_default().with_timezone(&zone).date_naive()
}

/// The moment a clock in a time zone shows a time of a day, the first where it does so twice; where the
/// clock leaps over it, the same time an hour later. An unknown zone counts as UTC.
pub fn instant_in(zone: &str, on: Date, time: NaiveTime) -> Instant {
    let zone: Tz = zone.parse().unwrap_or(Tz::UTC);
    let local = on.and_time(time);
    let moment = |local| zone.from_local_datetime(&local).earliest();
    let at = moment(local).or_else(|| moment(local + Duration::hours(1)));
    Instant::from_micros(at.map_or_else(|| local.and_utc().timestamp_micros(), |at| at.timestamp_micros()))
}

/// Whether the name is a time zone of the tz database.
pub fn is_zone(name: &str) -> bool {
    name.parse::<Tz>().is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_are_the_schools_not_the_servers() {
        // 23:30 UTC on 30 June is already July in London, and in Adelaide since the morning.
        let at =
            |s: &str| Instant::from_micros(s.parse::<DateTime<chrono::Utc>>().unwrap().timestamp_micros());
        assert_eq!(date_in("Europe/London", at("2026-06-30T23:30:00Z")).to_string(), "2026-07-01");
        assert_eq!(date_in("Europe/London", at("2026-12-31T23:30:00Z")).to_string(), "2026-12-31");
        assert_eq!(date_in("Australia/Adelaide", at("2026-12-31T14:00:00Z")).to_string(), "2027-01-01");
        assert!(is_zone("Europe/London") && !is_zone("Middle/Earth"));
    }

    #[test]
    fn a_time_at_the_school_is_one_moment() {
        let at = |zone: &str, on: &str, time: &str| {
            instant_in(zone, on.parse().unwrap(), time.parse().unwrap()).to_string()
        };
        assert_eq!(at("Europe/London", "2026-11-25", "18:00:00"), "2026-11-25T18:00:00.000000Z");
        assert_eq!(at("Europe/London", "2026-07-01", "18:00:00"), "2026-07-01T17:00:00.000000Z");
        // Half past one is leapt over on 29 March 2026, and shown twice on 25 October.
        assert_eq!(at("Europe/London", "2026-03-29", "01:30:00"), "2026-03-29T01:30:00.000000Z");
        assert_eq!(at("Europe/London", "2026-10-25", "01:30:00"), "2026-10-25T00:30:00.000000Z");
        assert_eq!(at("Middle/Earth", "2026-07-01", "18:00:00"), "2026-07-01T18:00:00.000000Z");
    }

    #[test]
    fn a_demonstration_starts_at_nine() {
        let clock = Clock::starting(Date::from_ymd_opt(2026, 11, 25).unwrap());
        assert_eq!(date_in("UTC", clock.now()).to_string(), "2026-11-25");
    }
}
