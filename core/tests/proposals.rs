//! The proposer: what it keeps, what it refuses, that it repeats and can be stopped.

#![allow(clippy::unwrap_used)]

mod common;

use std::collections::BTreeSet;
use std::sync::LazyLock;

use common::{ENGINE, propose};
use plumbline_core::phonics::analysis::{Analysis, Limits};
use plumbline_core::phonics::bank::Plan;
use plumbline_core::phonics::policy::Policy;
use plumbline_core::phonics::proposal::{Constraints, Proposal, Search, opens_familiar};
use plumbline_core::phonics::sequence::Sequence;
use plumbline_core::sequence::{ItemKind, settle};
use serde_json::{Value, json};

static USUAL: LazyLock<Proposal> = LazyLock::new(|| propose(&Constraints::default()));

fn analysis(proposal: &Proposal) -> Analysis {
    let plan = Plan::new(&ENGINE, proposal.sequence.clone(), Policy::default());
    plan.analysis(&ENGINE, Limits::default())
}

/// The correspondences of each step, the first of each step only.
fn order(proposal: &Proposal) -> Vec<String> {
    let steps = proposal.sequence.to_text(&ENGINE);
    steps.iter().map(|step| step.gpcs[0].clone()).collect()
}

fn small(more: Value) -> Constraints {
    let mut json = json!({"steps": 10, "beam": 3, "letters_first": 6});
    json.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    serde_json::from_value(json).unwrap()
}

#[test]
fn the_usual_proposal_keeps_its_constraints() {
    let (constraints, a) = (Constraints::default(), analysis(&USUAL));
    assert_eq!(a.too_close, []);
    assert!(a.steps[constraints.words_by - 1].total_words > 0);
    let early = order(&USUAL)[..constraints.letters_first].to_vec();
    assert!(early.iter().all(|gpc| gpc.starts_with("qu:") || gpc.split_once(':').unwrap().0.len() == 1));
    let split = order(&USUAL).iter().position(|gpc| gpc.contains('_')).unwrap();
    assert!(split + 1 >= constraints.split_from);
    let letters: BTreeSet<String> = order(&USUAL)[..constraints.alphabet_by]
        .iter()
        .map(|gpc| gpc.split_once(':').unwrap().0.to_owned())
        .filter(|spelling| spelling.len() == 1 || spelling == "qu")
        .collect();
    assert_eq!(letters.len(), 26, "{letters:?}");
    assert_eq!(USUAL.sequence.len(), constraints.steps);
    assert!(!opens_familiar(&ENGINE, &USUAL.sequence));
    assert!(!opens_familiar(&ENGINE, &common::sample()) && !opens_familiar(&ENGINE, &Sequence::default()));
}

#[test]
fn the_figures_are_those_of_the_analysis() {
    let (figures, a) = (&USUAL.figures, analysis(&USUAL));
    assert_eq!(figures.unmet, []);
    assert_eq!(figures.words.last().copied(), a.steps.last().map(|step| step.total_words));
    assert_eq!(figures.child_words_percent.to_bits(), a.child_coverage.to_bits());
    assert!(figures.child_words_percent > 66.0, "{}", figures.child_words_percent);
    assert!(
        figures.mean_readable_percent > 0.0 && figures.mean_readable_percent < figures.child_words_percent
    );
    assert!(figures.first_word_step.unwrap() <= 3 && figures.alphabet_step.unwrap() <= 44);
    assert_eq!(figures.too_close, 0);
    let placed = USUAL.sequence.steps().iter().map(|step| step.exception_words.len()).sum::<usize>();
    assert_eq!(figures.exception_words, placed);
}

