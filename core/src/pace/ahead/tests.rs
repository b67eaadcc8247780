//! Planned against finished, the way ahead, and plans made anew.

use std::{collections::BTreeMap, sync::Arc};

use chrono::Datelike as _;
use uuid::Uuid;

use crate::{
    id::VersionId,
    lesson::{CarriedIn, NextLesson, Outcome, Record, lessons_left},
    pace::{
        Due, Forecast, GroupFacts, GroupPace, Pace, Plan, PlanError, Sessions, Way, WhatIf, finished,
        fixture::{content, day, record, rule},
        replan, sessions, standing, steps_ahead,
    },
    rules::PaceRule,
    sequence::Content,
    time::Date,
};

/// Whole days with so many lessons each.
fn whole(days: &[Date], lessons: u32) -> Vec<Due> {
    days.iter().map(|on| Due::whole(*on, lessons)).collect()
}

fn left<'a>(content: &'a Content, records: &[Record]) -> Vec<NextLesson<'a>> {
    lessons_left(content, None, records).collect()
}

fn done(content: &Content, records: &[Record]) -> Vec<(String, Date)> {
    finished(content, None, records, &left(content, records), |record| {
        content.lesson(record.lesson).map(|found| found.2)
    })
    .into_iter()
    .map(|one| (content.lesson(one.lesson).unwrap().2.title.to_string(), one.on))
    .collect()
}

#[test]
fn a_split_lesson_is_finished_once_and_its_sessions_are_both_counted() {
    use Outcome::{Delivered, NotDelivered, Part, Retaught};
    let content = content(&[&[1, 2, 1]]);
    let mut records = vec![
        record(&content, 0, "2026-09-07", Delivered, None),
        record(&content, 1, "2026-09-08", Part, Some(0)),
        record(&content, 2, "2026-09-09", NotDelivered, None),
    ];
    assert_eq!(done(&content, &records), [("1.1".to_owned(), day("2026-09-07"))]);
    records.push(record(&content, 1, "2026-09-10", Part, Some(1)));
    let both = [("1.1".to_owned(), day("2026-09-07")), ("1.2".to_owned(), day("2026-09-10"))];
    assert_eq!(done(&content, &records), both);
    // Taught again: no place moves, no lesson counts twice, and it can be seen.
    records.push(record(&content, 0, "2026-09-11", Retaught, None));
    assert_eq!(done(&content, &records), both);
    assert_eq!(
        sessions(&records, day("2026-09-01")),
        Sessions { taught: 4, parts: 2, retaught: 1, not_taught: 1 }
    );
}

#[test]
fn a_day_that_was_no_teaching_day_puts_nobody_behind() {
    let content = content(&[&[1; 10]]);
    let week = ["2026-09-07", "2026-09-08", "2026-09-09", "2026-09-10", "2026-09-11"].map(day);
    let records: Vec<Record> = [("2026-09-07", 0), ("2026-09-08", 1), ("2026-09-10", 2)]
        .map(|(on, lesson)| record(&content, lesson, on, Outcome::Delivered, None))
        .to_vec();
    let done = finished(&content, None, &records, &left(&content, &records), |record| {
        content.lesson(record.lesson).map(|found| found.2)
    });
    let plan = Plan::new(day("2026-09-07"), 1, 1).unwrap();
    let told = standing(plan, &whole(&week, 1), &done, 10);
    assert_eq!(
        (told.days, told.planned, told.finished, told.lessons_ahead, told.days_ahead),
        (5, 5, 3, -2, -2)
    );
    // Whichever day is closed, the group does not stand worse; closed on a day without a lesson, better.
    for closed in 0..5 {
        let open: Vec<Date> =
            week.iter().enumerate().filter(|(n, _)| *n != closed).map(|(_, day)| *day).collect();
        assert_eq!(standing(plan, &whole(&open, 1), &done, 10).lessons_ahead, -1);
    }
    // Days before the plan begins count for nothing, on either side.
    let later = Plan::new(day("2026-09-10"), 1, 1).unwrap();
    let told = standing(later, &whole(&week, 1), &done, 8);
    assert_eq!((told.days, told.planned, told.finished, told.lessons_ahead), (2, 2, 1, -1));
    // Nothing more is planned than there was to teach.
    assert_eq!(standing(plan, &whole(&week, 1), &done, 3).lessons_ahead, 0);
}

