//! Dates and instants. A lesson's date is a plain date without a zone; an instant orders
//! nothing and is only ever shown. "Now" is an argument.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, SecondsFormat, Utc};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A plain calendar date, YYYY-MM-DD on the wire.
pub type Date = chrono::NaiveDate;

/// A day as people read it: 1 September 2026.
#[must_use]
pub fn in_words(day: Date) -> String {
    day.format("%-d %B %Y").to_string()
}

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

    /// The stretch without the days after a last one; none if nothing is left.
    #[must_use]
    pub fn up_to(self, last: Option<Date>) -> Option<Self> {
        let until = earlier(self.until, last);
        until.is_none_or(|until| self.from <= until).then_some(Self { until, ..self })
    }

    /// Whether the two share a day.
    pub fn meets(&self, other: &Self) -> bool {
        self.until.is_none_or(|until| other.from <= until)
            && other.until.is_none_or(|until| self.from <= until)
    }
}

/// The earlier of two last days, where none is without end.
#[must_use]
pub fn earlier(one: Option<Date>, other: Option<Date>) -> Option<Date> {
    one.into_iter().chain(other).min()
}

/// Spans without a day that stands in two of them: those that share a day become one. In order.
#[must_use]
pub fn united(mut spans: Vec<Span>) -> Vec<Span> {
    spans.sort_unstable_by_key(|span| span.from);
    let mut out: Vec<Span> = Vec::new();
    for span in spans {
        match out.last_mut().filter(|last| last.meets(&span)) {
            // Open goes beyond any day.
            Some(last) => last.until = last.until.zip(span.until).map(|(one, other)| one.max(other)),
            None => out.push(span),
        }
    }
    out
}

/// Spans without the seams between them: those that share a day, or of which one begins the day after
/// another ended, become one. In order.
#[must_use]
pub fn seamless(spans: Vec<Span>) -> Vec<Span> {
    let mut out: Vec<Span> = Vec::new();
    for span in united(spans) {
        match out.last_mut().filter(|last| last.until.and_then(|last| last.succ_opt()) == Some(span.from)) {
            Some(last) => last.until = span.until,
            None => out.push(span),
        }
    }
    out
}

/// How dated memberships change when, from one day on, exactly `wanted` are to be in.
#[derive(Debug, PartialEq, Eq)]
pub struct Reassignment<K> {
    /// Spans to end: member, first day, new last day.
    pub end: Vec<(K, Date, Date)>,
    /// Spans to drop because they would begin on or after the day: member, first day.
    pub drop: Vec<(K, Date)>,
    /// Members who begin on the day, and their last day if it is known.
    pub begin: Vec<(K, Option<Date>)>,
    /// Members who are out from the day on.
    pub gone: BTreeSet<K>,
}

/// Works out the change. Days before `from` stay as they were; from then on exactly `wanted` are
/// in, each until the last day that stands with it. Whose last day is before `from` is not in.
pub fn reassign<K: Copy + Ord>(
    current: &[(K, Span)],
    wanted: &BTreeMap<K, Option<Date>>,
    from: Date,
) -> Reassignment<K> {
    change_but(current, wanted, from, |span| span.holds(from))
}

/// As [`reassign`], but a change of a day after `today` stands for itself: it is a span of its own even
/// where it says nothing new, and a change made for a day before it holds only until then.
pub fn reassign_until_said<K: Copy + Ord>(
    current: &[(K, Span)],
    wanted: &BTreeMap<K, Option<Date>>,
    from: Date,
    today: Date,
) -> Reassignment<K> {
    let (said, now): (Vec<_>, Vec<_>) = current.iter().partition(|(_, span)| span.from > from.max(today));
    let eve = said.iter().map(|(_, span)| span.from).min().and_then(|first| first.pred_opt());
    let wanted = wanted.iter().map(|(member, last)| (*member, earlier(*last, eve))).collect();
    change_but(&now, &wanted, from, |span| span.holds(from) && (from <= today || span.from == from))
}

