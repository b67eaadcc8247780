//! Checks built from the demonstration's sequence: what they hold, that a recipe repeats, and how far forms lie apart.
#![allow(clippy::unwrap_used)]

mod common;

use std::collections::BTreeSet;

use common::{ENGINE, demo};
use plumbline_core::check::{
    CheckKind,
    build::{Built, BuiltItem, Ground, Means, Measure, Recipe, build, lessons_up_to, reached},
};
use plumbline_core::id::VersionId;
use plumbline_core::phonics::Engine;
use plumbline_core::phonics::accent::Accent;
use plumbline_core::phonics::bank::Plan;
use plumbline_core::phonics::policy::Policy;
use plumbline_core::phonics::pseudo::{OfferedPseudoWord, PseudoRequest};
use plumbline_core::phonics::version::by_lesson;
use plumbline_core::rules::pack;
use plumbline_core::sequence::{Content, Gpc, ItemKind};
use uuid::Uuid;

/// A place a third and one two thirds of the way through, and the end.
fn places(content: &Content) -> Vec<(u16, u16)> {
    let all: Vec<_> = content.lessons().map(|(place, ..)| place).collect();
    let at = |n: usize| (u16::try_from(all[n].step).unwrap(), u16::try_from(all[n].lesson).unwrap());
    vec![at(all.len() / 3), at(2 * all.len() / 3), at(all.len() - 1)]
}

fn recipe(kind: CheckKind, (step, lesson): (u16, u16), items: u16, forms: u8, seed: u32) -> Recipe {
    Recipe {
        kind,
        sequence_version_id: VersionId::from_uuid(Uuid::nil()),
        step,
        lesson,
        items,
        forms,
        form: 1,
        seed,
        pseudo_word_set_id: None,
        words_version: 0,
        engine_data: Engine::data_version().into(),
    }
}

fn built_by(engine: &Engine, content: &Content, pseudo: &[OfferedPseudoWord], recipe: &Recipe) -> Built {
    let ground = Ground {
        engine,
        policy: Policy::default(),
        content,
        pseudo,
        rule: &pack("england").unwrap().checks,
        sections: &pack("england").unwrap().statutory_check.sections,
    };
    build(&ground, recipe)
}

fn prompts(form: &[BuiltItem]) -> Vec<&str> {
    form.iter().map(|item| item.prompt.as_str()).collect()
}

/// Made-up words of the whole sequence, enough for a practice check or two.
fn pseudo(content: &Content) -> Vec<OfferedPseudoWord> {
    use plumbline_core::phonics::pseudo::Shape::{Cccvc, Ccvc, Ccvcc, Cvc, Cvcc, TwoSyllables};
    let plan = Plan::new(&ENGINE, by_lesson(&ENGINE, content), Policy::default());
    let made = [Cvc, Ccvc, Cvcc, Ccvcc, Cccvc, TwoSyllables].map(|shape| {
        let wanted = PseudoRequest { count: 30, shapes: vec![shape], seed: 3, ..PseudoRequest::default() };
        plan.pseudo_words(&ENGINE, plan.last_step(), &wanted).words
    });
    let words = made.into_iter().flatten();
    words.filter_map(|word| ENGINE.offered_pseudo_word(&word.word, Accent::default()).ok()).collect()
}

const OF_WORDS: [CheckKind; 3] = [CheckKind::WordReading, CheckKind::Spelling, CheckKind::OralBlending];

