//! What was still right after a holiday: of what was answered right before it, the first answers after it. Counts,
//! and no verdict: nobody knows what a child did meanwhile, and lessons go on before the first asking.

use std::collections::BTreeMap;

use super::mastery::{Answer, days_asked};
use crate::{
    calendar::OwnCalendar,
    id::{ItemId, PupilId},
    time::Date,
};

/// A stretch of days without lessons.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Holiday {
    /// The first teaching day of the stretch of lessons before it.
    pub taught_from: Date,
    /// The last teaching day before it.
    pub last_day: Date,
    /// The first teaching day after it.
    pub back_on: Date,
    /// The last teaching day before the next one, or the last known.
    pub taught_until: Date,
    /// Days without lessons between the two.
    pub days: i64,
}

/// The stretches of at least so many days between two teaching days, which come in order.
#[must_use]
pub fn holidays(teaching: &[Date], least: u32) -> Vec<Holiday> {
    let days = |from: Date, to: Date| to.signed_duration_since(from).num_days() - 1;
    let stretches: Vec<&[Date]> = teaching.chunk_by(|from, to| days(*from, *to) < i64::from(least)).collect();
    let holiday = |pair: &[&[Date]]| {
        let [before, after] = pair else { return None };
        let (last_day, back_on) = (*before.last()?, *after.first()?);
        Some(Holiday {
            taught_from: *before.first()?,
            last_day,
            back_on,
            taught_until: *after.last()?,
            days: days(last_day, back_on),
        })
    };
    stretches.windows(2).filter_map(holiday).collect()
}

/// What was right before a holiday and asked after it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Kept {
    /// Pupils who answered it right when they were last asked in the stretch of lessons before.
    pub right_before: usize,
    /// Of these, those asked in the stretch of lessons after.
    pub asked_after: usize,
    /// Of these, those who were right at the first asking.
    pub right_after: usize,
}

/// The holidays up to a day as they are to some, from the start of the school year before on, earliest first; and
/// the start of the school year they are in or were in last.
#[must_use]
pub fn holidays_until(calendar: &OwnCalendar, on: Date, least: u32) -> (Option<Date>, Vec<Holiday>) {
    let begun = || calendar.calendar.years.iter().map(|year| year.starts_on).filter(|starts| *starts <= on);
    let Some(year) = begun().max() else { return (None, Vec::new()) };
    let from = begun().filter(|starts| *starts < year).max().unwrap_or(year);
    (Some(year), holidays(&calendar.teaching_days(from, on), least))
}

/// The first teaching day after the latest holiday up to a day.
#[must_use]
pub fn back_on(calendar: &OwnCalendar, on: Date, least: u32) -> Option<Date> {
    holidays_until(calendar, on, least).1.last().map(|holiday| holiday.back_on)
}

/// Whether one pupil's first answers to one item after a holiday were right, where the last before it were; inside,
/// none where nobody asked.
fn right_after(answers: &[Answer], holiday: &Holiday) -> Option<Option<bool>> {
    let days = days_asked(answers);
    let (_, before) = days.range(holiday.taught_from..holiday.back_on).next_back()?;
    let after = days.range(holiday.back_on..=holiday.taught_until).next();
    before.right.then(|| after.map(|(_, day)| day.right))
}

