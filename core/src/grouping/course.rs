//! A sequence as groups are placed in it: its items in order, and how each stands with a pupil.

use super::Need;
use crate::{
    attainment::{Answer, PupilRecords, State, progress},
    lesson::ItemCoverage,
    rules::SecureRule,
    sequence::{Content, Item, ItemKind},
};

/// The items of a version in teaching order, reviews left out: they are nothing new to anybody.
#[derive(Clone, Debug)]
pub struct Course<'a> {
    /// The items.
    pub items: Vec<&'a Item>,
    /// By lesson, in order, its first item; the number of items last.
    pub lessons: Vec<usize>,
}

impl<'a> Course<'a> {
    /// Of a version.
    pub fn of(content: &'a Content) -> Self {
        let (mut items, mut lessons) = (Vec::new(), Vec::new());
        for (_, _, lesson) in content.lessons() {
            lessons.push(items.len());
            items.extend(lesson.items.iter().filter(|item| item.kind != ItemKind::Review));
        }
        lessons.push(items.len());
        Self { items, lessons }
    }

    /// By item, how it stands with one pupil.
    pub fn needs(&self, records: &PupilRecords, rule: &SecureRule) -> Vec<Need> {
        let need = |item: &&Item| {
            let line = records.covered.get(&item.id).copied().unwrap_or_default();
            let answers = records.answers.get(&item.id).map_or(&[][..], Vec::as_slice);
            Need::of(&line, answers, rule)
        };
        self.items.iter().map(need).collect()
    }
}

impl Need {
    /// Secure by the rule is secure; right each time, and not yet often enough, is unknown: no gap, as attainment has
    /// it; checked otherwise is a gap, whoever taught it. What no check tells of is unknown once it was taught to this
    /// pupil, or carried in as taught; a gap where the pupil missed it; else it is untaught.
    pub fn of(line: &ItemCoverage, answers: &[Answer], rule: &SecureRule) -> Self {
        let progress = progress(line.taught_on, answers, rule);
        match progress.state {
            State::Secure => Self::Secure,
            State::Practising if progress.always_right => Self::Unknown,
            State::Practising | State::Revisit => Self::Gap,
            State::Taught => Self::Unknown,
            State::Unknown if line.missed_on.is_some() => Self::Gap,
            State::Unknown => Self::Untaught,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{check::Outcome, time::Date};

    const RULE: SecureRule = SecureRule { right_on_days: 3, days_after_teaching: 7, carried_in_days: 1 };

    fn day(d: u32) -> Date {
        Date::from_ymd_opt(2025, 10, d).unwrap()
    }

    fn check(line: ItemCoverage, answers: &[(u32, Outcome)], expected: Need) {
        let answer = |(d, outcome): &(u32, Outcome)| Answer {
            on: day(*d),
            outcome: *outcome,
            carried_in: false,
            by_choice: false,
        };
        let answers: Vec<Answer> = answers.iter().map(answer).collect();
        assert_eq!(Need::of(&line, &answers, &RULE), expected, "{line:?} {answers:?}");
    }

    #[test]
    fn each_state_is_one_need() {
        use Outcome::{NotOffered, Right, Wrong};
        let none = ItemCoverage::default();
        let taught = ItemCoverage { taught_on: Some(day(1)), times: 1, ..none };
        let carried = ItemCoverage { taught_on: Some(day(1)), carried_in: true, ..none };
        let missed = ItemCoverage { missed_on: Some(day(1)), ..none };
        check(none, &[], Need::Untaught);
        check(none, &[(2, NotOffered)], Need::Untaught);
        check(taught, &[], Need::Unknown);
        check(carried, &[], Need::Unknown);
        check(missed, &[], Need::Gap);
        let secure = [(2, Right), (3, Right), (8, Right)];
        check(taught, &secure, Need::Secure);
        // Right so far, on too few days: no gap, as little as what was never asked.
        check(taught, &secure[..2], Need::Unknown);
        check(none, &secure[..1], Need::Unknown);
        check(taught, &[(2, Right), (3, Wrong)], Need::Gap);
        check(taught, &[(2, Wrong), (3, Right)], Need::Gap);
        check(taught, &[(2, Wrong)], Need::Gap);
        check(none, &[(2, Wrong)], Need::Gap);
        check(taught, &[(2, Right), (3, Right), (8, Right), (9, Wrong)], Need::Gap);
        // Missed here and shown to be known all the same: three right days, the last seven days on.
        check(missed, &[(1, Right), (2, Right), (8, Right)], Need::Secure);
    }

    #[test]
    fn reviews_are_no_items_and_a_lesson_of_reviews_begins_where_the_next_does() {
        let item = |kind: &str, label: &str| serde_json::json!({"id": uuid::Uuid::new_v5(&uuid::Uuid::nil(), label.as_bytes()), "kind": kind, "label": label});
        let lesson = |n: u128, items: &[serde_json::Value]| serde_json::json!({"id": uuid::Uuid::from_u128(n), "title": "L", "items": items});
        let content: Content = serde_json::from_value(serde_json::json!({"steps": [
        {"id": uuid::Uuid::from_u128(9), "title": "S", "lessons": [
            lesson(1, &[item("exception_word", "the"), item("review", "before")]),
            lesson(2, &[item("review", "all")]),
            lesson(3, &[item("exception_word", "to"), item("word_part", "-ed")]),
        ]}]}))
        .unwrap();
        let course = Course::of(&content);
        let labels: Vec<&str> = course.items.iter().map(|item| item.label.as_str()).collect();
        assert_eq!(labels, ["the", "to", "-ed"]);
        assert_eq!(course.lessons, [0, 1, 1, 3]);
        assert_eq!(course.needs(&PupilRecords::default(), &RULE), [Need::Untaught; 3]);
    }
}
