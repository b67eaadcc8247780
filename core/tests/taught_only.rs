//! Nothing a child is shown needs what was not taught, over sets of correspondences drawn at random.
//! What is needed is worked out here from the words' own correspondences, not by the engine's tables.
#![allow(clippy::unwrap_used)]

mod common;

use std::collections::BTreeSet;

use common::ENGINE;
use plumbline_core::attainment::{Learner, PracticeGap};
use plumbline_core::phonics::bank::{Audience, BankKind, BankWord, Plan};
use plumbline_core::phonics::gpc::Gpc;
use plumbline_core::phonics::lesson::LessonRequest;
use plumbline_core::phonics::policy::Policy;
use plumbline_core::phonics::practice::{Practised, practice};
use plumbline_core::phonics::sequence::Sequence;
use plumbline_core::phonics::unit::GpcId;
use proptest::prelude::*;
use proptest::sample::subsequence;

/// A correspondence with the sounds the reference accent does not tell apart made one.
fn plain(gpc: &Gpc) -> String {
    gpc.to_string().replace("ʊə", "ɔː").replace('ʍ', "w")
}

fn names(ids: &[GpcId]) -> BTreeSet<String> {
    ids.iter().filter_map(|id| ENGINE.inventory().get(*id)).map(|c| plain(&c.gpc)).collect()
}

fn untaught(word: &BankWord, taught: &BTreeSet<String>) -> Option<String> {
    let lacks = word.reading.gpcs.iter().map(plain).find(|g| !taught.contains(g));
    lacks.map(|g| format!("{} needs {g}", word.word))
}

/// Whether some reading of a word is of taught correspondences only.
fn readable(word: &str, taught: &BTreeSet<String>) -> bool {
    let found = ENGINE.lexicon().find(word).unwrap();
    found.readings().any(|r| {
        let gpcs = r.units.iter().filter_map(|u| ENGINE.inventory().get(u.id()));
        gpcs.map(|c| plain(&c.gpc)).all(|g| taught.contains(&g))
    })
}

fn teachable() -> Vec<GpcId> {
    ENGINE.inventory().teachable().map(|(id, _)| id).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn nothing_shown_needs_what_is_not_taught(ids in subsequence(teachable(), 4..120), seed in any::<u64>()) {
        let exact = Policy::default().exact();
        let plan = Plan::new(&ENGINE, Sequence::one_a_step(&ids), exact);
        let step = plan.last_step() / 2 + 1;
        let taught = names(&ids[..usize::from(step).min(ids.len())]);
        for kind in [BankKind::Read, BankKind::Spell] {
            for word in plan.bank(&ENGINE, step, kind, Audience::All) {
                let word = plan.write(&ENGINE, &word, kind).unwrap();
                prop_assert_eq!(untaught(&word, &taught), None);
            }
        }
        let lesson = plan.lesson(&ENGINE, &LessonRequest { step, seed, ..common::request() });
        let sheet = practice(&ENGINE, exact, Practised { secure: &ids[..ids.len() / 2], current: &ids[ids.len() / 2..], ..Practised::default() }, seed, common::sizes(8));
        let all = names(&ids);
        for word in lesson.read.iter().chain(&lesson.spell) {
            prop_assert_eq!(untaught(word, &taught), None);
        }
        for (word, _) in &sheet.words {
            prop_assert_eq!(untaught(word, &all), None);
        }
        for made in &lesson.pseudo {
            prop_assert!(made.reading.gpcs.iter().all(|g| taught.contains(&plain(g))), "{}", made.word);
        }
        let for_home: Vec<String> = sheet.sentences.into_iter().map(|(text, _)| text).collect();
        for (sentences, known) in [(&lesson.sentences, &taught), (&for_home, &all)] {
            for word in sentences.iter().flat_map(|s| s.split(' ')) {
                let word = word.trim_end_matches(['.', '?', ',', '!']);
                prop_assert!(readable(word, known), "{word}");
            }
        }
        // With tolerance, words to spell still hold taught correspondences only.
        let plan = Plan::new(&ENGINE, Sequence::one_a_step(&ids), Policy::default());
        let lesson = plan.lesson(&ENGINE, &LessonRequest { step, seed, ..common::request() });
        for word in &lesson.spell {
            prop_assert_eq!(untaught(word, &taught), None);
        }
    }

    /// From very little up to much: a list may be empty, and then practice says why.
    #[test]
    fn practice_of_one_pupil_needs_only_what_is_secure_or_current(
        ids in prop_oneof![subsequence(teachable(), 0..=3), subsequence(teachable(), 4..60)],
        current in 0_usize..=4,
        seed in any::<u64>(),
    ) {
        let (current, secure) = ids.split_at(current.min(ids.len()));
        let learner = Learner { secure: secure.to_vec(), current: current.to_vec(), ..Learner::default() };
        let sheet = learner.practice(&ENGINE, Policy::default(), seed, common::sizes(8));
        let known = names(&ids);
        for (word, _) in &sheet.words {
            prop_assert_eq!(untaught(word, &known), None);
        }
        for word in sheet.sentences.iter().flat_map(|(s, _)| s.split(' ')) {
            let word = word.trim_end_matches(['.', '?', ',', '!']);
            prop_assert!(readable(word, &known), "{word}");
        }
        prop_assert!(sheet.gpcs.iter().all(|gpc| known.contains(&plain(gpc))));
        prop_assert!(sheet.words.len() <= 8);
        let gap = match (ids.is_empty(), sheet.words.is_empty(), sheet.sentences.is_empty()) {
            (true, ..) => Some(PracticeGap::NoGpcs),
            (_, true, _) => Some(PracticeGap::NoWords),
            (_, _, true) => Some(PracticeGap::NoSentences),
            _ => None,
        };
        prop_assert_eq!(PracticeGap::of(&sheet), gap);
    }
}