#[test]
fn four_lessons_in_five_days_are_planned_as_days_pass() {
    let plan = Plan::new(day("2026-09-07"), 4, 5).unwrap();
    assert_eq!(
        [0, 1, 2, 3, 4, 5, 6, 10].map(|days| plan.lessons_in(&vec![Due::whole(plan.from, 1); days])),
        [0, 0, 1, 2, 3, 4, 4, 8]
    );
    // One lesson short at four in five is a day and a quarter short: a day.
    let days: Vec<Date> = (0..5).map(|n| day("2026-09-07") + chrono::Days::new(n)).collect();
    let told = standing(plan, &whole(&days, 1), &[], 1);
    assert_eq!((told.planned, told.lessons_ahead, told.days_ahead), (1, -1, -1));
    assert_eq!(Plan::new(day("2026-09-07"), 0, 5), Err(PlanError::Lessons(45)));
    assert_eq!(Plan::new(day("2026-09-07"), 1, 0), Err(PlanError::Days));
}

/// A pace at which every day finishes a lesson, so that days can be counted by hand.
fn sure() -> (Pace, PaceRule) {
    let rule = PaceRule { sessions_believed_finishing: 1e9, sessions_believed_without: 1e-9, ..rule() };
    (Pace { days: 40, sessions: 40, lessons: 40 }, rule)
}

#[test]
fn steps_are_reached_day_by_day_and_what_ifs_move_them() {
    let content = content(&[&[1, 1, 1], &[1, 1]]);
    let records = [record(&content, 0, "2026-09-07", Outcome::Delivered, None)];
    let days: Vec<Date> = (0..60).map(|n| day("2026-09-08") + chrono::Days::new(n)).collect();
    let (pace, rule) = sure();
    let way = Way::of(&left(&content, &records), pace, (1, 1), whole(&days, 1), &rule);
    let middles = |what_if: WhatIf| -> Vec<(u32, String, String)> {
        let on = |told: Option<Forecast>| told.unwrap().middle.unwrap().to_string();
        steps_ahead(&way, &what_if)
            .into_iter()
            .map(|step| (step.lessons_left, on(step.reached), on(step.finished)))
            .collect()
    };
    let told = |one: (u32, &str, &str)| (one.0, one.1.to_owned(), one.2.to_owned());
    assert_eq!(
        middles(WhatIf::default()),
        [(2, "2026-09-08", "2026-09-09"), (2, "2026-09-10", "2026-09-11")].map(told)
    );
    // Two weeks lost from the second day on.
    let lost = WhatIf { lost: Some((day("2026-09-09"), day("2026-09-22"))), ..WhatIf::default() };
    assert_eq!(middles(lost), [(2, "2026-09-08", "2026-09-23"), (2, "2026-09-24", "2026-09-25")].map(told));
    // Four in five days: none on the first day of five. Seven in five: the third and fifth day hold two.
    let four = WhatIf { lessons_in_days: Some((4, 5)), ..WhatIf::default() };
    assert_eq!(middles(four), [(2, "2026-09-09", "2026-09-10"), (2, "2026-09-11", "2026-09-12")].map(told));
    let seven = WhatIf { lessons_in_days: Some((7, 5)), ..WhatIf::default() };
    assert_eq!(middles(seven), [(2, "2026-09-08", "2026-09-09"), (2, "2026-09-10", "2026-09-10")].map(told));
}

#[test]
fn a_plan_made_anew_says_what_is_needed() {
    // Ten lessons, five teaching days until the day: twice as many a week, or five pairs.
    let content = content(&[&[1, 1, 2, 1, 1], &[0, 1, 1, 3, 1]]);
    let days: Vec<Date> = (0..60).map(|n| day("2026-09-07") + chrono::Days::new(n)).collect();
    let (pace, rule) = sure();
    let way = Way::of(&left(&content, &[]), pace, (1, 1), whole(&days, 1), &rule);
    let told = replan(&way, None, day("2026-09-11"), 5, 2).unwrap();
    assert_eq!((told.lessons_left, told.days_left, told.in_time, told.lessons_too_many), (10, 5, false, 5));
    assert_eq!(told.as_it_goes.unwrap().middle, Some(day("2026-09-16")));
    let rate = told.likely_with.unwrap();
    assert_eq!((rate.lessons, rate.days), (10, 5));
    let place = told.reached_by_then.unwrap();
    assert_eq!((place.step, place.lesson), (1, 5));
    // New items of neighbours: 2 3 3 2 1 1 2 4 4; at most two, fewest first, none twice.
    let pairs: Vec<_> = told.joined.iter().map(|one| (one.titles.clone(), one.new_items)).collect();
    let pair = |a: &str, b: &str, items: usize| ([a.to_owned(), b.to_owned()], items);
    assert_eq!(pairs, [pair("1.5", "2.1", 1), pair("1.1", "1.2", 2), pair("2.2", "2.3", 2)]);
    // One step only is in time as it goes.
    let told = replan(&way, Some(1), day("2026-09-11"), 5, 2).unwrap();
    assert_eq!((told.in_time, told.lessons_too_many, told.joined.len()), (true, 0, 0));
    assert_eq!(told.safe_with.map(|rate| rate.lessons), Some(5));
    // No day at all: nothing is enough.
    let told = replan(&way, None, day("2026-09-01"), 5, 2).unwrap();
    assert_eq!((told.likely_with, told.safe_with, told.reached_by_then), (None, None, None));
}

