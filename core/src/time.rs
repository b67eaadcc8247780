//! Dates and instants. A lesson's date is a plain date without a zone; an instant orders
//! nothing and is only ever shown. "Now" is an argument.

use chrono::{DateTime, SecondsFormat, Utc};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A plain calendar date, YYYY-MM-DD on the wire.
pub type Date = chrono::NaiveDate;

/// A moment, in microseconds since 1970-01-01T00:00:00Z; RFC 3339 on the wire.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Instant(i64);

impl Instant {
    /// From microseconds since the Unix epoch.
    pub const fn from_micros(micros: i64) -> Self {
        Self(micros)
    }

    /// Microseconds since the Unix epoch.
    pub const fn micros(self) -> i64 {
        self.0
    }

    /// Whole seconds since the Unix epoch, rounded down.
    pub const fn seconds(self) -> i64 {
        self.0.div_euclid(1_000_000)
    }

    /// This instant moved by whole seconds.
    #[must_use]
    pub const fn plus_seconds(self, seconds: i64) -> Self {
        Self(self.0.saturating_add(seconds.saturating_mul(1_000_000)))
    }

    fn to_utc(self) -> DateTime<Utc> {
        DateTime::from_timestamp_micros(self.0).unwrap_or_default()
    }
}

impl std::fmt::Display for Instant {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.to_utc().to_rfc3339_opts(SecondsFormat::Micros, true))
    }
}

impl Serialize for Instant {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Instant {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        let at = DateTime::parse_from_rfc3339(&text)
            .map_err(|_| serde::de::Error::custom("expected an RFC 3339 date and time"))?;
        Ok(Self(at.timestamp_micros()))
    }
}

#[cfg(feature = "schema")]
impl utoipa::PartialSchema for Instant {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
        use utoipa::openapi::schema::{KnownFormat, ObjectBuilder, SchemaFormat, Type};
        ObjectBuilder::new()
            .schema_type(Type::String)
            .format(Some(SchemaFormat::KnownFormat(KnownFormat::DateTime)))
            .into()
    }
}
#[cfg(feature = "schema")]
impl utoipa::ToSchema for Instant {
    fn name() -> std::borrow::Cow<'static, str> {
        "instant".into()
    }
}

/// The days from one date to another, both included; empty if they are reversed.
pub fn days(from: Date, to: Date) -> impl DoubleEndedIterator<Item = Date> {
    let count = to.signed_duration_since(from).num_days().max(-1) + 1;
    (0..count).map(move |n| from + chrono::Days::new(u64::try_from(n).unwrap_or(0)))
}

/// A stretch of days that may still be open: from the first day, to the last day it holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Span {
    /// The first day.
    pub from: Date,
    /// The last day, or none while it goes on.
    pub until: Option<Date>,
}

impl Span {
    /// Whether the day lies inside.
    pub fn holds(&self, day: Date) -> bool {
        self.from <= day && self.until.is_none_or(|until| day <= until)
    }

    /// Whether the two share a day.
    pub fn meets(&self, other: &Self) -> bool {
        self.until.is_none_or(|until| other.from <= until)
            && other.until.is_none_or(|until| self.from <= until)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(s: &str) -> Date {
        s.parse().unwrap()
    }

    #[test]
    fn days_include_both_ends() {
        assert_eq!(days(day("2026-03-28"), day("2026-03-30")).count(), 3);
        assert_eq!(days(day("2026-03-28"), day("2026-03-28")).count(), 1);
        assert_eq!(days(day("2026-03-28"), day("2026-03-27")).count(), 0);
        assert_eq!(days(day("2026-03-28"), day("2020-01-01")).count(), 0);
    }

    #[test]
    fn instants_read_and_print_rfc_3339() {
        let at: Instant = serde_json::from_str("\"2026-06-08T09:00:00.25+01:00\"").unwrap();
        assert_eq!(serde_json::to_string(&at).unwrap(), "\"2026-06-08T08:00:00.250000Z\"");
        assert!(serde_json::from_str::<Instant>("\"yesterday\"").is_err());
    }

    #[test]
    fn spans_meet_when_they_share_a_day() {
        let span = |from, until: Option<&str>| Span { from: day(from), until: until.map(day) };
        let autumn = span("2026-09-01", Some("2026-10-23"));
        assert!(autumn.holds(day("2026-10-23")) && !autumn.holds(day("2026-10-24")));
        assert!(autumn.meets(&span("2026-10-23", None)));
        assert!(!autumn.meets(&span("2026-10-24", None)));
        assert!(span("2026-01-01", None).meets(&span("2026-12-01", None)));
    }
}