#[test]
fn the_statutory_content_is_taught_when_it_is_promised() {
    let constraints = Constraints {
        steps: 125,
        beam: 2,
        year1_by: Some(90),
        year2_by: Some(125),
        year2_from: 75,
        ..Constraints::default()
    };
    let made = propose(&constraints);
    assert_eq!(made.figures.unmet, []);
    assert_eq!(made.figures.never_taught, Vec::<String>::new());
    // By the statutory lists themselves, not by the figures.
    for unit in ENGINE.statutory().units() {
        let by = if unit.year == plumbline_core::phonics::statutory::Year::Year1 { 90 } else { 125 };
        for id in &unit.gpcs {
            let step = made.sequence.position(*id);
            assert!(step.is_some_and(|step| step <= by), "{}: {step:?}", unit.id);
        }
    }
    let early = order(&made)[..74].to_vec();
    assert!(!early.iter().any(|gpc| gpc == "kn:n" || gpc == "le:ə.l" || gpc == "dge:dʒ"), "{early:?}");
}

#[test]
fn it_begins_as_told_includes_and_leaves_out() {
    let made =
        propose(&small(json!({"start": ["g:g", "o:ɒ"], "include": ["sh:ʃ"], "leave_out": ["t:t", "a:æ"]})));
    let order = order(&made);
    assert_eq!(order[..2], ["g:g", "o:ɒ"]);
    assert!(order.contains(&"sh:ʃ".to_owned()), "{order:?}");
    assert!(!order.iter().any(|gpc| gpc == "t:t" || gpc == "a:æ"), "{order:?}");
    assert_eq!((made.figures.unmet, order.len()), (Vec::new(), 10));
}

#[test]
fn it_repeats_tells_how_far_it_is_and_can_be_stopped() {
    let constraints = small(json!({}));
    let mut told = Vec::new();
    let search = Search::new(&ENGINE, &constraints).unwrap();
    let made = search.run(|progress| {
        told.push(progress);
        true
    });
    assert_eq!(made.unwrap().sequence, propose(&constraints).sequence);
    assert!(told.windows(2).all(|pair| pair[0].done < pair[1].done));
    assert_eq!((told[0].done, told[0].step, told[0].steps), (0.0, 1, 10));
    assert!(told.last().is_some_and(|last| last.step == 10 && last.done > 0.9 && last.done < 1.0));
    let mut left = 5;
    let stopped = search.run(|_| {
        left -= 1;
        left > 0
    });
    assert!(stopped.is_none() && left == 0);
}

#[test]
fn another_seed_may_choose_otherwise() {
    let orders: BTreeSet<Vec<String>> =
        (1..=4).map(|seed| order(&propose(&small(json!({"seed": seed}))))).collect();
    assert!(orders.len() > 1);
}

fn faults(more: Value) -> Vec<String> {
    let faults = Search::new(&ENGINE, &small(more)).map(|_| ()).unwrap_err();
    faults.into_iter().map(|fault| format!("{}: {}", fault.field, fault.message)).collect()
}

#[test]
fn lists_are_bounded_and_so_is_what_is_said_of_them() {
    let many = |entries: usize| json!({"leave_out": vec!["x:k.s"; entries]});
    assert_eq!(faults(many(201)), ["leave_out: must have at most 200 entries; 201 were sent"]);
    // 199 of 200 stand twice; fifty are told.
    let told = faults(many(200));
    assert_eq!((told.len(), told[0].as_str()), (50, "leave_out[1]: x:k.s stands at leave_out[0] too"));
    let both = json!({"start": vec!["a:æ"; 201], "include": vec!["a:æ"; 100_000]});
    assert_eq!(faults(both).len(), 2);
}

#[test]
fn numbers_out_of_range_are_named() {
    for (more, field) in [
        (json!({"steps": 0}), "steps"),
        (json!({"steps": 171}), "steps"),
        (json!({"beam": 0}), "beam"),
        (json!({"beam": 501}), "beam"),
        (json!({"words_by": 1}), "words_by"),
        (json!({"alphabet_by": 25}), "alphabet_by"),
        (json!({"promise": 1.0}), "promise"),
        (json!({"exception_words": {"every": 0}}), "exception_words.every"),
    ] {
        assert_eq!(
            faults(more).iter().map(|line| line.split(':').next().unwrap()).collect::<Vec<_>>(),
            [field]
        );
    }
}

