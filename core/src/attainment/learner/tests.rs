//! One pupil's lessons and checks, worked by hand.

use std::sync::LazyLock;

use uuid::Uuid;

use super::*;
use crate::{
    check::Outcome,
    phonics::practice::{Basis, Sizes},
    sequence::settle,
};

static ENGINE: LazyLock<Engine> = LazyLock::new(|| Engine::load().unwrap());

const RULE: SecureRule = SecureRule { right_on_days: 3, days_after_teaching: 7, carried_in_days: 1 };

fn day(d: u32) -> Date {
    Date::from_ymd_opt(2026, 10, d).unwrap()
}

/// m, o, d, "the", e and n, in this order.
fn content() -> Arc<Content> {
    let gpc = |g: &str, p: &str| serde_json::json!({"kind": "gpc", "gpc": {"grapheme": g, "phoneme": p}});
    let the = serde_json::json!({"kind": "exception_word", "label": "the"});
    let items = [gpc("m", "m"), gpc("o", "ɒ"), gpc("d", "d"), the, gpc("e", "e"), gpc("n", "n")];
    let steps = serde_json::json!({"steps": [{"title": "S", "lessons": [{"title": "L", "items": items}]}]});
    let mut next = 0;
    let settled =
        settle(serde_json::from_value(steps).unwrap(), &crate::sequence::Known::default(), &mut || {
            next += 1;
            Uuid::from_u128(next)
        });
    Arc::new(settled.unwrap())
}

/// Records of a pupil: the day each item was taught (0: missed), items carried in as of the 1st, and
/// the days of October on which an item was answered right.
fn records(taught: &[(usize, u32)], before: &[usize], right: &[(usize, &[u32])]) -> PupilRecords {
    let content = content();
    let ids: Vec<ItemId> = content.items().map(|item| item.id).collect();
    let line = |d: u32| ItemCoverage {
        taught_on: (d > 0).then(|| day(d)),
        missed_on: (d == 0).then(|| day(1)),
        times: u32::from(d > 0),
        catch_ups: 0,
        carried_in: false,
    };
    let carried = ItemCoverage { taught_on: Some(day(1)), carried_in: true, ..ItemCoverage::default() };
    let answer =
        |d: &u32| Answer { on: day(*d), outcome: Outcome::Right, carried_in: false, by_choice: false };
    PupilRecords {
        contents: vec![content.clone(), content],
        covered: taught
            .iter()
            .map(|(n, d)| (ids[*n], line(*d)))
            .chain(before.iter().map(|n| (ids[*n], carried)))
            .collect(),
        answers: right.iter().map(|(n, days)| (ids[*n], days.iter().map(answer).collect())).collect(),
        ..PupilRecords::default()
    }
}

fn of(records: &PupilRecords) -> Learner {
    learner(&ENGINE, Policy::default(), records, &RULE, 2)
}

fn names<'a>(ids: impl IntoIterator<Item = &'a GpcId>) -> Vec<String> {
    ids.into_iter().filter_map(|id| written(&ENGINE, *id)).collect()
}

#[test]
fn what_was_missed_is_not_known_and_what_was_taught_last_is_current() {
    let seen = of(&records(&[(0, 1), (1, 1), (2, 5), (3, 5), (4, 0), (5, 6)], &[], &[(0, &[2, 3, 8])]));
    assert_eq!(names(seen.taught.iter().map(|(_, id)| id)), ["m:m", "o:ɒ", "d:d", "n:n"]);
    // m was right on three days, one of them a week after it was taught.
    assert_eq!(names(&seen.secure), ["m:m"]);
    // At most two, the latest first; e was missed.
    assert_eq!(names(&seen.current), ["n:n", "d:d"]);
    assert_eq!(seen.exception_words, [(Some(day(5)), "the".to_owned())]);
}

