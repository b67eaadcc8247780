//! A lesson's sentence holds what is new wherever the frames and their words allow it.
#![allow(clippy::unwrap_used)]

mod common;

use common::{ENGINE, plan, sample};
use plumbline_core::phonics::bank::Plan;
use plumbline_core::phonics::lesson::{LessonRequest, LessonShape};
use plumbline_core::phonics::policy::Policy;
use plumbline_core::phonics::sequence::Sequence;
use plumbline_core::phonics::unit::GpcId;

/// Lessons, those with a sentence, and those whose sentence has a word holding what is new.
#[derive(Debug, Default, PartialEq)]
struct Share {
    lessons: usize,
    with_sentence: usize,
    holding: usize,
}

fn holds(plan: &Plan, sentence: &str, new: &[GpcId]) -> bool {
    sentence.split(' ').any(|word| {
        let word = ENGINE.lexicon().find(word.trim_end_matches(['.', '?', ',', '!'])).unwrap();
        plan.holds(&ENGINE, word.id, new)
    })
}

fn share(plan: &Plan, from: u16, seeds: u64) -> Share {
    let mut out = Share::default();
    let shape = LessonShape { read: 0, spell: 0, pseudo: 0, ..LessonShape::default() };
    for step in from..=plan.last_step() {
        let new = plan.sequence.steps()[usize::from(step) - 1].gpcs.clone();
        for seed in 0..seeds {
            let request = LessonRequest { step, seed, shape: shape.clone(), ..LessonRequest::default() };
            let sentences = plan.lesson(&ENGINE, &request).sentences;
            out.lessons += 1;
            out.with_sentence += usize::from(!sentences.is_empty());
            out.holding += usize::from(sentences.iter().any(|s| holds(plan, s, &new)));
        }
    }
    out
}

/// 26 steps, six seeds. The first two steps have no sentence yet. Before frames were drawn for the
/// new correspondence, and before their words covered most of them, 119 held it.
#[test]
fn every_lesson_with_a_sentence_has_what_is_new_in_it() {
    let share = share(&plan(Policy::default()), 1, 6);
    assert_eq!(share, Share { lessons: 156, with_sentence: 144, holding: 144 });
}

/// The same steps, then each unit the inventory offers that they lack, one a step: 102 of 118
/// lessons hold it, where 38 did before.
#[test]
fn most_units_taught_later_have_a_sentence_too() {
    let first = sample();
    let taught: Vec<GpcId> = first.steps().iter().flat_map(|s| s.gpcs.clone()).collect();
    let mut ids = taught.clone();
    ids.extend(ENGINE.inventory().teachable().map(|(id, _)| id).filter(|id| !taught.contains(id)));
    let plan = Plan::new(&ENGINE, Sequence::one_a_step(&ids), Policy::default());
    let from = u16::try_from(taught.len()).unwrap() + 1;
    let share = share(&plan, from, 1);
    assert!(share.lessons == 118 && share.holding >= 100, "{share:?}");
}

/// Every word of the classes and frames can be shown to children without review.
#[test]
fn the_words_of_sentences_suit_children() {
    let text = include_str!("../rules/phonics/sentences.tsv");
    let words = text.lines().filter(|l| !l.starts_with('#')).flat_map(|l| {
        let last = l.rsplit('\t').next().unwrap_or("");
        last.split(' ').filter(|w| !w.starts_with('{')).map(|w| w.trim_end_matches(['.', '?', ',', '!']))
    });
    for word in words {
        assert!(ENGINE.screen().suits_children(word), "{word}");
    }
}