#[test]
fn what_english_does_not_have_is_refused_with_what_may_be_meant() {
    assert_eq!(
        faults(json!({"include": ["sh:ʃ", "sh:k", "k"]})),
        [
            "include[1]: sh:k is not a correspondence of English; did you mean sh:ʃ, c:k, ch:k, ck:k, k:k?",
            "include[2]: k: “k” is not a correspondence: write grapheme:sound, for example sh:ʃ",
        ]
    );
    assert_eq!(faults(json!({"leave_out": ["qu:k"]})), ["leave_out[0]: qu:k is not taught by itself"]);
}

#[test]
fn contradictions_are_named() {
    for (more, expected) in [
        (json!({"start": ["o:ɒ", "o:ɒ"]}), "start[1]: o:ɒ stands at start[0] too"),
        (json!({"include": ["sh:ʃ", "a:æ", "sh:ʃ"]}), "include[2]: sh:ʃ stands at include[0] too"),
        // Two spellings of one correspondence.
        (json!({"leave_out": ["g:g", "g:ɡ"]}), "leave_out[1]: g:ɡ stands at leave_out[0] too"),
        (json!({"start": ["g:g"], "leave_out": ["g:ɡ"]}), "leave_out[0]: g:ɡ is also in start"),
        (json!({"include": ["sh:ʃ"], "leave_out": ["sh:ʃ"]}), "leave_out[0]: sh:ʃ is also in include"),
        (json!({"start": ["sh:ʃ"]}), "start[0]: the first 6 steps hold single letters"),
        (json!({"include": ["a_e:eɪ"]}), "split_from: split digraphs are needed by step 10"),
        (
            json!({"steps": 30, "alphabet_by": 30, "leave_out": ["v:v"]}),
            "leave_out: leaves v without a sound by alphabet_by",
        ),
        (json!({"year1_by": 10, "split_from": 1}), "year1_by: "),
        (
            json!({"steps": 2, "include": ["ch:tʃ", "sh:ʃ", "ng:ŋ"], "letters_first": 0}),
            "steps: 3 ideas are to be taught by step 2",
        ),
        (json!({"steps": 1, "start": ["g:g", "o:ɒ"]}), "start: holds more than 1 steps"),
        (json!({"year2_by": 5, "year2_from": 7, "split_from": 1}), "year2_from: comes after year2_by"),
    ] {
        let found = faults(more.clone());
        assert!(found.iter().any(|line| line.starts_with(expected)), "{more}: {found:?}");
    }
}

#[test]
fn a_draft_holds_what_the_sequence_holds() {
    let constraints = small(json!({"steps": 16, "exception_words": {"from": 4}}));
    let made = propose(&constraints);
    let draft = made.draft(&ENGINE, 3).unwrap();
    let mut next = 0_u128;
    let content = settle(draft, &plumbline_core::sequence::Known::default(), &mut || {
        next += 1;
        uuid(next)
    })
    .unwrap();
    let (read, unknown) = plumbline_core::phonics::version::by_step(&ENGINE, &content).unwrap();
    assert_eq!(unknown, []);
    assert_eq!(read, made.sequence);
    assert!(made.figures.exception_words > 0);
    let last = &content.steps[15].lessons.last().unwrap().items;
    let expected = [15, 14, 11, 4].map(|n: usize| format!("review of {}", content.steps[n].title));
    assert_eq!(last.iter().map(|item| item.label.to_string()).collect::<Vec<_>>(), expected);
    assert!(content.items().filter(|item| item.kind == ItemKind::Gpc).all(|item| item.keyword.is_some()));
    assert!(plumbline_core::sequence::analyse(&content, 3).publishable);
}

fn uuid(n: u128) -> uuid::Uuid {
    uuid::Uuid::from_u128(n)
}
