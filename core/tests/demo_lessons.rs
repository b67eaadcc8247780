//! The lessons of the demonstration, each at its own place: what was taught before it and no more.
#![allow(clippy::unwrap_used)]

mod common;

use std::collections::BTreeSet;

use common::{ENGINE, demo};
use plumbline_core::phonics::bank::{BankWord, Plan};
use plumbline_core::phonics::lesson::{Lesson, LessonRequest};
use plumbline_core::phonics::policy::Policy;
use plumbline_core::phonics::subject::Subject;
use plumbline_core::phonics::version::taught_and_new;
use plumbline_core::phonics::word_part::WordPart;
use plumbline_core::sequence::{Item, ItemKind};

/// A lesson with what it was made for.
struct Taught {
    title: String,
    new_words: Vec<String>,
    parts: Vec<WordPart>,
    lesson: Lesson,
}

/// The lessons that are picked, by their number from 0 and by what they are about.
fn lessons(pick: impl Fn(usize, &[&Item], &[WordPart]) -> bool) -> Vec<Taught> {
    let content = demo();
    let mut taught = BTreeSet::new();
    let mut out = Vec::new();
    for (n, (_, step, lesson)) in content.lessons().enumerate() {
        let new: Vec<_> = lesson.items.iter().map(|item| item.id).collect();
        let items: Vec<&Item> = lesson.items.iter().collect();
        let Subject { about, named, parts } = Subject::of(&ENGINE, &content, step, &items);
        let kinds = parts.clone().unwrap_or_default();
        if pick(n, &items, &kinds) {
            let steps = taught_and_new(&ENGINE, &content, &taught, &new).unwrap();
            let plan = Plan::new(&ENGINE, steps, Policy::default());
            let seed = u64::try_from(n).unwrap();
            let request = LessonRequest { step: 2, seed, about, named, parts, ..common::request() };
            let words = items.iter().filter(|item| item.kind == ItemKind::ExceptionWord);
            out.push(Taught {
                title: lesson.title.to_string(),
                new_words: words.map(|item| item.label.to_string()).collect(),
                parts: kinds,
                lesson: plan.lesson(&ENGINE, &request),
            });
        }
        taught.extend(new);
    }
    out
}

fn said(sentence: &str) -> Vec<String> {
    sentence.split(' ').map(|w| w.trim_end_matches(['.', '?', ',', '!']).to_lowercase()).collect()
}

/// All but *a*: with d, a, l, n, t and e alone there is no verb for a sentence with it but *let*
/// and *ate*, which needs more.
#[test]
fn every_new_exception_word_stands_in_a_sentence_of_its_lesson() {
    let mut asked = 0;
    let mut missing = Vec::new();
    let with_words =
        |_, items: &[&Item], _: &[WordPart]| items.iter().any(|item| item.kind == ItemKind::ExceptionWord);
    let lessons = lessons(with_words);
    for Taught { new_words, lesson, .. } in &lessons {
        for word in new_words {
            asked += 1;
            if !lesson.sentences.iter().any(|s| said(s).contains(&word.to_lowercase())) {
                missing.push(word.as_str());
            }
        }
    }
    assert!(asked > 50, "{asked}");
    assert_eq!(missing, ["a"]);
}

fn words(list: &[BankWord]) -> Vec<&str> {
    list.iter().map(|word| word.word.as_str()).collect()
}

/// Words read out of former lessons: forms that are none, stems that are none, words for adults.
const WRONG: &str = "flied letter summer tidy story being gravy saucer unjustified unwise implied implies verifies \
    verifying clarifies identifies allies simplifying multiplying investment government arrangement department \
    establishes preaches blesses taxes indexes forget chestnut unless wedding o'clock";

/// A lesson about words with an ending or a beginning has some to read, some to spell, and one in
/// a sentence; none about kinds of words has one that is not of them or for adults.
#[test]
fn a_lesson_about_kinds_of_words_has_some_to_read_and_spell_and_a_sentence() {
    let wrong: BTreeSet<&str> = WRONG.split_whitespace().collect();
    let affix = |p: &WordPart| matches!(p, WordPart::Suffix { .. } | WordPart::Prefix(_));
    let of_sounds = |p: &WordPart| matches!(p, WordPart::Syllables | WordPart::Adjacent { .. });
    let mut seen = 0;
    for Taught { title, parts, lesson, .. } in
        &lessons(|_, _, parts| !parts.is_empty() && !parts.iter().any(of_sounds))
    {
        for word in words(&lesson.read).into_iter().chain(words(&lesson.spell)) {
            assert!(!wrong.contains(word), "{title}: {word}");
        }
        if !parts.iter().all(affix) {
            continue;
        }
        seen += 1;
        assert!(lesson.read.len() >= 3, "{title}: {:?}", words(&lesson.read));
        assert!(lesson.spell.len() >= 2, "{title}: {:?}", words(&lesson.spell));
        let is = |word: &String| {
            let found = ENGINE.lexicon().find(word).unwrap();
            found.readings().any(|r| parts.iter().any(|part| part.fits(&ENGINE, &found, &r).is_some()))
        };
        let held = lesson.sentences.iter().any(|sentence| said(sentence).iter().any(is));
        assert!(held, "{title}: {:?}", lesson.sentences);
    }
    assert_eq!(seen, 15);
}

/// Every fifth lesson. Not every child has the same family at home: at most a quarter of the
/// sentences name one, and at most an eighth in the second half, where more can be read.
/// Contractions wait for the lesson about them.
#[test]
fn most_sentences_are_about_others_than_the_family_and_few_have_apostrophes() {
    let fifth = lessons(|n, _, parts| n % 5 == 0 && parts.is_empty());
    let family = ["mum", "dad", "nan", "gran", "grandad"];
    let share = |lessons: &[Taught], most: usize| {
        let sentences: Vec<&String> = lessons.iter().flat_map(|taught| &taught.lesson.sentences).collect();
        let of_family = sentences.iter().filter(|s| said(s).iter().any(|w| family.contains(&w.as_str())));
        assert!(of_family.count() * most <= sentences.len(), "{sentences:?}");
        assert!(sentences.iter().all(|sentence| !sentence.contains('\'')));
    };
    share(&fifth, 4);
    share(&fifth[fifth.len() / 2..], 8);
}
