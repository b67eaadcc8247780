//! Readings the dictionary gives that are another accent's, another word's or wrong.
#![allow(clippy::unwrap_used)]

mod common;

use common::ENGINE;

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