#[test]
fn nothing_asked_for_is_beyond_the_place() {
    let content = demo();
    let plan = Plan::new(
        &ENGINE,
        by_lesson(&ENGINE, &content),
        Policy { schwa_tolerance: false, ..Policy::default() },
    );
    for (step, lesson) in places(&content) {
        let at = lessons_up_to(&content, step, lesson).unwrap();
        for kind in OF_WORDS {
            let built = built_by(&ENGINE, &content, &[], &recipe(kind, (step, lesson), 12, 2, 5));
            assert_eq!(built.forms.iter().map(Vec::len).collect::<Vec<_>>(), [12, 12], "{kind:?} {at}");
            for item in built.forms.iter().flatten() {
                let word = ENGINE.lexicon().find(&item.prompt).unwrap();
                assert!(plan.reading.word(&word) <= at, "{} at {at}", item.prompt);
                assert!(ENGINE.screen().suits_children(&item.prompt), "{}", item.prompt);
                assert!(
                    item.asked.gpc_ids.contains(&item.chosen_for.as_ref().unwrap().id()),
                    "{}",
                    item.prompt
                );
            }
        }
        let sentences =
            built_by(&ENGINE, &content, &[], &recipe(CheckKind::SentenceReading, (step, lesson), 4, 2, 5));
        for item in sentences.forms.iter().flatten() {
            for word in
                item.prompt.trim_end_matches(['.', '?', '!']).split([' ', ',']).filter(|w| !w.is_empty())
            {
                let found = ENGINE.lexicon().find(word).unwrap_or_else(|| panic!("{word}"));
                assert!(plan.may_read(&found, at), "{word} in {} at {at}", item.prompt);
            }
        }
        let exception = built_by(
            &ENGINE,
            &content,
            &[],
            &recipe(CheckKind::ExceptionWordReading, (step, lesson), 6, 1, 5),
        );
        assert_eq!(exception.forms[0].len(), 6, "{:?}", exception.short);
        for item in &exception.forms[0] {
            assert!(plan.sequence.exception_step(&item.prompt).unwrap() <= at, "{}", item.prompt);
        }
    }
}

#[test]
fn what_was_taught_last_is_asked_for_and_no_gpc_twice_before_each_once() {
    let content = demo();
    for (step, lesson) in places(&content) {
        let at = lessons_up_to(&content, step, lesson).unwrap();
        let lessons = content.lessons().take(at.into());
        let taught: Vec<_> = lessons
            .flat_map(|(_, _, lesson)| &lesson.items)
            .filter(|item| item.kind == ItemKind::Gpc)
            .collect();
        for seed in 0..20 {
            // The GPCs themselves: the newest five of ten, each once, nothing else than what was taught.
            let gpcs = built_by(
                &ENGINE,
                &content,
                &[],
                &recipe(CheckKind::GpcRecognition, (step, lesson), 10, 1, seed),
            );
            let asked: BTreeSet<_> =
                gpcs.forms[0].iter().map(|item| item.gpc.as_ref().unwrap().id()).collect();
            assert_eq!(asked.len(), 10, "{seed}");
            assert!(asked.iter().all(|id| taught.iter().any(|item| item.id == *id)));
            for newest in taught.iter().rev().take(5) {
                assert!(asked.contains(&newest.id), "{} {seed}", newest.label);
            }
            // In words each GPC has one place before any has two.
            let words = built_by(
                &ENGINE,
                &content,
                &[],
                &recipe(CheckKind::WordReading, (step, lesson), 10, 1, seed),
            );
            let aims: Vec<_> =
                words.forms[0].iter().map(|item| item.chosen_for.as_ref().unwrap().id()).collect();
            assert_eq!(aims.iter().collect::<BTreeSet<_>>().len(), aims.len(), "{seed}");
            for newest in taught
                .iter()
                .rev()
                .take(5)
                .filter(|item| !words.without_words.iter().any(|gpc| gpc.id() == item.id))
            {
                assert!(aims.contains(&newest.id), "{} {seed}", newest.label);
            }
        }
    }
}