/// Counts what was kept over a holiday by item. Answers carried in are left out; those given and those chosen
/// among several are compared with their like only, so that a pupil may count once for each.
#[must_use]
pub fn retention(
    holiday: &Holiday,
    pupils: &BTreeMap<PupilId, BTreeMap<ItemId, Vec<Answer>>>,
) -> BTreeMap<ItemId, Kept> {
    let mut kept: BTreeMap<ItemId, Kept> = BTreeMap::new();
    for (item, answers) in pupils.values().flatten() {
        for by_choice in [false, true] {
            let alike = |answer: &&Answer| answer.by_choice == by_choice && !answer.carried_in;
            let alike: Vec<Answer> = answers.iter().filter(alike).copied().collect();
            let Some(found) = right_after(&alike, holiday) else { continue };
            let counted = kept.entry(*item).or_default();
            counted.right_before += 1;
            counted.asked_after += usize::from(found.is_some());
            counted.right_after += usize::from(found == Some(true));
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{check::Outcome, time::days};
    use uuid::Uuid;

    fn day(month: u32, d: u32) -> Date {
        Date::from_ymd_opt(2026, month, d).unwrap()
    }

    /// The weekdays from the 5th to the 23rd of October and from the 2nd to the 20th of November, but a Monday.
    fn teaching() -> Vec<Date> {
        use chrono::Datelike as _;
        days(day(10, 5), day(10, 23))
            .chain(days(day(11, 2), day(11, 20)))
            .filter(|on| on.weekday().number_from_monday() < 6 && *on != day(11, 9))
            .collect()
    }

    #[test]
    fn a_week_without_lessons_is_a_holiday_and_a_long_weekend_is_not() {
        let found = holidays(&teaching(), 7);
        let half_term = Holiday {
            taught_from: day(10, 5),
            last_day: day(10, 23),
            back_on: day(11, 2),
            taught_until: day(11, 20),
            // From Saturday the 24th to Sunday the 1st.
            days: 9,
        };
        assert_eq!(found, [half_term]);
        // Three days: the weekend and the Monday.
        assert_eq!(holidays(&teaching(), 3).len(), 2);
        assert!(holidays(&[], 7).is_empty());
    }

    #[test]
    fn what_was_right_before_is_compared_with_the_first_asking_after() {
        use Outcome::{NotOffered, Right, Wrong};
        let item = ItemId::from_uuid(Uuid::nil());
        let holiday = holidays(&teaching(), 7)[0];
        let check = |answers: &[(Date, Outcome)], expected: Option<(usize, usize)>| {
            let answer = |(on, outcome): &(Date, Outcome)| Answer {
                on: *on,
                outcome: *outcome,
                carried_in: false,
                by_choice: false,
            };
            let one = BTreeMap::from([(item, answers.iter().map(answer).collect())]);
            let found = retention(&holiday, &[(PupilId::from_uuid(Uuid::nil()), one)].into());
            let counts = found.get(&item).map(|kept| (kept.asked_after, kept.right_after));
            assert_eq!(counts, expected, "{answers:?}");
        };
        let before = (day(10, 20), Right);
        check(&[before], Some((0, 0)));
        check(&[before, (day(11, 4), Right)], Some((1, 1)));
        check(&[before, (day(11, 4), Wrong), (day(11, 5), Right)], Some((1, 0)));
        check(&[before, (day(11, 4), Right), (day(11, 5), Wrong)], Some((1, 1)));
        // A day counts as right only if all of it was.
        check(&[before, (day(11, 4), Right), (day(11, 4), Wrong)], Some((1, 0)));
        check(&[before, (day(11, 3), NotOffered), (day(11, 4), Right)], Some((1, 1)));
        // The last before it was wrong; the last before it lies before the stretch of lessons.
        check(&[before, (day(10, 21), Wrong), (day(11, 4), Right)], None);
        check(&[(day(9, 20), Right), (day(11, 4), Right)], None);
        // Asked after the next holiday only.
        check(&[before, (day(12, 1), Right)], Some((0, 0)));
    }

    #[test]
    fn what_was_chosen_is_compared_with_what_was_chosen_and_what_was_carried_in_with_nothing() {
        let item = ItemId::from_uuid(Uuid::nil());
        let holiday = holidays(&teaching(), 7)[0];
        let right = Answer { on: day(10, 20), outcome: Outcome::Right, carried_in: false, by_choice: false };
        let chosen = Answer { on: day(11, 3), outcome: Outcome::Wrong, by_choice: true, ..right };
        let carried = Answer { on: day(10, 22), outcome: Outcome::Wrong, carried_in: true, ..right };
        let said = Answer { on: day(11, 5), ..right };
        let one = BTreeMap::from([(item, vec![right, chosen, carried, said])]);
        let found = retention(&holiday, &[(PupilId::from_uuid(Uuid::nil()), one)].into());
        assert_eq!(found[&item], Kept { right_before: 1, asked_after: 1, right_after: 1 });
    }
}
