//! Readings the dictionary gives that are another accent's, another word's or wrong.
#![allow(clippy::unwrap_used)]

mod common;

use common::ENGINE;
use plumbline_core::phonics::bank::{Audience, BankKind, Plan};
use plumbline_core::phonics::policy::Policy;

/// Every reading of a word, as IPA.
fn sounds(word: &str) -> Vec<String> {
    let found = ENGINE.lexicon().find(word).unwrap();
    let sound = |r: plumbline_core::phonics::lexicon::Reading<'_>| {
        let phonemes = r.units.iter().filter_map(|u| ENGINE.inventory().get(u.id()));
        phonemes.flat_map(|c| c.gpc.phonemes()).map(|p| p.symbol()).collect()
    };
    found.readings().map(sound).collect()
}

/// The pronunciations of standard southern British, as any British dictionary gives them.
#[test]
fn common_words_have_no_other_reading() {
    for (word, sound) in [
        ("won", "wʌn"),
        ("wanted", "wɒntɪd"),
        ("unwanted", "ʌnwɒntɪd"),
        ("swamped", "swɒmpt"),
        ("wallet", "wɒlɪt"),
        ("quarrel", "kwɒrəl"),
        ("warrant", "wɒrənt"),
        ("as", "æz"),
        ("job", "dʒɒb"),
        ("curry", "kʌri"),
        ("syrup", "sɪrəp"),
        ("data", "deɪtə"),
        ("status", "steɪtəs"),
        ("putting", "pʊtɪŋ"),
        ("reading", "riːdɪŋ"),
        ("lived", "lɪvd"),
        ("windy", "wɪndi"),
        ("polish", "pɒlɪʃ"),
        ("regular", "regjələ"),
        ("Sunday", "sʌndeɪ"),
        ("eraser", "ɪreɪzə"),
    ] {
        assert_eq!(sounds(word), [sound], "{word}");
    }
}

/// Words that are two words in one keep both.
#[test]
fn words_with_two_true_readings_keep_them() {
    for word in ["read", "lead", "live", "row", "tear", "wind", "bow", "minute", "either"] {
        assert_eq!(sounds(word).len(), 2, "{word}");
    }
}

/// *minute* shown alone is /mɪnɪt/: a class that can read only /maɪnjuːt/ is shown neither.
#[test]
fn a_word_that_is_two_words_waits_for_the_commoner_one() {
    let taught = common::sequence("m:m n:n t:t i:aɪ u_e:j.uː w:w d:d a:æ\ni:ɪ u:ɪ te:t");
    let plan = Plan::new(&ENGINE, taught, Policy::default());
    let bank = |step| -> Vec<&str> {
        plan.bank(&ENGINE, step, BankKind::Read, Audience::Child).map(|w| w.shown()).collect()
    };
    for word in ["minute", "wind"] {
        assert!(!bank(1).contains(&word) && bank(2).contains(&word), "{word}");
        let found = ENGINE.lexicon().find(word).unwrap();
        let written = plan.write(&ENGINE, &found, BankKind::Read).unwrap();
        assert!(written.reading.gpcs.iter().any(|gpc| gpc.to_string() == "i:ɪ"), "{word}");
    }
}

/// What the rules of English make of these words and English does not write.
#[test]
fn forms_that_are_none_are_no_words() {
    let made = "flied costed ringed shined goed runned comed gived writed eated falled drived childs mouses foots \
                gooder badder funnest";
    for form in made.split_whitespace() {
        assert!(ENGINE.lexicon().find(form).is_none(), "{form}");
    }
}