/// Over seeds, kinds and places: the forms have few words in common, one structure at most places, and lie apart no more
/// than this in the means of ten items.
#[test]
fn forms_lie_close_together_whatever_the_seed() {
    let content = demo();
    let of = |m: &Measure| (m.graphemes, m.adjacent_consonants, m.split_digraphs);
    for forms in [2u8, 4] {
        let (mut all, mut unlike, mut shared) = (0, 0, 0);
        let mut worst = Means::default();
        for place in places(&content) {
            for kind in OF_WORDS {
                for seed in 0..6 {
                    let built = built_by(&ENGINE, &content, &[], &recipe(kind, place, 10, forms, seed));
                    let at = |n: usize| built.forms.iter().map(move |form| &form[n]);
                    let twice = |n: &usize| {
                        at(*n).map(|item| &item.prompt).collect::<BTreeSet<_>>().len() < usize::from(forms)
                    };
                    assert_eq!(built.shared, (0..10).filter(twice).count(), "{kind:?} {place:?} {seed}");
                    // No word stands at two places of the check.
                    let words: BTreeSet<&str> = built.forms.iter().flat_map(|form| prompts(form)).collect();
                    let by_place: usize =
                        (0..10).map(|n| at(n).map(|item| &item.prompt).collect::<BTreeSet<_>>().len()).sum();
                    assert_eq!(words.len(), by_place, "{kind:?} {place:?} {seed}");
                    all += 10;
                    shared += built.shared;
                    unlike += (0..10)
                        .filter(|n| at(*n).map(|item| of(&item.measure)).collect::<BTreeSet<_>>().len() > 1)
                        .count();
                    let measures = |form: &Vec<BuiltItem>| form.iter().map(|item| item.measure).collect();
                    let measures: Vec<Vec<Measure>> = built.forms.iter().map(measures).collect();
                    let means: Vec<Means> = measures.iter().map(|form| Means::of(form, 20)).collect();
                    let apart = Means::apart(&means);
                    worst.graphemes = worst.graphemes.max(apart.graphemes);
                    worst.adjacent_consonants = worst.adjacent_consonants.max(apart.adjacent_consonants);
                    worst.split_digraphs = worst.split_digraphs.max(apart.split_digraphs);
                    worst.rarity = worst.rarity.max(apart.rarity);
                    worst.lessons_since = worst.lessons_since.max(apart.lessons_since);
                }
            }
        }
        let said = format!("{forms} forms: unlike {unlike}, shared {shared} of {all}; {worst:?}");
        assert!(worst.graphemes <= 0.4 && worst.adjacent_consonants <= 0.4, "{said}");
        assert!(worst.split_digraphs <= 0.3 && worst.rarity <= 0.5 && worst.lessons_since <= 2.0, "{said}");
        // What was taught last has few words, the fewer the further a sequence is.
        let (most_unlike, most_shared) = if forms == 2 { (all / 4, all / 20) } else { (all / 2, all / 4) };
        assert!(unlike <= most_unlike && shared <= most_shared, "{said}");
    }
}

#[test]
fn a_recipe_builds_the_same_again_and_another_seed_something_else() {
    let content = demo();
    let place = places(&content)[1];
    for kind in [
        CheckKind::GpcRecognition,
        CheckKind::WordReading,
        CheckKind::Spelling,
        CheckKind::SentenceReading,
        CheckKind::ExceptionWordReading,
    ] {
        let one = recipe(kind, place, 8, 2, 41);
        let again = Engine::load().unwrap();
        assert_eq!(
            built_by(&ENGINE, &content, &[], &one),
            built_by(&again, &content, &[], &Recipe { form: 2, ..one.clone() })
        );
        let other = built_by(&ENGINE, &content, &[], &Recipe { seed: 42, ..one.clone() });
        assert_ne!(built_by(&ENGINE, &content, &[], &one).forms, other.forms, "{kind:?}");
    }
}

#[test]
fn struck_words_and_words_of_two_readings_are_not_asked_for() {
    let content = demo();
    let place = places(&content)[2];
    let first = built_by(&ENGINE, &content, &[], &recipe(CheckKind::WordReading, place, 20, 1, 9));
    let struck: Vec<String> = first.forms[0].iter().map(|item| item.prompt.clone()).collect();
    let without = ENGINE.with_strikes(struck.clone());
    for seed in 0..10 {
        let built = built_by(&without, &content, &[], &recipe(CheckKind::WordReading, place, 20, 1, seed));
        assert!(built.forms[0].iter().all(|item| !struck.contains(&item.prompt)), "{seed}");
        assert!(
            built.forms[0]
                .iter()
                .all(|item| !["read", "wind", "bow", "minute"].contains(&item.prompt.as_str()))
        );
    }
    // A word to spell has no other that sounds like it.
    for seed in 0..10 {
        let built = built_by(&ENGINE, &content, &[], &recipe(CheckKind::Spelling, place, 20, 1, seed));
        for word in ["sea", "see", "meet", "meat", "sail", "sale", "night", "knight"] {
            assert!(built.forms[0].iter().all(|item| item.prompt != word), "{word} {seed}");
        }
    }
}

