//! Unlock steps, banks, exception words and text analysis.

#![allow(clippy::unwrap_used)]

mod common;

use common::{ENGINE, plan, sequence};
use plumbline_core::phonics::accent::Accent;
use plumbline_core::phonics::bank::{Audience, BankKind, Plan};
use plumbline_core::phonics::policy::{Doubled, Policy};
use plumbline_core::phonics::sequence::{Sequence, SequenceError, StepText};
use plumbline_core::phonics::text::{MOST_GUESSED, Standing, TextError};
use plumbline_core::phonics::unlock::NEVER;
use proptest::prelude::*;

fn step_of(plan: &Plan, word: &str) -> u16 {
    plan.reading.word(&ENGINE.lexicon().find(word).unwrap())
}

#[test]
fn words_unlock_with_their_last_unit() {
    let plan = plan(Policy::default());
    let check = |word: &str, want: u16| assert_eq!(step_of(&plan, word), want, "{word}");
    check("hot", 1);
    check("hen", 2);
    check("dog", 3);
    check("moon", 13);
    check("book", 18);
    check("this", 12);
    check("pink", 7);
    check("cats", 6);
    check("dogs", 6);
    check("cake", 20);
    check("the", 25);
    check("yacht", NEVER);
}

#[test]
fn policies_and_accents_change_what_is_needed() {
    let with = |f: fn(&mut Policy)| {
        let mut policy = Policy::default();
        f(&mut policy);
        plan(policy)
    };
    assert_eq!(step_of(&with(|p| p.suffix_s_as_z = false), "dogs"), NEVER);
    assert_eq!(step_of(&with(|p| p.th_split = true), "this"), NEVER);
    assert_eq!(step_of(&with(|p| p.n_before_k_taught = true), "pink"), NEVER);
    assert_eq!(step_of(&with(|_| ()), "hammer"), 19);
    assert_eq!(step_of(&with(|p| p.doubled = Doubled::WithSingle), "hammer"), 16);
    assert_eq!(step_of(&with(|p| p.doubled = Doubled::Separately), "hammer"), NEVER);
    assert_eq!(step_of(&with(|_| ()), "path"), NEVER);
    let short_a = with(|p| p.accent = Accent { short_a_in_bath: true, ..Accent::default() });
    assert_eq!(step_of(&short_a, "path"), 12);
    assert_eq!(step_of(&short_a, "father"), NEVER);
    assert_eq!(step_of(&with(|_| ()), "put"), NEVER);
    let merged = with(|p| p.accent = Accent { no_foot_strut_split: true, ..Accent::default() });
    assert_eq!(step_of(&merged, "put"), 7);
}

#[test]
fn spelling_banks_hold_only_what_is_taught_itself() {
    let plan = plan(Policy::default());
    let has = |kind, word: &str| plan.bank(&ENGINE, 19, kind, Audience::Child).any(|w| w.shown() == word);
    assert!(has(BankKind::Read, "kitten") && !has(BankKind::Spell, "kitten"));
    assert!(has(BankKind::Read, "ship") && has(BankKind::Spell, "ship"));
    assert_eq!(plan.bank(&ENGINE, 0, BankKind::Read, Audience::All).count(), 0);
}

#[test]
fn exception_words_are_computed() {
    let mut steps: Vec<StepText> = vec![StepText::default(); 3];
    steps[0].gpcs = ["th:θ", "e:e", "h:h"].map(str::to_owned).to_vec();
    steps[1].exception_words = vec!["the".to_owned()];
    steps[2].gpcs = vec!["e:ə".to_owned()];
    let sequence = Sequence::parse(&ENGINE, &steps).unwrap();
    let plan = Plan::new(&ENGINE, sequence, Policy::default());
    let the = |step| {
        let list = plan.exception_words(&ENGINE, step);
        list.into_iter().find(|e| e.word == "the").unwrap()
    };
    assert_eq!(the(1).lacking.len(), 1);
    assert_eq!((the(1).taught_at, the(1).decodable_from), (Some(2), Some(3)));
    assert!(the(3).lacking.is_empty());
    assert_eq!(plan.exception_words(&ENGINE, 0).len(), 109);
    let read = |step| plan.analyse(&ENGINE, "The the THE", step).unwrap();
    assert_eq!(read(1).words[0].standing, Standing::UntaughtException);
    assert_eq!(read(2).words[0].standing, Standing::TaughtException);
    assert_eq!(read(2).percent_readable, Some(100.0));
    assert_eq!(read(3).words[0].standing, Standing::Decodable);
    assert_eq!(read(3).words[0].count, 3);
}

