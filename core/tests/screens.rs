//! The hashed screens agree with the lexicon, and made-up words pass a check that does not use
//! them.
#![allow(clippy::unwrap_used)]

mod common;

use std::collections::BTreeSet;

use common::{ENGINE, plan};
use plumbline_core::phonics::accent::Accent;
use plumbline_core::phonics::phoneme::Phoneme;
use plumbline_core::phonics::policy::Policy;
use plumbline_core::phonics::pseudo::{PseudoRequest, Shape};

/// Longer ones are no neighbours of a made-up word and are not in the screens.
const LONGEST_SPELLING: usize = 10;
const LONGEST_SOUND: usize = 8;

#[test]
fn the_screens_hold_every_word_of_the_lexicon() {
    for word in ENGINE.lexicon().iter() {
        let letters = word.shown().to_lowercase();
        let plain = letters.bytes().all(|b| b.is_ascii_lowercase());
        if plain && letters.len() <= LONGEST_SPELLING {
            assert!(ENGINE.screen().is_real_word(&letters), "{letters}");
        }
        for reading in word.readings() {
            for (n, accent) in (0u8..).zip(Accent::SUPPORTED) {
                let sound = accent.pronounce(ENGINE.inventory(), reading.units);
                if sound.len() <= LONGEST_SOUND {
                    assert!(ENGINE.screen().sounds_real(n, &sound), "{letters}");
                }
            }
        }
    }
}

#[test]
fn no_child_word_is_unsuitable_and_the_screens_are_not_trivial() {
    let screen = ENGINE.screen();
    for word in ENGINE.lexicon().iter().filter(|w| w.child_band() > 0) {
        assert!(screen.suits_children(word.shown()), "{}", word.shown());
    }
    let kept_back = ENGINE.lexicon().iter().filter(|w| !screen.suits_children(w.shown())).count();
    assert!((200..2_000).contains(&kept_back), "{kept_back}");
    assert!(screen.real_words.len() > 200_000 && screen.real_sounds.len() > 150_000);
    assert!(screen.offensive_sounds.len() > 5_000 && screen.blocked_strings.len() > 50);
}

/// A sound without its accent's finer points, to compare loosely.
fn loose(sound: &[Phoneme]) -> String {
    let symbols = sound.iter().map(|p| match p.symbol() {
        "i" => "iː",
        "u" => "uː",
        "ʊə" => "ɔː",
        "ʍ" => "w",
        s => s,
    });
    symbols.collect::<Vec<_>>().join(" ")
}

/// An independent check: every sound of the lexicon in every accent, in the open.
#[test]
fn no_made_up_word_sounds_like_a_word_of_the_lexicon() {
    let mut real: Vec<BTreeSet<String>> = Vec::new();
    for accent in Accent::SUPPORTED {
        let words = ENGINE.lexicon().iter();
        let sounds = words.flat_map(|w| w.readings().map(|r| r.units.to_vec()).collect::<Vec<_>>());
        real.push(sounds.map(|u| loose(&accent.pronounce(ENGINE.inventory(), &u))).collect());
    }
    let plan = plan(Policy::default());
    let shapes = vec![
        Shape::Vc,
        Shape::Cvc,
        Shape::Ccvc,
        Shape::Cvcc,
        Shape::Ccvcc,
        Shape::Cccvc,
        Shape::TwoSyllables,
    ];
    for seed in 0..3 {
        let request = PseudoRequest { count: 300, seed, shapes: shapes.clone(), ..PseudoRequest::default() };
        for made in plan.pseudo_words(&ENGINE, 26, &request).words {
            for (accent, real) in Accent::SUPPORTED.iter().zip(&real) {
                let sound = loose(&accent.pronounce(ENGINE.inventory(), &made.reading.units));
                assert!(!real.contains(&sound), "{} /{sound}/", made.word);
            }
            for other in &made.also_accept {
                let spaced = loose(&Phoneme::parse_sequence(other).unwrap());
                assert!(!real[0].contains(&spaced), "{} read /{other}/", made.word);
            }
        }
    }
}
