//! Made and offered pseudo-words have one judge.
#![allow(clippy::unwrap_used)]

mod common;

use common::{ENGINE, plan};
use plumbline_core::phonics::accent::Accent;
use plumbline_core::phonics::lesson::LessonRequest;
use plumbline_core::phonics::policy::Policy;
use plumbline_core::phonics::pseudo::{LONGEST, PseudoRequest, Shape};

fn offered(word: &str) -> Result<Vec<String>, String> {
    let offered = ENGINE.offered_pseudo_word(word, Accent::default());
    offered.map(|o| o.accept).map_err(|unfit| unfit.to_string())
}

/// Which of some words a set refuses not.
fn taken(words: &str) -> Vec<&str> {
    words.split_whitespace().filter(|word| offered(word).is_ok()).collect()
}

/// At five stages, of one syllable and of two, and in a lesson of every third step.
#[test]
fn no_made_word_is_refused_in_a_set() {
    let plan = plan(Policy::default());
    let mut made = Vec::new();
    for step in [6, 10, 15, 20, 26] {
        for (count, shapes) in [(200, Vec::new()), (70, vec![Shape::TwoSyllables])] {
            let request = PseudoRequest { count, shapes, seed: 7, ..PseudoRequest::default() };
            let words = plan.pseudo_words(&ENGINE, step, &request).words;
            assert_eq!(words.len(), count, "step {step}");
            made.extend(words);
        }
    }
    for step in (1..=plan.last_step()).step_by(3) {
        let request = LessonRequest { step, seed: 7, ..LessonRequest::default() };
        made.extend(plan.lesson(&ENGINE, &request).pseudo);
    }
    let mut own = 0;
    for word in &made {
        let accept = offered(&word.word).unwrap();
        // What a word made here accepts besides its own sound is what it accepts in a set.
        assert!(word.also_accept.iter().all(|s| accept.contains(s)), "{word:?} {accept:?}");
        own += usize::from(accept.contains(&word.reading.phonemes.concat().replace('.', "")));
    }
    assert!(made.len() >= 1_350, "{}", made.len());
    // The engine reads one in a hundred in other ways than it was made for.
    assert!(own * 100 >= made.len() * 99, "{own} of {}", made.len());
}

/// n before k is said as in *pink*, ea as in *seat* or in *head*, ow as in *snow* or in *cow*; where *cup* has the vowel
/// of *put* u is said so.
#[test]
fn every_plausible_reading_is_accepted() {
    assert_eq!(offered("nunk").unwrap()[0], "nʌŋk");
    for (word, readings) in [("dreat", ["driːt", "dret"]), ("frowl", ["frəʊl", "fraʊl"])] {
        let accept = offered(word).unwrap();
        assert!(readings.iter().all(|one| accept.contains(&(*one).to_owned())), "{word}: {accept:?}");
    }
    assert_eq!(offered("blurst").unwrap(), ["blɜːst"]);
    let northern = Accent { no_foot_strut_split: true, ..Accent::default() };
    let accept = |word: &str| ENGINE.offered_pseudo_word(word, northern).unwrap().accept;
    assert_eq!((accept("frull")[0].as_str(), accept("nunk")[0].as_str()), ("frʊl", "nʊŋk"));
}

/// Past tenses misspelt or made up, nouns in -dth, plurals in -fs, nd and pt after two vowel letters.
#[test]
fn what_is_not_spelt_as_english_is_refused() {
    let words = "deadth criesd viesd feemd boamd neand kneept quifs thifs thrued blored";
    assert_eq!(taken(words), [""; 0]);
    assert!(offered("feemd").unwrap_err().contains("not spelt"));
    assert_eq!(taken("bamp frowl squirth glound"), ["bamp", "frowl", "squirth", "glound"]);
}

