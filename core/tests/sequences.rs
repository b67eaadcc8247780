//! Sequence analysis, the proposer and lesson content.

#![allow(clippy::unwrap_used)]

mod common;

use std::collections::BTreeSet;

use common::{ENGINE, plan};
use plumbline_core::phonics::analysis::Limits;
use plumbline_core::phonics::bank::Plan;
use plumbline_core::phonics::lesson::{LessonRequest, LessonShape};
use plumbline_core::phonics::policy::Policy;
use plumbline_core::phonics::practice::{Practised, practice};
use plumbline_core::phonics::proposal::{Constraints, Proposal};
use plumbline_core::phonics::review::History;
use plumbline_core::phonics::sequence::{Sequence, StepText};
use plumbline_core::phonics::unit::GpcId;
use proptest::prelude::*;

fn proposal() -> &'static Proposal {
    static PROPOSAL: std::sync::LazyLock<Proposal> =
        std::sync::LazyLock::new(|| common::propose(&Constraints::default()));
    &PROPOSAL
}

fn proposed_plan() -> &'static Plan {
    static PLAN: std::sync::LazyLock<Plan> =
        std::sync::LazyLock::new(|| Plan::new(&ENGINE, proposal().sequence.clone(), Policy::default()));
    &PLAN
}

fn steps(list: &[&str]) -> Sequence {
    let steps: Vec<StepText> = list
        .iter()
        .map(|l| StepText {
            gpcs: l.split_whitespace().filter(|g| g.contains(':')).map(str::to_owned).collect(),
            exception_words: l.split_whitespace().filter(|g| !g.contains(':')).map(str::to_owned).collect(),
        })
        .collect();
    Sequence::parse(&ENGINE, &steps).unwrap()
}

#[test]
fn analysis_names_what_is_wrong() {
    let sequence = steps(&["b:b a:æ", "d:d", "said", "s:s", "bad", "sh:ʃ", "ch:tʃ"]);
    let plan = Plan::new(&ENGINE, sequence, Policy::default());
    let a = plan.analysis(&ENGINE, Limits { days_available: Some(5), ..Limits::default() });
    let pairs: Vec<String> = a.too_close.iter().map(|t| format!("{} {}", t.first, t.second)).collect();
    assert_eq!(pairs, ["b:b d:d", "sh:ʃ ch:tʃ"]);
    assert!(a.steps[5].thin && !a.steps[2].thin);
    let faults: Vec<(&str, bool)> =
        a.exception_faults.iter().map(|f| (f.word.as_str(), f.needless)).collect();
    assert_eq!(faults, [("said", false), ("bad", true)]);
    assert!(a.never_taught.iter().any(|u| u.unit == "igh"));
    assert_eq!((a.days_needed, a.days_spare), (8, Some(-3)));
}

#[test]
fn a_lesson_is_the_same_for_a_seed_and_differs_by_day() {
    let plan = plan(Policy::default());
    let make = |seed| plan.lesson(&ENGINE, &LessonRequest { step: 14, seed, ..common::request() });
    assert_eq!(make(1), make(1));
    assert_ne!(make(1).read, make(2).read);
    let lesson = make(1);
    assert_eq!(lesson.read.len(), 8);
    assert!(lesson.read.iter().all(|w| w.step == 14), "{:?}", lesson.read);
    assert!(!lesson.sentences.is_empty() && lesson.pseudo.len() == 4);
    assert!(plan.lesson(&ENGINE, &LessonRequest::default()).read.is_empty());
}

#[test]
fn review_takes_what_is_due_and_leaves_what_confuses() {
    let plan = plan(Policy::default());
    let find = |g: &str| ENGINE.inventory().find(g).unwrap();
    let history = |g: &str, last_day, wrong| History {
        gpc: find(g),
        last_day,
        reviews: 2,
        recent: false,
        wrong,
        missed: 0.0,
    };
    let request = LessonRequest {
        step: 5,
        today: 20,
        history: vec![
            history("d:d", 10, 0.0),
            history("t:t", 10, 0.0),
            history("h:h", 19, 0.9),
            history("a:æ", 20, 0.0),
        ],
        shape: LessonShape { review: 2, ..common::shape() },
        ..common::request()
    };
    let new: Vec<GpcId> = plan.sequence.steps()[4].gpcs.clone();
    let set: BTreeSet<GpcId> = plan.review_set(&ENGINE, &request, &new).into_iter().map(|(g, _)| g).collect();
    assert_eq!(set, BTreeSet::from([find("t:t"), find("h:h")]), "d waits: b is new");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    /// No lesson, sentence or practice sheet needs an untaught correspondence.
    #[test]
    fn nothing_made_needs_an_untaught_correspondence(step in 1u16..=90, seed: u64) {
        let plan = proposed_plan();
        let request = LessonRequest {
            step,
            seed,
            shape: LessonShape { sentences: 3, ..common::shape() },
            ..common::request()
        };
        let lesson = plan.lesson(&ENGINE, &request);
        for word in lesson.read.iter().chain(&lesson.spell) {
            prop_assert!(word.step <= step, "{}", word.word);
        }
        for sentence in &lesson.sentences {
            let a = plan.analyse(&ENGINE, sentence, step).unwrap();
            prop_assert_eq!(a.decodable + a.taught_exceptions, a.running, "{}", sentence);
        }
        let known: Vec<GpcId> = plan.sequence.taught(step).collect();
        let (current, secure) = known.split_at(known.len().min(2));
        let sheet = practice(&ENGINE, Policy::default(), Practised { secure, current, ..Practised::default() }, seed, common::sizes(8));
        let own = Plan::new(&ENGINE, Sequence::of_set(known.iter().copied()), Policy::default());
        for (word, _) in &sheet.words {
            let found = ENGINE.lexicon().find(&word.word).unwrap();
            prop_assert_eq!(own.unlocks.step_of(found.id), 1);
        }
        for (sentence, _) in &sheet.sentences {
            prop_assert_eq!(own.analyse(&ENGINE, sentence, 1).unwrap().percent_readable, Some(100.0));
        }
    }
}

#[test]
fn exception_words_are_placed_where_little_is_lacking() {
    let plan = proposed_plan();
    let words: Vec<(u16, String)> = (1..)
        .zip(plan.sequence.steps())
        .flat_map(|(n, s)| s.exception_words.iter().map(move |w| (n, w.clone())))
        .collect();
    assert!(words.len() > 25, "{words:?}");
    for (step, word) in &words {
        let known = ENGINE.lexicon().find(word).unwrap();
        assert!(plan.reading.word(&known) > *step, "{word} can be read by its parts");
        let reading = plan.reading.first_reading(&known).unwrap();
        assert_eq!(plan.reading.lacking(&ENGINE, reading.units, *step).len(), 1, "{word}");
    }
    assert!(plan.analysis(&ENGINE, Limits::default()).exception_faults.iter().all(|f| !f.needless));
    let early = plan.lesson(&ENGINE, &LessonRequest { step: 30, seed: 4, ..common::request() });
    assert_eq!(early.exception.len(), 3);
}
