//! Practice for home in a school like the demonstration's: groups of a whole-school sequence, each
//! with its starting point, lessons since and few checks.
#![allow(clippy::unwrap_used)]

mod common;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use common::ENGINE;
use plumbline_core::attainment::{Answer, PracticeGap, PupilRecords, learner};
use plumbline_core::check::Outcome;
use plumbline_core::id::ItemId;
use plumbline_core::lesson::ItemCoverage;
use plumbline_core::phonics::policy::Policy;
use plumbline_core::rules::SecureRule;
use plumbline_core::sequence::{Content, settle};
use plumbline_core::time::Date;
use uuid::Uuid;

const RULE: SecureRule = SecureRule { right_on_days: 3, days_after_teaching: 7, carried_in_days: 1 };

fn content() -> Arc<Content> {
    let text = include_str!("../../api/src/demo/data/sequence.json");
    let file: serde_json::Value = serde_json::from_str(text).unwrap();
    let draft = serde_json::from_value(file["draft"].clone()).unwrap();
    let mut next = 0;
    let settled = settle(draft, &plumbline_core::sequence::Known::default(), &mut || {
        next += 1;
        Uuid::from_u128(next)
    });
    Arc::new(settled.unwrap())
}

/// Pupil `n` of a group that starts at lesson `start` and had `taught` lessons, one a day: every
/// seventh lesson missed, every fifth item checked on three days, every fourth of those wrong.
fn pupil(content: &Arc<Content>, n: usize, start: usize, taught: usize) -> PupilRecords {
    let first = Date::from_ymd_opt(2026, 9, 3).unwrap();
    let day = |at: usize| first + chrono::Days::new(u64::try_from(at).unwrap());
    let mut records = PupilRecords { contents: vec![content.clone()], ..PupilRecords::default() };
    let lessons: Vec<Vec<ItemId>> = content
        .steps
        .iter()
        .flat_map(|step| &step.lessons)
        .map(|lesson| lesson.items.iter().map(|item| item.id).collect())
        .collect();
    for (at, items) in lessons.iter().enumerate().take(start + taught) {
        for item in items {
            if at < start {
                let carried =
                    ItemCoverage { taught_on: Some(first), carried_in: true, ..ItemCoverage::default() };
                records.covered.insert(*item, carried);
            } else if !(at + n).is_multiple_of(7) {
                let line =
                    ItemCoverage { taught_on: Some(day(at - start)), times: 1, ..ItemCoverage::default() };
                records.covered.insert(*item, line);
            }
            if (at + n).is_multiple_of(5) {
                let outcome = if at.is_multiple_of(4) { Outcome::Wrong } else { Outcome::Right };
                let answers = [1, 4, 9].map(|d| Answer {
                    on: day(at.saturating_sub(start) + d),
                    outcome,
                    carried_in: false,
                    by_choice: false,
                });
                records.answers.insert(*item, answers.to_vec());
            }
        }
    }
    records
}

/// Ten groups of seven pupils, half a term in, from a start in the first year's middle to the
/// second year's end. What stands before is enough for all to have eight words; one of the first group
/// has no sentence.
#[test]
fn nearly_every_pupil_gets_the_words_asked_for_and_a_sentence() {
    let content = content();
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for (n, start) in (0..10).flat_map(|g| (0..7).map(move |n| (n, 20 + 25 * g))) {
        let records = pupil(&content, n, start, 30);
        let learner = learner(&ENGINE, Policy::default(), &records, &RULE, 4);
        let made = learner.practice(&ENGINE, Policy::default(), 11, common::sizes(8));
        *counts.entry("pupils").or_default() += 1;
        *counts.entry("eight words").or_default() += usize::from(made.words.len() == 8);
        *counts.entry("a sentence").or_default() += usize::from(!made.sentences.is_empty());
        // Nothing in it is untaught, and nothing that was wrong fills up.
        let known: BTreeSet<_> =
            [&learner.secure[..], &learner.current, &learner.taught_only].concat().into_iter().collect();
        for gpc in made.words.iter().flat_map(|(word, _)| &word.reading.gpcs) {
            assert!(known.contains(&ENGINE.inventory().find(&gpc.to_string()).unwrap()), "{gpc}");
        }
    }
    assert_eq!((counts["pupils"], counts["eight words"]), (70, 70));
    assert!(counts["a sentence"] >= 69, "{counts:?}");
}

#[test]
fn a_pupil_with_nothing_gets_the_reason() {
    let none = learner(&ENGINE, Policy::default(), &PupilRecords::default(), &RULE, 4);
    let made = none.practice(&ENGINE, Policy::default(), 11, common::sizes(8));
    assert!(made.gpcs.is_empty() && made.words.is_empty() && made.sentences.is_empty());
    assert_eq!(PracticeGap::of(&made), Some(PracticeGap::NoGpcs));
}

/// nn, mm, rr and gg taught together are one idea: three more are current beside them.
#[test]
fn doubled_consonants_taught_together_are_one_current_idea() {
    let records = |taught: &[(&str, u64)]| {
        let items: Vec<_> = taught
            .iter()
            .map(|(gpc, _)| {
                let (grapheme, phoneme) = gpc.split_once(':').unwrap();
                serde_json::json!({"kind": "gpc", "gpc": {"grapheme": grapheme, "phoneme": phoneme}})
            })
            .collect();
        let draft =
            serde_json::json!({"steps": [{"title": "S", "lessons": [{"title": "L", "items": items}]}]});
        let mut next = 0;
        let settled = settle(
            serde_json::from_value(draft).unwrap(),
            &plumbline_core::sequence::Known::default(),
            &mut || {
                next += 1;
                Uuid::from_u128(next)
            },
        );
        let content = Arc::new(settled.unwrap());
        let first = Date::from_ymd_opt(2026, 9, 3).unwrap();
        let covered = content.items().zip(taught).map(|(item, (_, day))| {
            let on = first + chrono::Days::new(*day);
            (item.id, ItemCoverage { taught_on: Some(on), times: 1, ..ItemCoverage::default() })
        });
        PupilRecords {
            covered: covered.collect(),
            contents: vec![content.clone()],
            ..PupilRecords::default()
        }
    };
    let taught = [
        ("a:æ", 1),
        ("t:t", 2),
        ("sh:ʃ", 3),
        ("ch:tʃ", 4),
        ("nn:n", 5),
        ("mm:m", 5),
        ("rr:r", 6),
        ("gg:g", 6),
    ];
    let current = |policy: Policy| {
        let learner = learner(&ENGINE, policy, &records(&taught), &RULE, 4);
        let name = |id: &_| ENGINE.inventory().get(*id).map(|c| c.gpc.to_string());
        learner.current.iter().filter_map(name).collect::<BTreeSet<_>>()
    };
    let set = |list: &[&str]| list.iter().map(|g| (*g).to_owned()).collect::<BTreeSet<_>>();
    assert_eq!(current(Policy::default()), set(&["gg:g", "rr:r", "mm:m", "nn:n", "ch:tʃ", "sh:ʃ", "t:t"]));
    assert_eq!(current(Policy::default().exact()), set(&["gg:g", "rr:r", "mm:m", "nn:n"]));
}