#[test]
fn pseudo_words_come_from_the_set_and_what_is_missing_is_said() {
    let content = demo();
    let set = pseudo(&content);
    let place = places(&content)[2];
    let built = built_by(&ENGINE, &content, &set, &recipe(CheckKind::PseudoWordReading, place, 10, 2, 1));
    assert_eq!(built.forms[0].len(), 10);
    assert!(built.forms.iter().flatten().all(|item| set.iter().any(|word| word.word == item.prompt)));
    let few = built_by(&ENGINE, &content, &set[..3], &recipe(CheckKind::PseudoWordReading, place, 10, 1, 1));
    assert_eq!((few.forms[0].len(), few.short.len(), few.short[0].missing), (3, 1, 7));
    // At the third lesson hardly anything can be read.
    let early = built_by(&ENGINE, &content, &[], &recipe(CheckKind::WordReading, (1, 1), 10, 2, 1));
    assert_eq!(early.forms[0].len() + early.short[0].missing, 10);
    let nowhere = built_by(&ENGINE, &content, &[], &recipe(CheckKind::WordReading, (9999, 1), 10, 2, 1));
    assert_eq!(nowhere, Built::default());
}

#[test]
fn a_practice_check_has_the_sections_of_the_pack() {
    let content = demo();
    let set = pseudo(&content);
    let place = places(&content)[2];
    let built = built_by(&ENGINE, &content, &set, &recipe(CheckKind::PracticeCheck, place, 40, 2, 4));
    assert_eq!(built.short, [], "{:?}", built.short);
    for form in &built.forms {
        let count = |section, made_up| {
            form.iter().filter(|item| item.section == Some(section) && item.pseudo == made_up).count()
        };
        // facts/trade.md: 12 made-up and 8 real, then 8 and 12.
        assert_eq!([count(1, true), count(1, false), count(2, true), count(2, false)], [12, 8, 8, 12]);
        let added: BTreeSet<&str> = [
            "ph", "wh", "a_e", "ai", "au", "aw", "ay", "ea", "e_e", "er", "ew", "i_e", "ie", "ir", "oa",
            "o_e", "ou", "ow", "oy", "ue", "u_e", "ur", "air", "igh",
        ]
        .into();
        for item in form.iter().filter(|item| item.section == Some(1) && !item.pseudo) {
            let found = ENGINE.segment(&item.prompt, Accent::default()).unwrap();
            let graphemes = &found.variants[0].graphemes;
            assert!(graphemes.iter().all(|grapheme| !added.contains(grapheme.as_str())), "{}", item.prompt);
        }
        let places: BTreeSet<&str> = prompts(form).into_iter().collect();
        assert_eq!(places.len(), 40);
    }
    // Without a set each section lacks its made-up words, by how many.
    let without = built_by(&ENGINE, &content, &[], &recipe(CheckKind::PracticeCheck, place, 40, 1, 4));
    let missing: Vec<_> =
        without.short.iter().map(|short| (short.section, short.pseudo, short.missing)).collect();
    assert_eq!(missing, [(Some(1), true, 12), (Some(2), true, 8)]);
}

#[test]
fn a_place_is_reached_when_all_before_it_was_taught() {
    let content = demo();
    let taught = |lessons: usize| {
        content.lessons().take(lessons).flat_map(|(_, _, lesson)| &lesson.items).map(|item| item.id).collect()
    };
    let all: Vec<_> = content.lessons().map(|(place, ..)| place).collect();
    assert_eq!(reached(&content, &BTreeSet::new()), None);
    let ten: BTreeSet<_> = taught(10);
    assert!(reached(&content, &ten).unwrap() >= all[9]);
    // What is taught beyond a gap does not count.
    let mut gap = ten;
    let fifth = content.lessons().nth(4).unwrap().2.items[0].id;
    gap.remove(&fifth);
    assert!(reached(&content, &gap).unwrap() < all[4]);
    assert_eq!(reached(&content, &taught(all.len())), all.last().copied());
    assert_eq!(lessons_up_to(&content, 1, 1), Some(1));
    assert_eq!(lessons_up_to(&content, 0, 1), None);
    let pair = Gpc { grapheme: "igh".into(), phoneme: "aɪ".into() };
    assert!(content.items().any(|item| item.id == pair.id()));
}
