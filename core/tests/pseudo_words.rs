//! Pseudo-words are taught, screened, varied and repeatable.

mod common;

use std::collections::BTreeSet;

use common::{ENGINE, plan};
use plumbline_core::phonics::accent::Accent;
use plumbline_core::phonics::policy::Policy;
use plumbline_core::phonics::pseudo::{PseudoRequest, Shape};

fn request(count: usize, seed: u64) -> PseudoRequest {
    PseudoRequest { count, seed, ..PseudoRequest::default() }
}

#[test]
fn the_same_seed_gives_the_same_words_and_another_seed_others() {
    let plan = plan(Policy::default());
    let make = |seed| {
        let result = plan.pseudo_words(&ENGINE, 12, &request(40, seed));
        result.words.into_iter().map(|w| w.word).collect::<Vec<_>>()
    };
    assert_eq!(make(1), make(1));
    assert_ne!(make(1), make(2));
    assert_eq!(make(1).len(), 40);
}

#[test]
fn at_five_stages_none_is_real_none_sounds_real_and_none_needs_more_than_is_taught() {
    let plan = plan(Policy::default());
    for step in [6, 10, 15, 20, 26] {
        let result = plan.pseudo_words(&ENGINE, step, &request(1_000, 5));
        assert!(result.words.len() > 60, "step {step}: {}", result.words.len());
        let taught: BTreeSet<String> = plan
            .sequence
            .taught(step)
            .filter_map(|id| ENGINE.inventory().get(id))
            .map(|c| c.gpc.to_string())
            .collect();
        for made in &result.words {
            assert!(ENGINE.lexicon().find(&made.word).is_none(), "{}", made.word);
            assert!(!ENGINE.screen().is_real_word(&made.word));
            assert!(!ENGINE.screen().holds_blocked(&made.word));
            for (n, accent) in (0u8..).zip(Accent::SUPPORTED) {
                let sound = accent.pronounce(ENGINE.inventory(), &made.reading.units);
                assert!(!ENGINE.screen().sounds_real(n, &sound), "{}", made.word);
                assert!(!ENGINE.screen().sounds_offensive(&sound), "{}", made.word);
            }
            for gpc in &made.reading.gpcs {
                assert!(taught.contains(&gpc.to_string()), "{} needs {gpc}", made.word);
            }
        }
    }
}

#[test]
fn strikes_shapes_and_held_units_are_kept() {
    let plan = plan(Policy::default());
    let first = plan.pseudo_words(&ENGINE, 12, &request(10, 3)).words;
    let struck = first[0].word.clone();
    let mut again = request(30, 3);
    again.strikes.insert(struck.clone());
    again.shapes = vec![Shape::Ccvc];
    let sh = ENGINE.inventory().find("sh:ʃ").unwrap();
    again.holding.insert(sh);
    for made in plan.pseudo_words(&ENGINE, 12, &again).words {
        assert_ne!(made.word, struck);
        assert_eq!(made.shape, Shape::Ccvc);
        assert!(made.word.contains("sh"));
    }
    let two = PseudoRequest { shapes: vec![Shape::TwoSyllables], ..request(20, 3) };
    assert_eq!(plan.pseudo_words(&ENGINE, 20, &two).words.len(), 20);
}

#[test]
fn nothing_taught_makes_nothing() {
    let result = plan(Policy::default()).pseudo_words(&ENGINE, 0, &request(5, 1));
    assert!(result.words.is_empty() && result.short);
}
