//! A lesson's sentence holds what is new wherever the frames and their words allow it.
#![allow(clippy::unwrap_used)]

mod common;

use std::collections::BTreeMap;

use common::{ENGINE, plan, sample};
use plumbline_core::phonics::bank::Plan;
use plumbline_core::phonics::lesson::{LessonRequest, LessonShape};
use plumbline_core::phonics::policy::Policy;
use plumbline_core::phonics::sentence::Wanted;
use plumbline_core::phonics::sequence::{Sequence, StepText};
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
    let shape = LessonShape { read: 0, spell: 0, pseudo: 0, ..common::shape() };
    for step in from..=plan.last_step() {
        let new = plan.sequence.steps()[usize::from(step) - 1].gpcs.clone();
        for seed in 0..seeds {
            let request = LessonRequest { step, seed, shape: shape.clone(), ..common::request() };
            let sentences = plan.lesson(&ENGINE, &request).sentences;
            out.lessons += 1;
            out.with_sentence += usize::from(!sentences.is_empty());
            out.holding += usize::from(sentences.iter().any(|s| holds(plan, s, &new)));
        }
    }
    out
}

/// 26 steps, six seeds. The first step has no sentence yet: h, o and t make none.
#[test]
fn every_lesson_with_a_sentence_has_what_is_new_in_it() {
    let share = share(&plan(Policy::default()), 1, 6);
    assert_eq!(share, Share { lessons: 156, with_sentence: 150, holding: 150 });
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

/// The sample, then every other unit the inventory offers and the statutory words as a last step.
#[test]
fn a_new_exception_word_has_the_first_sentence() {
    let mut steps = sample().to_text(&ENGINE);
    let has = |gpc: &str| steps.iter().any(|s| s.gpcs.iter().any(|g| g == gpc));
    let more: Vec<String> = ENGINE
        .inventory()
        .teachable()
        .map(|(_, known)| known.gpc.to_string())
        .filter(|gpc| !has(gpc))
        .collect();
    let words = ENGINE.statutory().exception_words().iter().map(|w| w.word.to_owned());
    steps.push(StepText { gpcs: more, exception_words: words.collect() });
    let plan = Plan::new(&ENGINE, Sequence::parse(&ENGINE, &steps).unwrap(), Policy::default());
    for word in ENGINE.statutory().exception_words() {
        let wanted = [word.word.to_owned()];
        for seed in 0..5 {
            let made = plan.sentences(&ENGINE, plan.last_step(), wanted_words(&wanted), seed, 1);
            assert!(
                made.iter().any(|s| said(s).contains(&word.word.to_lowercase())),
                "{}: {made:?}",
                word.word
            );
        }
    }
}

fn wanted_words(words: &[String]) -> Wanted<'_> {
    Wanted { gpcs: &[], words, parts: &[] }
}

fn said(sentence: &str) -> Vec<String> {
    sentence.split(' ').map(|w| w.trim_end_matches(['.', '?', ',', '!']).to_lowercase()).collect()
}

/// Fifty lessons in one group, after the sample's twelfth step and at each later one.
#[test]
fn over_fifty_lessons_no_sentence_comes_more_than_twice() {
    let plan = plan(Policy::default());
    for step in 12..=plan.last_step() {
        let mut counts: BTreeMap<String, usize> = BTreeMap::new();
        for seed in 0..50 {
            for sentence in plan.sentences(&ENGINE, step, Wanted::default(), seed, 1) {
                *counts.entry(sentence).or_default() += 1;
            }
        }
        assert!(counts.values().all(|n| *n <= 2), "{step}: {counts:?}");
        assert_eq!(counts.values().sum::<usize>(), 50);
    }
}

