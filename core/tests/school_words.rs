//! A school's own words and overrides.
#![allow(clippy::unwrap_used)]

mod common;

use common::{ENGINE, sample};
use plumbline_core::phonics::accent::Accent;
use plumbline_core::phonics::bank::{Audience, BankKind, Plan};
use plumbline_core::phonics::policy::Policy;
use plumbline_core::phonics::school::{ReadingText, SchoolWordError};
use plumbline_core::phonics::sentence::Wanted;

fn gpcs(list: &[&str]) -> Vec<ReadingText> {
    vec![ReadingText::Gpcs(list.iter().map(|g| (*g).to_owned()).collect())]
}

#[test]
fn words_are_added_and_overridden_and_reach_the_banks() {
    let added = ENGINE.school_word("Zubb", &gpcs(&["z:z", "u:ʌ", "bb:b"])).unwrap();
    let other = ENGINE.school_word("tomato", &[ReadingText::Sound("t ə m eɪ t əʊ".to_owned())]).unwrap();
    let school = ENGINE.with_school_words(&[added, other]).unwrap();
    assert_eq!(school.lexicon().len(), ENGINE.lexicon().len() + 1);
    let zubb = school.segment("zubb", Accent::default()).unwrap();
    assert_eq!((zubb.word.as_str(), zubb.guess), ("Zubb", false));
    let tomato = school.segment("tomato", Accent::default()).unwrap();
    assert_eq!(tomato.variants[0].phonemes.concat(), "təmeɪtəʊ");
    assert!(school.lexicon().find("zebra").is_some() && school.lexicon().find("aardvark").is_some());
    let plan = Plan::new(&school, sample(), Policy::default());
    assert!(plan.bank(&school, 19, BankKind::Read, Audience::Child).any(|w| w.shown() == "Zubb"));
    assert!(!plan.sentences(&school, 20, Wanted::default(), 3, 2).is_empty());
}

#[test]
fn what_does_not_fit_is_refused_with_the_reason() {
    let refused = |word: &str, readings: &[ReadingText]| ENGINE.school_word(word, readings).unwrap_err();
    assert!(matches!(
        refused("cat", &gpcs(&["c:k", "a_e:eɪ", "t:t"])),
        SchoolWordError::Spelling { spelt, .. } if spelt == "cate"
    ));
    assert!(matches!(refused("cat", &gpcs(&["c:b"])), SchoolWordError::Gpc(_)));
    assert!(matches!(refused("cat", &[]), SchoolWordError::Readings(0)));
    assert!(matches!(refused("4th", &gpcs(&["f:f"])), SchoolWordError::Word(_)));
    assert!(matches!(refused("tick-tock", &gpcs(&["t:t"])), SchoolWordError::Hyphen(_)));
    assert!(matches!(refused("cat", &[ReadingText::Sound("d ɒ g".into())]), SchoolWordError::Sound { .. }));
    assert!(matches!(refused("cat", &[ReadingText::Sound("q".into())]), SchoolWordError::Phoneme(_)));
}

#[test]
fn what_a_school_struck_is_shown_nowhere() {
    let plan = Plan::new(&ENGINE, sample(), Policy::default());
    let bank = |engine| -> Vec<String> {
        plan.bank(engine, 19, BankKind::Read, Audience::All).map(|w| w.shown().to_owned()).collect()
    };
    let before = bank(&ENGINE);
    let sentences = plan.sentences(&ENGINE, 20, Wanted::default(), 3, 20);
    // Strike every second word of the bank: no sentence may hold one.
    let struck: Vec<String> = before.iter().step_by(2).cloned().collect();
    let school = ENGINE.with_strikes(struck.clone());
    assert_eq!(bank(&school), before.iter().skip(1).step_by(2).cloned().collect::<Vec<_>>());
    let words = |text: &String| -> Vec<String> {
        text.split(|c: char| !c.is_alphabetic()).map(str::to_lowercase).collect()
    };
    let holds = |list: &[String]| list.iter().flat_map(words).any(|w| struck.contains(&w));
    assert!(holds(&sentences), "the test would see nothing");
    assert!(!holds(&plan.sentences(&school, 20, Wanted::default(), 3, 20)));
}

#[test]
fn signs_and_accents_of_a_school_word_do_not_hide_it() {
    let word = ENGINE.school_word("((Zubb\u{e9}!", &[ReadingText::Sound("z ʌ b eɪ".to_owned())]).unwrap();
    assert_eq!((word.shown(), word.key()), ("Zubb\u{e9}", "zubbe"));
    let school = ENGINE.with_school_words(&[word]).unwrap();
    for written in ["Zubb\u{e9}", "zubbe", "ZUBBE\u{301}"] {
        let found = school.segment(written, Accent::default()).unwrap();
        assert_eq!((found.word.as_str(), found.guess), ("Zubb\u{e9}", false), "{written}");
    }
    let struck = ENGINE.with_strikes(["caf\u{e9}!".to_owned(), "Didn\u{2019}t".to_owned()]);
    assert!(struck.is_struck("Cafe") && struck.is_struck("didn't") && !struck.is_struck("did"));
}