/// Groups with two lessons a day, each with a chance of its own, seen for 40 days: how often the day on which 30
/// lessons more were finished lies in the interval told, with `due` to come.
fn held(due: &[Due]) -> usize {
    let content = content(&[&[1; 30]]);
    let to_come: Vec<Date> =
        due.iter().flat_map(|day| std::iter::repeat_n(day.on, day.lessons as usize)).collect();
    let (rule, mut chances) = (rule(), crate::phonics::rng::Rng::new(3));
    let mut number = move || f64::from(u32::try_from(chances.below(1 << 30)).unwrap()) / f64::from(1 << 30);
    let mut held = 0;
    for _ in 0..GROUPS {
        let chance = 1.0 - 0.5 * number().powf(1.5);
        let lessons = u32::try_from((0..80).filter(|_| number() < chance).count()).unwrap();
        let pace = Pace { days: 40, sessions: 80, lessons };
        let way = Way::of(&left(&content, &[]), pace, (1, 1), due.to_vec(), &rule);
        let told = steps_ahead(&way, &WhatIf::default()).remove(0).finished.unwrap();
        let (mut done, mut sessions) = (0, 0);
        while done < 30 {
            done += usize::from(number() < chance);
            sessions += 1;
        }
        let on = to_come[sessions - 1];
        held += usize::from(told.earliest.unwrap() <= on && on <= told.latest.unwrap());
    }
    held
}

const GROUPS: usize = 1000;

/// Days are coarser than lessons, so the interval holds more often than it is asked to; with one lesson a day it is
/// as it was with one lesson a day before.
#[test]
fn the_interval_holds_whatever_is_due_in_the_days_to_come() {
    let days: Vec<Date> = (0..200).map(|n| day("2026-09-07") + chrono::Days::new(n)).collect();
    // The afternoon of every third day is closed.
    let halves =
        (0..).zip(&days).map(|(n, on)| Due { on: *on, lessons: if n % 3 == 0 { 1 } else { 2 }, of: 2 });
    for due in [whole(&days, 2), whole(&days, 1), halves.collect()] {
        let held = held(&due);
        assert!((GROUPS * 80 / 100..=GROUPS * 92 / 100).contains(&held), "{held} of {GROUPS}");
    }
}

#[test]
fn what_is_no_longer_due_is_not_forecast() {
    // Ten lessons left. Two a day so far, each finishing one; from Monday 7 September one a day.
    let content = content(&[&[1; 10]]);
    let days: Vec<Date> = (0..30).map(|n| day("2026-09-07") + chrono::Days::new(n)).collect();
    let (pace, rule) = sure();
    let last = |rate: (u32, u32), due: Vec<Due>, what_if: WhatIf| {
        let way = Way::of(&left(&content, &[]), pace, rate, due, &rule);
        steps_ahead(&way, &what_if)[0].finished.unwrap().middle.unwrap()
    };
    let as_it_goes = WhatIf::default;
    assert_eq!(last((1, 1), whole(&days, 2), as_it_goes()), days[4]);
    assert_eq!(last((1, 1), whole(&days, 1), as_it_goes()), days[9]);
    // Two a day, with the first four afternoons closed: 4 in four days, then 6 in three.
    let halves: Vec<Due> = days
        .iter()
        .zip(0..)
        .map(|(on, n)| Due { on: *on, lessons: if n < 4 { 1 } else { 2 }, of: 2 })
        .collect();
    assert_eq!(last((1, 1), halves.clone(), as_it_goes()), days[6]);
    // Three sessions held for every two that were due: 15 for the ten of five days, so the tenth is on the fourth.
    assert_eq!(last((3, 2), whole(&days, 2), as_it_goes()), days[3]);
    // Ten lessons a week of five days are two on a whole day and one on half a day.
    let ten = WhatIf { lessons_in_days: Some((10, 5)), ..WhatIf::default() };
    assert_eq!(last((1, 1), halves, ten), days[6]);
}