/// A sequence of fifty lessons, one correspondence of the sample each and what it lacks after.
#[test]
fn fifty_lessons_one_after_another_seldom_repeat_a_sentence() {
    let mut ids: Vec<GpcId> = sample().steps().iter().flat_map(|s| s.gpcs.clone()).collect();
    ids.extend(
        ENGINE.inventory().teachable().map(|(id, _)| id).filter(|id| sample().position(*id).is_none()),
    );
    let plan = Plan::new(&ENGINE, Sequence::one_a_step(&ids), Policy::default());
    let shape = LessonShape { read: 0, spell: 0, pseudo: 0, ..common::shape() };
    let mut counts: BTreeMap<String, usize> = BTreeMap::new();
    for step in 26..76 {
        let request =
            LessonRequest { step, seed: u64::from(step), shape: shape.clone(), ..common::request() };
        for sentence in plan.lesson(&ENGINE, &request).sentences {
            *counts.entry(sentence).or_default() += 1;
        }
    }
    assert!(counts.len() >= 45 && counts.values().all(|n| *n <= 2), "{counts:?}");
}

/// Sentences of former lessons at which a teacher would stop: no frame makes one of them.
const ODD: &str = "Help and sleep, said Dad.|Dig and sit, said Nan.|Jump and rest, said Nan.|Go and stop, Mum.|\
    Share and wait, said Grandad.|Go and whisper, Gran.|Can Nan join and paint?|Can Dad sigh and paint?|\
    Can Mum learn and hide?|Can Nan tiptoe and paint?|Can Nan cook and stare?|Can Gran yawn and mend?|\
    Can Mum cook and chew?|Can Nan eat and catch?|Can Dad sleep and stop?|Can Mum shop and dance?|\
    We can share and yell.|We can snore and sit.|We can catch and tiptoe.|I can tiptoe and joke.|\
    Gran and Nan stir.|Do Grandad and Dad stir?|Do Nan and Dad stitch?|Dad and Nan mix.|Do Dad and Mum sigh?|\
    Did Grandad chew?|Gran could cuddle.|We camp at school.|The friend can stitch.|A friend is in the kitchen.|\
    Dad told Mum.|The queen can stop.|Most tigers can eat.|Most dogs can rest.|Every toad can rest.|\
    Dad got no lamps.|Nan got no vans.|Nan has old vans.|She has blue nets.|My letter is big.|\
    She has large phones.|Gran has large drums.|She has huge trays.|She has huge maps.|These lights are dirty.|\
    The kitten dug in the school.|The hare was in the school.|There is a cow in the bush.|\
    Mrs Hill is in the school.|The servant has a clock.|A servant is in the shop.|Nan got six medals.|\
    Gran dug and Grandad cried.|A dentist sat on a sand.|There was no peaches.|Hens fell in the den.";

#[test]
fn no_frame_makes_what_a_teacher_would_stop_at() {
    let text = include_str!("../rules/phonics/sentences.tsv");
    let lines: Vec<Vec<&str>> = text.lines().map(|line| line.split('\t').collect()).collect();
    let classes: BTreeMap<&str, Vec<&str>> = lines
        .iter()
        .filter_map(|cells| match cells[..] {
            ["class", name, words] => Some((name, words.split(' ').collect())),
            _ => None,
        })
        .collect();
    let makes = |frame: &str, sentence: &[String]| {
        let tokens: Vec<String> = said(frame);
        tokens.len() == sentence.len()
            && tokens.iter().zip(sentence).all(|(token, word)| {
                let class = token.strip_prefix('{').and_then(|t| t.strip_suffix('}'));
                class.map_or(token == word, |c| classes[c].iter().any(|w| w.to_lowercase() == *word))
            })
    };
    let frames: Vec<&str> = lines.iter().filter(|c| c[0] == "frame").map(|c| c[1]).collect();
    let any = |sentence: &str| frames.iter().find(|frame| makes(frame, &said(sentence)));
    assert!(any("The vet can sing.").is_some() && any("I can see six hats.").is_some());
    for sentence in ODD.split('|') {
        assert_eq!(any(sentence), None, "{sentence}");
    }
}