/// soak, chum, pot, wood; quared, tored and cored look like past tenses.
#[test]
fn two_syllables_of_which_one_is_a_word_are_refused() {
    let words = "soakjak chumbang potpoil woodjox quaredturch toredbeath coredfirth";
    assert_eq!(taken(words), [""; 0]);
    assert!(offered("soakjak").unwrap_err().contains("begins or ends"));
    assert_eq!(taken("vibgom yelmax"), ["vibgom", "yelmax"]);
}

/// Words and brands that neither public list has, what sounds like them (larpe as *larp*, thrumb
/// as *thrum*, twerk by another spelling), and unkind ones.
#[test]
fn real_and_unkind_words_that_the_public_lists_lack_are_refused() {
    let words = "twix twicks larp thrumb twirk sesh neek kneek munge cofsux nadgad cakpag pibe pleek";
    assert_eq!(taken(words), [""; 0]);
}

#[test]
fn a_made_up_word_has_at_most_twelve_letters() {
    assert_eq!(LONGEST, 12);
    let said = offered(&"bamp".repeat(11)).unwrap_err();
    assert!(
        said.contains("44 letters") && said.contains("at most 12") && said.contains("bampbamp"),
        "{said}"
    );
    assert!(!offered("bampbampbamp").is_err_and(|said| said.contains("letters;")));
    assert!(offered("bampbampbampb").unwrap_err().contains("13 letters; a made-up word has at most 12"));
}

/// Accents and capitals hide nothing; signs inside are no spelling.
#[test]
fn accents_are_taken_off_before_judging() {
    assert!(offered("C\u{e1}t").unwrap_err().contains("real word"));
    assert_eq!(ENGINE.offered_pseudo_word("B\u{e1}mp", Accent::default()).unwrap().word, "bamp");
    assert!(offered("ba'mp").unwrap_err().contains("not spelt"));
}

/// In words like *path* a class with a short a has no /ɑː/, so none of its pseudo-words has it for a;
/// in the reference accent there are some (*thrath*).
#[test]
fn a_class_with_a_short_a_in_path_reads_no_long_one() {
    let short = Accent { short_a_in_bath: true, ..Accent::default() };
    let long_a = ENGINE.inventory().find("a:ɑː").unwrap();
    let sequence = {
        let mut steps = common::sample().steps().to_vec();
        steps.push(plumbline_core::phonics::sequence::Step {
            gpcs: vec![long_a],
            exception_words: Vec::new(),
        });
        plumbline_core::phonics::sequence::Sequence::of_steps(steps)
    };
    let made = |accent| {
        let policy = Policy { accent, ..Policy::default() };
        let plan = plumbline_core::phonics::bank::Plan::new(&ENGINE, sequence.clone(), policy);
        let step = plan.last_step();
        let request = PseudoRequest { count: 50, holding: [long_a].into(), ..PseudoRequest::default() };
        let lesson = LessonRequest { step, shape: common::shape(), ..LessonRequest::default() };
        let in_lesson = plan.lesson(&ENGINE, &lesson).pseudo;
        (plan.pseudo_words(&ENGINE, step, &request).words, in_lesson)
    };
    let has_long = |word: &plumbline_core::phonics::pseudo::PseudoWord| {
        let item = ENGINE.inventory().get(long_a).unwrap();
        word.reading.gpcs.contains(&item.gpc)
    };
    let (words, in_lesson) = made(Accent::default());
    assert!(!words.is_empty() && words.iter().all(has_long) && in_lesson.iter().any(has_long));
    let (words, in_lesson) = made(short);
    assert!(words.is_empty(), "{words:?}");
    assert!(!in_lesson.is_empty() && !in_lesson.iter().any(has_long), "{in_lesson:?}");
}

/// zkw begins no English word.
#[test]
fn a_set_accepts_only_beginnings_that_words_have() {
    let accept = offered("squirth").unwrap();
    assert!(accept.iter().all(|s| s.starts_with("skw")), "{accept:?}");
}