#[test]
fn texts_are_analysed_or_refused() {
    let plan = plan(Policy::default());
    let a = plan.analyse(&ENGINE, "A fox, a hen — and 3 zorps!", 12).unwrap();
    assert_eq!((a.running, a.skipped), (6, 1));
    let standing = |w: &str| a.words.iter().find(|x| x.word == w).map(|x| (x.standing, x.guess));
    assert_eq!(standing("fox"), Some((Standing::Decodable, false)));
    assert_eq!(standing("a"), Some((Standing::UntaughtException, false)));
    assert!(standing("zorps").unwrap().1);
    assert!(a.lacking.iter().any(|l| l.gpc.to_string() == "a:ə" && l.words == 2));
    let empty = plan.analyse(&ENGINE, " 12 … ", 1).unwrap();
    assert_eq!((empty.running, empty.percent_decodable), (0, None));
    assert!(matches!(plan.analyse(&ENGINE, "x", 99), Err(TextError::StepOutOfRange { last: 26, .. })));
    let huge = "a ".repeat(600_000);
    assert!(matches!(plan.analyse(&ENGINE, &huge, 1), Err(TextError::TooLarge(_))));
    // Words of two consonants before a vowel and two after, none of them English; the last one is
    // one too many.
    let (c, v) = ("bdfghjklmnprtvwz", "aeiou");
    let mut made = c.chars().flat_map(|a| {
        c.chars().flat_map(move |b| {
            v.chars().flat_map(move |d| c.chars().map(move |e| format!("{a}{b}{d}{e}q{e}")))
        })
    });
    let text: Vec<String> = made.by_ref().take(MOST_GUESSED).collect();
    assert_eq!(plan.analyse(&ENGINE, &text.join(" "), 1).unwrap().guessed, MOST_GUESSED);
    let more = format!("{} {}", text.join(" "), made.next().unwrap());
    assert_eq!(plan.analyse(&ENGINE, &more, 1), Err(TextError::TooManyGuessed));
}

#[test]
fn unknown_and_repeated_correspondences_are_refused() {
    let step = |g: &str| StepText { gpcs: vec![g.to_owned()], exception_words: Vec::new() };
    let unknown = Sequence::parse(&ENGINE, &[step("a:æ"), step("sh:tʃ")]);
    assert!(matches!(unknown, Err(SequenceError::Unknown { step: 2, .. })));
    let twice = Sequence::parse(&ENGINE, &[step("a:æ"), step("a:æ")]);
    assert!(matches!(twice, Err(SequenceError::Twice { step: 2, first: 1, .. })));
}

#[test]
fn a_bank_is_a_prefix_of_the_next() {
    let plan = plan(Policy::default());
    for step in 0..plan.last_step() {
        let (now, next) = (plan.unlocks.bank(step), plan.unlocks.bank(step + 1));
        assert_eq!(now, &next[..now.len()]);
    }
    assert!(plan.unlocks.bank(26).len() > 5_000);
    assert_eq!(sequence("a:æ").len(), 1);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// No bank ever holds a word that needs an untaught correspondence, whatever the order.
    #[test]
    fn no_bank_needs_an_untaught_correspondence(order in Just(()).prop_flat_map(|()| {
        let ids: Vec<_> = ENGINE.inventory().teachable().map(|(id, _)| id).collect();
        Just(ids).prop_shuffle()
    }), cut in 5usize..60) {
        let taught: std::collections::BTreeSet<_> = order[..cut].iter().copied().collect();
        let plan = Plan::new(&ENGINE, Sequence::one_a_step(&order), Policy::default());
        let step = u16::try_from(cut).unwrap();
        for word in plan.bank(&ENGINE, step, BankKind::Spell, Audience::All) {
            let reading = plan.spelling.first_reading(&word).unwrap();
            for unit in reading.units {
                let sound = |u| Accent::default().realise(ENGINE.inventory(), u);
                let own = ENGINE.inventory().get(unit.id()).unwrap();
                let covered = taught.contains(&unit.id()) || taught.iter().any(|t| {
                    let other = ENGINE.inventory().get(*t).unwrap();
                    other.gpc.grapheme() == own.gpc.grapheme()
                        && sound(*unit).starts_with(&sound(plumbline_core::phonics::unit::Unit::new(*t)))
                });
                prop_assert!(covered, "{} needs {}", word.shown(), own.gpc);
            }
        }
        for word in plan.bank(&ENGINE, step, BankKind::Read, Audience::All) {
            let reading = plan.reading.first_reading(&word).unwrap();
            prop_assert!(plan.reading.lacking(&ENGINE, reading.units, step).is_empty());
        }
    }

    /// Teaching more never takes a word away.
    #[test]
    fn banks_only_grow(cut in 1usize..25) {
        let plan = plan(Policy::default());
        let step = u16::try_from(cut).unwrap();
        let more = plan.bank(&ENGINE, step + 1, BankKind::Spell, Audience::Child).count();
        let fewer = plan.bank(&ENGINE, step, BankKind::Spell, Audience::Child).count();
        prop_assert!(more >= fewer);
    }
}
