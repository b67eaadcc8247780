//! Hardly anything taught: plans and practice answer with what little there is, or nothing.
#![allow(clippy::unwrap_used)]

mod common;

use common::ENGINE;
use plumbline_core::phonics::bank::{Audience, BankKind, Plan};
use plumbline_core::phonics::lesson::LessonRequest;
use plumbline_core::phonics::policy::Policy;
use plumbline_core::phonics::practice::{Practised, practice};
use plumbline_core::phonics::sequence::{Sequence, StepText};
use plumbline_core::phonics::unit::GpcId;

fn ids(gpcs: &[&str]) -> Vec<GpcId> {
    gpcs.iter().map(|g| ENGINE.inventory().find(g).unwrap()).collect()
}

fn words(gpcs: &[&str]) -> Vec<String> {
    let sheet = practice(
        &ENGINE,
        Policy::default(),
        Practised { secure: &[], current: &ids(gpcs), ..Practised::default() },
        1,
        common::sizes(8),
    );
    let mut words: Vec<String> = sheet.words.into_iter().map(|(w, _)| w.word).collect();
    words.sort();
    words
}

#[test]
fn practice_of_nothing_is_empty() {
    let sheet = practice(
        &ENGINE,
        Policy::default(),
        Practised { secure: &[], current: &[], ..Practised::default() },
        1,
        common::sizes(8),
    );
    assert!(sheet.gpcs.is_empty() && sheet.words.is_empty() && sheet.sentences.is_empty());
    let none_wanted = practice(
        &ENGINE,
        Policy::default(),
        Practised { secure: &ids(&["a:æ"]), current: &ids(&["t:t"]), ..Practised::default() },
        1,
        common::sizes(0),
    );
    assert_eq!((none_wanted.gpcs.len(), none_wanted.words.len()), (1, 0));
}

/// With a and t there is *at*; with p besides *pat* and *tap* and *apt*; p and t alone spell nothing.
#[test]
fn practice_of_one_two_or_three_holds_the_words_there_are() {
    assert_eq!(words(&["a:æ"]), Vec::<String>::new());
    assert_eq!(words(&["p:p", "t:t"]), Vec::<String>::new());
    assert_eq!(words(&["a:æ", "t:t"]), ["at"]);
    let three = words(&["a:æ", "t:t", "p:p"]);
    assert!(["at", "pat", "tap"].iter().all(|w| three.contains(&(*w).to_owned())), "{three:?}");
    assert!(three.iter().all(|w| w.bytes().all(|b| b"apt".contains(&b))), "{three:?}");
}

/// A correspondence named as secure and as current counts once.
#[test]
fn practice_of_one_named_twice_is_practice_of_one() {
    let one = ids(&["a:æ"]);
    let sheet = practice(
        &ENGINE,
        Policy::default(),
        Practised { secure: &one, current: &one, ..Practised::default() },
        1,
        common::sizes(8),
    );
    assert_eq!(sheet.gpcs.len(), 1);
}

#[test]
fn plans_of_very_few_steps_answer() {
    for taught in [&[][..], &["a:æ"], &["a:æ", "t:t"], &["a:æ", "t:t", "p:p"]] {
        let plan = Plan::new(&ENGINE, Sequence::one_a_step(&ids(taught)), Policy::default());
        assert_eq!(usize::from(plan.last_step()), taught.len());
        for step in [0, 1, 2, 3, 500] {
            let lesson = plan.lesson(&ENGINE, &LessonRequest { step, seed: 7, ..common::request() });
            assert_eq!(lesson.step, step.min(plan.last_step()));
            assert_eq!(lesson.new.len(), usize::from(lesson.step > 0));
            assert_eq!(lesson.handwriting.len(), lesson.new.len());
            assert!(lesson.exception.is_empty() && lesson.sentences.is_empty() && lesson.pseudo.len() <= 4);
            let allowed: String = taught.iter().filter_map(|g| g.chars().next()).collect();
            for word in lesson.read.iter().chain(&lesson.spell) {
                assert!(word.word.to_lowercase().chars().all(|c| allowed.contains(c)), "{}", word.word);
            }
        }
        assert_eq!(plan.bank(&ENGINE, 0, BankKind::Read, Audience::All).count(), 0);
        assert_eq!(plan.analyse(&ENGINE, "", 0).unwrap().running, 0);
    }
}

#[test]
fn a_step_of_exception_words_only_has_them_and_nothing_new() {
    let step = StepText { gpcs: Vec::new(), exception_words: vec!["the".to_owned()] };
    let plan = Plan::new(&ENGINE, Sequence::parse(&ENGINE, &[step]).unwrap(), Policy::default());
    let lesson = plan.lesson(&ENGINE, &LessonRequest { step: 1, ..common::request() });
    assert_eq!(lesson.exception, ["the"]);
    assert!(lesson.new.is_empty() && lesson.read.is_empty() && lesson.pseudo.is_empty());
}
