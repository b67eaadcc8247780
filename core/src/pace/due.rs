//! On which days lessons are due for a group, as far as its pace on a day looks.

use std::collections::BTreeMap;

use chrono::Duration;

use super::plan::Due;
use crate::{
    calendar::{OwnCalendar, TimetableLine, sessions},
    time::Date,
};

/// Which days are looked at.
#[derive(Clone, Copy, Debug)]
pub struct DaysLookedAt {
    /// The group's first day with somebody in it: none before is.
    pub from: Date,
    /// The last day.
    pub until: Date,
    /// All from this day on are.
    pub counted_from: Date,
    /// Of those before this day at least so many are, where there are as many.
    pub before: Date,
    /// How many.
    pub number: usize,
}

/// How far it goes back at a time.
const STRETCH: Duration = Duration::days(120);

/// The days on which lessons are due, in order. What a group did years ago is not worked out again each time.
pub fn due_days(calendar: &OwnCalendar, lines: &[TimetableLine], of: DaysLookedAt) -> Vec<Due> {
    let open = OwnCalendar { calendar: calendar.calendar.without_closures(), whom: calendar.whom.clone() };
    let due = |from: Date, until: Date| -> Vec<Due> {
        let whole = lessons(&open, lines, from, until);
        let due = lessons(calendar, lines, from, until).into_iter();
        due.map(|(on, lessons)| Due { on, lessons, of: whole.get(&on).copied().unwrap_or(lessons) }).collect()
    };
    let mut from = of.counted_from.min(of.before).max(of.from);
    let mut days = due(from, of.until);
    while from > of.from && days.partition_point(|day| day.on < of.before) < of.number {
        let earlier = (from - STRETCH).max(of.from);
        let mut more = due(earlier, from - Duration::days(1));
        more.append(&mut days);
        (days, from) = (more, earlier);
    }
    days
}

fn lessons(calendar: &OwnCalendar, lines: &[TimetableLine], from: Date, until: Date) -> BTreeMap<Date, u32> {
    let mut lessons = BTreeMap::new();
    for session in sessions(calendar, lines, from, until) {
        *lessons.entry(session.on).or_default() += 1;
    }
    lessons
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::{
        calendar::{Attendance, Calendar, HalfTerm, Whom, Year},
        id::{HalfTermId, PupilId},
        pace::fixture::day,
        text::Title,
        time::Span,
    };

    /// Three school years, each one half term of 1 September to 19 December.
    fn calendar() -> OwnCalendar {
        let year = |year: i32| {
            let on = |text: &str| day(&format!("{year}-{text}"));
            let term = HalfTerm {
                id: HalfTermId::from_uuid(Uuid::nil()),
                name: Title::new("Autumn").unwrap(),
                starts_on: on("09-01"),
                ends_on: on("12-19"),
            };
            let ends_on = day(&format!("{}-08-31", year + 1));
            Year { year, starts_on: on("09-01"), ends_on, half_terms: vec![term] }
        };
        let calendar = Calendar { years: [2024, 2025, 2026].map(year).to_vec(), closures: vec![] };
        let days = vec![Span { from: day("2024-09-02"), until: None }];
        let pupil = Attendance { days, ..Attendance::default() };
        let whom = Whom { pupils: [(PupilId::from_uuid(Uuid::nil()), pupil)].into(), ..Whom::default() };
        OwnCalendar { calendar, whom }
    }

    #[test]
    fn days_are_looked_at_as_far_back_as_they_count_and_no_further() {
        let of = |counted_from: &str, before: &str, number| DaysLookedAt {
            from: day("2024-09-02"),
            until: day("2026-12-18"),
            counted_from: day(counted_from),
            before: day(before),
            number,
        };
        let all = due_days(&calendar(), &[], of("2024-09-02", "2026-11-30", 40));
        let found = |of: DaysLookedAt| due_days(&calendar(), &[], of);
        let ends = |days: &[Due]| (days[0].on, days[days.len() - 1].on);
        // Enough of this year's are before the day: none of another is looked at.
        let this_year = found(of("2026-09-01", "2026-11-30", 40));
        assert_eq!(ends(&this_year), (day("2026-09-01"), day("2026-12-18")));
        // In September the days before are last autumn's, in the same order and with none left out.
        let september = found(of("2026-09-01", "2026-09-03", 40));
        let before = september.iter().filter(|day| day.on < "2026-09-03".parse().unwrap()).count();
        assert!(before >= 40 && september[0].on.to_string().starts_with("2025"), "{before}");
        assert!(all.ends_with(&september) && all.len() > september.len());
        // Where there are not as many, all there are; a plan that counts from long ago is looked at whole.
        assert_eq!(found(of("2026-09-01", "2026-11-30", 4000)), all);
        assert_eq!(found(of("2024-09-02", "2026-11-30", 1)), all);
    }
}
