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

/// Words that hold, begin or end with a crude string and are harmless.
const HARMLESS: &str = "cockpit cockerel peacock cocktail hancock pass passage class classic glass grass \
    compass assembly assistant bassoon embassy harass massive essex sussex middlesex sextet title petit \
    titanic constitute button buttercup document cucumber circumstance accumulate therapist grape scrape \
    drapes parapet analysis canal banal shell hello skill skillet studied soldier audience homograph \
    basement bumblebee album pedal sputnik swank dickens mishit scunthorpe kumquat shiitake \
    raspberry arsenal hoard whoever megaphone pumpkin cracker colony bray butcher shaggy slobber fondly";

#[test]
fn harmless_words_suit_children() {
    let refused: Vec<&str> =
        HARMLESS.split_whitespace().filter(|w| !ENGINE.screen().suits_children(w)).collect();
    assert!(refused.is_empty(), "{refused:?}");
}

/// Few lexicon words are named by both public lists; one list's word alone is no vote.
#[test]
fn a_word_is_for_review_when_both_public_lists_name_it() {
    use plumbline_core::phonics::screen::{ReviewCause, Suitability};
    let screen = ENGINE.screen();
    let voted = |w: &str| screen.suitability(w) == Suitability::Review(ReviewCause::TwoLists);
    assert!(voted("jackass") && voted("Snatch"));
    // Named by one of them only.
    assert!(!voted("chunky") && !voted("steamy") && screen.suits_children("chunky"));
    let by_vote = ENGINE.lexicon().iter().filter(|w| voted(w.shown())).count();
    assert!((5..60).contains(&by_vote), "{by_vote}");
}

/// A rude word's endings, other spellings and near-sounds are refused with it; the mildest serve.
#[test]
fn endings_and_soundalikes_of_rude_words_are_refused() {
    let screen = ENGINE.screen();
    let offends = |sound| screen.sounds_offensive(&Phoneme::parse_sequence(sound).unwrap());
    for sound in
        ["p.ɜː.v", "p.ɜː.v.d", "b.ɜː.v.ɪ.ŋ", "p.ɜː.v.ə", "p.r.ɜː.v", "b.ʌ.m.d", "f.ɑː.t.ɪ.d", "f.ɑː.t.s"]
    {
        assert!(offends(sound), "{sound}");
    }
    for sound in ["l.ɜː.m", "s.p.l.ɪ.m", "g.l.æ.n.t", "k.r.e.l.p"] {
        assert!(!offends(sound), "{sound}");
    }
    assert!(screen.holds_blocked("perved") && !screen.holds_blocked("glanted"));
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