#[test]
fn what_a_group_did_lately_is_counted_in_sessions_of_its_own_days() {
    use Outcome::{Delivered, NotDelivered};
    let content = content(&[&[1; 20]]);
    let contents = BTreeMap::from([(VersionId::from_uuid(Uuid::nil()), Arc::new(content.clone()))]);
    // Two weeks of Mondays to Fridays, of which the first lies before what was carried in.
    let days: Vec<Date> =
        (7..19).map(|d| day(&format!("2026-09-{d:02}"))).filter(|d| d.day() != 12 && d.day() != 13).collect();
    let carried = CarriedIn { as_of: day("2026-09-11"), ..CarriedIn::default() };
    let mut facts = GroupFacts {
        on: day("2026-09-18"),
        content: &content,
        contents: &contents,
        records: &[
            record(&content, 0, "2026-09-14", Delivered, None),
            record(&content, 1, "2026-09-14", Delivered, None),
            record(&content, 2, "2026-09-15", NotDelivered, None),
            // A Saturday of all days counts, and is no teaching day.
            record(&content, 2, "2026-09-12", Delivered, None),
            record(&content, 3, "2026-09-17", Delivered, None),
        ],
        carried: Some(&carried),
        plan: None,
        first_day: Some(days[0]),
        year_from: Some(days[0]),
        due: &whole(&days, 1),
    };
    let rule = rule();
    // Monday to Thursday: two sessions on Monday, one on each day after it; the one of the Saturday lies before.
    let told = GroupPace::of(&facts, &rule);
    assert_eq!(told.pace, Pace { days: 4, sessions: 5, lessons: 3 });
    assert_eq!((told.standing.since, told.standing.days), (day("2026-09-12"), 4));
    assert_eq!((told.way.lessons_left(), told.days_a_week), (16, 1));
    // Nothing carried in: the week before counts, with its Saturday.
    facts.carried = None;
    assert_eq!(GroupPace::of(&facts, &rule).pace, Pace { days: 9, sessions: 11, lessons: 4 });
}

mod properties {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        /// A closure never puts anybody behind, and teaching again changes nothing.
        #[test]
        fn closures_and_teaching_again_never_move_anybody_back(
            outcomes in proptest::collection::vec(0..4u8, 1..30), closed in 0..30usize, again in 0..30usize,
            (lessons, in_days) in (1..6u32, 1..6u32),
        ) {
            let content = content(&[&[2; 30]]);
            let days: Vec<Date> = (0..30).map(|n| day("2026-09-07") + chrono::Days::new(n)).collect();
            let plan = Plan::new(days[0], lessons, in_days).unwrap();
            let mut lesson = 0;
            let mut records = Vec::new();
            for (on, outcome) in days.iter().zip(&outcomes) {
                let on = on.to_string();
                match outcome {
                    0 => records.push(record(&content, lesson, &on, Outcome::NotDelivered, None)),
                    1 => {
                        records.push(record(&content, lesson, &on, Outcome::Delivered, None));
                        lesson += 1;
                    }
                    2 => records.push(record(&content, lesson, &on, Outcome::Part, Some(0))),
                    _ => {}
                }
            }
            let of = |records: &[Record], days: &[Date]| {
                let done = finished(&content, None, records, &left(&content, records), |record| content.lesson(record.lesson).map(|found| found.2));
                standing(plan, &whole(days, 1), &done, 30)
            };
            let seen = &days[..outcomes.len()];
            let before = of(&records, seen);
            let open: Vec<Date> = seen.iter().enumerate().filter(|(n, _)| *n != closed).map(|(_, day)| *day).collect();
            let shut = of(&records, &open);
            prop_assert!(shut.lessons_ahead >= before.lessons_ahead && shut.days_ahead >= before.days_ahead);
            // Only what was taught can be taught again.
            if again < outcomes.len() && outcomes[..=again].contains(&1) {
                records.push(record(&content, 0, &seen[again].to_string(), Outcome::Retaught, None));
                prop_assert_eq!(of(&records, seen), before);
            }
        }
    }
}