/// The change, but for the spans of those wanted that end when they are to and `may_stay`.
fn change_but<K: Copy + Ord>(
    current: &[(K, Span)],
    wanted: &BTreeMap<K, Option<Date>>,
    from: Date,
    may_stay: impl Fn(&Span) -> bool,
) -> Reassignment<K> {
    let onward = Span { from, until: None };
    let stays = |(member, span): &(K, Span)| wanted.get(member) == Some(&span.until) && may_stay(span);
    let (mut end, mut drop) = (Vec::new(), Vec::new());
    let mut gone = BTreeSet::new();
    for (member, span) in current.iter().filter(|one| one.1.meets(&onward) && !stays(one)) {
        gone.insert(*member);
        match from.pred_opt() {
            Some(last) if span.from < from => end.push((*member, span.from, last)),
            _ => drop.push((*member, span.from)),
        }
    }
    let staying: BTreeSet<K> = current.iter().filter(|one| stays(one)).map(|one| one.0).collect();
    let begins = wanted.iter().filter(|(_, last)| last.is_none_or(|last| from <= last));
    let begin: Vec<_> = begins
        .filter(|(member, _)| !staying.contains(member))
        .map(|(member, last)| (*member, *last))
        .collect();
    gone.retain(|member| !staying.contains(member) && !begin.iter().any(|(other, _)| other == member));
    Reassignment { end, drop, begin, gone }
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
        let autumn = span("2026-09-01", Some("2026-10-23"));
        assert!(autumn.holds(day("2026-10-23")) && !autumn.holds(day("2026-10-24")));
        assert!(autumn.meets(&span("2026-10-23", None)));
        assert!(!autumn.meets(&span("2026-10-24", None)));
        assert!(span("2026-01-01", None).meets(&span("2026-12-01", None)));
    }

    #[test]
    fn no_day_is_counted_twice() {
        // The second lies in the first, the third begins on its last day, the fourth the day after.
        let spans = vec![
            span("2026-10-23", Some("2026-11-20")),
            span("2026-09-01", Some("2026-10-23")),
            span("2026-09-07", Some("2026-09-30")),
            span("2026-11-21", None),
            span("2026-12-01", Some("2026-12-18")),
        ];
        assert_eq!(united(spans), [span("2026-09-01", Some("2026-11-20")), span("2026-11-21", None)]);
        assert_eq!(united(Vec::new()), []);
    }

    #[test]
    fn days_that_follow_on_are_one_stretch() {
        let spans = vec![
            span("2026-12-01", None),
            span("2026-09-01", Some("2026-11-15")),
            span("2026-11-16", Some("2026-11-20")),
            span("2026-11-10", Some("2026-11-15")),
        ];
        assert_eq!(seamless(spans), [span("2026-09-01", Some("2026-11-20")), span("2026-12-01", None)]);
    }

    fn span(from: &str, until: Option<&str>) -> Span {
        Span { from: day(from), until: until.map(day) }
    }

    #[test]
    fn reassigning_leaves_the_past_alone() {
        let current = [
            (1, span("2026-09-01", None)),
            (2, span("2026-09-01", None)),
            (3, span("2026-10-12", None)),
            (4, span("2026-09-01", Some("2026-09-30"))),
            (5, span("2026-09-01", Some("2026-12-18"))),
        ];
        let wanted = [1, 4, 5, 6].map(|member| (member, None)).into();
        let change = reassign(&current, &wanted, day("2026-10-12"));
        assert_eq!(
            change.end,
            [(2, day("2026-09-01"), day("2026-10-11")), (5, day("2026-09-01"), day("2026-10-11"))]
        );
        assert_eq!(change.drop, [(3, day("2026-10-12"))]);
        assert_eq!(change.begin, [(4, None), (5, None), (6, None)]);
        assert_eq!(change.gone, [2, 3].into());
    }

    #[test]
    fn reassigning_keeps_to_last_days() {
        let august = Some(day("2026-08-31"));
        let current = [
            (1, span("2025-09-01", Some("2026-08-31"))),
            (2, span("2025-09-01", None)),
            (3, span("2025-09-01", Some("2026-08-31"))),
        ];
        // The first ends as it is to; the second is cut and goes on to its last day; the fourth's is over.
        let wanted = [(1, august), (2, august), (4, Some(day("2026-07-10"))), (5, august)].into();
        let change = reassign(&current, &wanted, day("2026-07-15"));
        assert_eq!(
            change.end,
            [(2, day("2025-09-01"), day("2026-07-14")), (3, day("2025-09-01"), day("2026-07-14"))]
        );
        assert_eq!((change.drop.len(), &change.begin), (0, &vec![(2, august), (5, august)]));
        assert_eq!(change.gone, [3].into());
    }

    #[test]
    fn what_is_said_of_days_ahead_stays() {
        let elm = [(1, span("2025-09-01", Some("2026-08-31"))), (2, span("2026-09-01", None))];
        let (july, wanted) = (day("2026-07-15"), [(3, None)].into());
        let change = reassign_until_said(&elm, &wanted, july, july);
        assert_eq!(change.end, [(1, day("2025-09-01"), day("2026-07-14"))]);
        assert_eq!((change.drop.len(), change.begin), (0, vec![(3, Some(day("2026-08-31")))]));
        // The class of the day before, said of a day ahead, stands for itself; made on the day, it goes on.
        let first = day("2026-09-01");
        let (same, open) = ([(1, None)].into(), [(1, span("2025-09-01", None))]);
        let change = reassign_until_said(&open, &same, first, july);
        assert_eq!((change.end.len(), change.begin, change.gone.len()), (1, vec![(1, None)], 0));
        let change = reassign_until_said(&open, &same, first, first);
        assert_eq!((change.end.len(), change.begin), (0, vec![]));
        // A change dated to that day is in its place; one dated back, made after it, too.
        let change = reassign_until_said(&elm, &wanted, day("2026-09-01"), july);
        assert_eq!((change.drop, change.begin), (vec![(2, day("2026-09-01"))], vec![(3, None)]));
        let change = reassign_until_said(&elm, &wanted, july, day("2026-09-14"));
        assert_eq!((change.drop, change.begin), (vec![(2, day("2026-09-01"))], vec![(3, None)]));
    }

    #[test]
    fn a_stretch_has_no_day_after_the_last() {
        let last = Some(day("2026-08-31"));
        assert_eq!(span("2026-07-01", None).up_to(last), Some(span("2026-07-01", Some("2026-08-31"))));
        assert_eq!(
            span("2026-07-01", Some("2026-07-17")).up_to(last),
            Some(span("2026-07-01", Some("2026-07-17")))
        );
        assert_eq!(span("2026-08-31", None).up_to(last), Some(span("2026-08-31", Some("2026-08-31"))));
        assert_eq!(span("2026-09-01", None).up_to(last), None);
        assert_eq!(span("2026-09-01", None).up_to(None), Some(span("2026-09-01", None)));
    }
}