#[test]
fn what_was_carried_in_or_is_secure_by_checks_is_known_without_a_day() {
    let seen = of(&records(&[(2, 5)], &[0, 3], &[(1, &[1, 2, 9]), (4, &[2])]));
    let taught: Vec<(Option<Date>, String)> =
        seen.taught.iter().map(|(on, id)| (*on, written(&ENGINE, *id).unwrap())).collect();
    assert_eq!(
        taught,
        [(None, "m:m".to_owned()), (None, "o:ɒ".to_owned()), (Some(day(5)), "d:d".to_owned())]
    );
    // One right answer to e, which was never taught, proves nothing.
    assert_eq!((names(&seen.secure), names(&seen.current)), (vec!["o:ɒ".to_owned()], vec!["d:d".to_owned()]));
    assert_eq!(seen.exception_words, [(None, "the".to_owned())]);
}

#[test]
fn days_are_steps_and_what_has_no_day_comes_first() {
    let seen = of(&records(&[(2, 5), (4, 7), (3, 7)], &[0, 1], &[]));
    let (days, steps) = seen.by_day(&ENGINE).unwrap();
    assert_eq!(days, [None, Some(day(5)), Some(day(7))]);
    let text = steps.to_text(&ENGINE);
    assert_eq!(text[0].gpcs, ["m:m", "o:ɒ"]);
    assert_eq!((text[1].gpcs.join(" "), text[2].gpcs.join(" ")), ("d:d".into(), "e:e".into()));
    assert_eq!(text[2].exception_words, ["the"]);
    let secured = seen.secured(&ENGINE).unwrap().to_text(&ENGINE);
    assert_eq!((secured[0].gpcs.len(), secured[0].exception_words.join(" ")), (0, "the".into()));
}

#[test]
fn what_was_taught_and_never_wrong_fills_up_and_what_was_wrong_does_not() {
    // m and o carried in, d, e and n by lessons; two current; a wrong answer to o.
    let mut records = records(&[(2, 5), (4, 6), (5, 7)], &[0, 1], &[]);
    let o = content().items().nth(1).unwrap().id;
    let seen = of(&records);
    assert_eq!(
        (names(&seen.current), names(&seen.taught_only)),
        (vec!["n:n".into(), "e:e".into()], vec!["m:m".to_owned(), "o:ɒ".to_owned(), "d:d".to_owned()])
    );
    let basis = |learner: &Learner, word: &str| {
        let made = learner.practice(&ENGINE, Policy::default(), 1, Sizes { words: 40, sentences: 2 }).words;
        made.into_iter().find(|(w, _)| w.word == word).map(|(_, basis)| basis)
    };
    // "men" needs m, "don" d and o.
    assert_eq!(basis(&seen, "men"), Some(Basis::Taught));
    assert_eq!(basis(&seen, "nod"), Some(Basis::Taught));
    for outcome in [Outcome::Wrong, Outcome::NoResponse] {
        records.answers =
            BTreeMap::from([(o, vec![Answer { on: day(8), outcome, carried_in: false, by_choice: false }])]);
        let seen = of(&records);
        assert_eq!(names(&seen.taught_only), ["m:m", "d:d"]);
        assert_eq!((basis(&seen, "men"), basis(&seen, "nod")), (Some(Basis::Taught), None));
    }
}

#[test]
fn practice_says_what_is_missing() {
    let gap = |records: &PupilRecords| {
        PracticeGap::of(&of(records).practice(
            &ENGINE,
            Policy::default(),
            1,
            Sizes { words: 8, sentences: 2 },
        ))
    };
    assert_eq!(gap(&PupilRecords::default()), Some(PracticeGap::NoGpcs));
    assert_eq!(gap(&records(&[(0, 0)], &[], &[])), Some(PracticeGap::NoGpcs));
    // What was carried in is something to say, and o alone spells nothing.
    assert_eq!(gap(&records(&[(0, 0)], &[1], &[])), Some(PracticeGap::NoWords));
    assert_eq!(gap(&records(&[(0, 1)], &[], &[])), Some(PracticeGap::NoWords));
    // m is secure, o and d are current: "mod" and "mom" are words, and a sentence needs a verb.
    let few = records(&[(0, 1), (1, 5), (2, 5)], &[], &[(0, &[2, 3, 8])]);
    assert_eq!(gap(&few), Some(PracticeGap::NoSentences));
    let made = of(&few).practice(&ENGINE, Policy::default(), 1, Sizes { words: 8, sentences: 2 });
    assert!(made.words.iter().any(|(word, _)| word.word == "mod"), "{:?}", made.words);
}
