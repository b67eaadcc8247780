//! Where fewer made-up words are offered than asked for, there are no more: every string of taught
//! units is tried here, without the generator, and what passes is what the generator offers.
#![allow(clippy::unwrap_used)]

mod common;

use std::collections::{BTreeMap, BTreeSet};

use common::{ENGINE, plan};
use plumbline_core::phonics::accent::Accent;
use plumbline_core::phonics::policy::Policy;
use plumbline_core::phonics::pseudo::{PseudoRequest, Shape};
use plumbline_core::phonics::suffix::{ENDINGS, stem};
use plumbline_core::phonics::unit::{GpcId, Unit};

/// Every way a word of one syllable of the lexicon reads a spelling with a sound.
fn all_readings() -> BTreeMap<String, BTreeSet<GpcId>> {
    let mut out: BTreeMap<String, BTreeSet<GpcId>> = BTreeMap::new();
    for word in ENGINE.lexicon().iter() {
        for reading in word.readings() {
            let items = || reading.units.iter().map(|u| (u.id(), ENGINE.inventory().get(u.id()).unwrap()));
            if items().filter(|(_, c)| c.gpc.has_vowel()).count() == 1 {
                for (id, c) in items().filter(|(_, c)| !c.gpc.phonemes().is_empty()) {
                    out.entry(c.gpc.grapheme().to_string()).or_default().insert(id);
                }
            }
        }
    }
    out
}

/// Whether a word of plain letters, one a unit, is of English spelling: no final c, j, q, v, no
/// single f, l, s, z after one vowel letter at the end, no final fs, no d after a consonant but l
/// and n, no letter thrice, no vowel letter twice.
fn looks_english(letters: &str) -> bool {
    let bytes = letters.as_bytes();
    let vowel = |b: u8| b"aeiou".contains(&b);
    let (last, before) = (bytes[bytes.len() - 1], bytes[bytes.len() - 2]);
    let odd_end = b"cjqv".contains(&last) || b"flsz".contains(&last) && vowel(before);
    let past = last == b'd' && !vowel(before) && !b"ln".contains(&before);
    let odd_end = odd_end || past || letters.ends_with("fs");
    let thrice = bytes.windows(3).any(|w| w[0] == w[1] && w[1] == w[2]);
    let twice = ["uu", "ii", "aa", "iu"].iter().any(|s| letters.contains(s));
    !(odd_end || thrice || twice)
}

struct Universe {
    readings: BTreeMap<String, BTreeSet<GpcId>>,
    taught: Vec<GpcId>,
}

impl Universe {
    fn at(step: u16) -> Self {
        let plan = plan(Policy::default());
        let all = ENGINE.inventory().iter().map(|(id, _)| id);
        let taught = all.filter(|id| plan.spelling.unit(Unit::new(*id)) <= step).collect();
        Self { readings: all_readings(), taught }
    }

    fn strings(&self, vowels: &[bool]) -> Vec<Vec<GpcId>> {
        let has_vowel = |id: GpcId| ENGINE.inventory().get(id).unwrap().gpc.has_vowel();
        vowels.iter().fold(vec![Vec::new()], |heads, vowel| {
            let fits: Vec<GpcId> =
                self.taught.iter().copied().filter(|id| has_vowel(*id) == *vowel).collect();
            heads.iter().flat_map(|h| fits.iter().map(move |id| [&h[..], &[*id]].concat())).collect()
        })
    }

    /// Beginning, ending and every neighbourhood of units are those of at least two words.
    fn walks(ids: &[GpcId]) -> bool {
        let grammar = ENGINE.grammar();
        let follows = |a: GpcId, b: Option<GpcId>| grammar.after(a).iter().any(|(to, _)| *to == b);
        grammar.first().iter().any(|(id, _)| *id == ids[0])
            && ids.windows(2).all(|w| follows(w[0], Some(w[1])))
            && follows(ids[ids.len() - 1], None)
    }

    fn sound(accent: Accent, ids: &[GpcId]) -> Vec<plumbline_core::phonics::phoneme::Phoneme> {
        let units: Vec<Unit> = ids.iter().map(|id| Unit::new(*id)).collect();
        accent.pronounce(ENGINE.inventory(), &units)
    }

    /// Whether a string of units may be offered, by the public screens and every reading.
    fn passes(&self, ids: &[GpcId], letters: &str) -> bool {
        let screen = ENGINE.screen();
        let real = screen.is_real_word(letters)
            || ENDINGS.iter().any(|e| stem(ENGINE.lexicon(), letters, e).is_some());
        if real || screen.holds_blocked(letters) {
            return false;
        }
        let read = ENGINE.segment(letters, Accent::default()).unwrap().variants;
        let read = read.iter().map(|v| v.units.iter().map(|u| u.id()).collect());
        !read.chain([ids.to_vec()]).any(|ids| self.sounds_unfit(&ids, letters))
    }

    /// Whether units sound like a real or offensive word in any reading of their spellings.
    fn sounds_unfit(&self, ids: &[GpcId], letters: &str) -> bool {
        let screen = ENGINE.screen();
        let mut heads: Vec<Vec<GpcId>> = vec![Vec::new()];
        let mut at = 0;
        for id in ids {
            let own = ENGINE.inventory().get(*id).unwrap();
            let length = own.gpc.grapheme().letters().len();
            let stands = |other: &GpcId| {
                let context = &ENGINE.inventory().get(*other).unwrap().context;
                other == id || context.allows(letters.as_bytes(), at, length)
            };
            let mut ways = self.readings.get(&own.gpc.grapheme().to_string()).cloned().unwrap_or_default();
            ways.insert(*id);
            ways.retain(stands);
            heads = heads.iter().flat_map(|h| ways.iter().map(move |w| [&h[..], &[*w]].concat())).collect();
            at += length;
        }
        heads.iter().any(|reading| {
            (0u8..).zip(Accent::SUPPORTED).any(|(n, accent)| {
                let sound = Self::sound(accent, reading);
                screen.sounds_real(n, &sound) || screen.sounds_offensive(&sound)
            })
        })
    }

    fn all(&self, shapes: &[&[bool]]) -> BTreeSet<String> {
        let mut out = BTreeSet::new();
        for ids in shapes.iter().flat_map(|s| self.strings(s)).filter(|ids| Self::walks(ids)) {
            let items = ids.iter().map(|id| ENGINE.inventory().get(*id).unwrap());
            let letters: String = items.map(|c| c.gpc.grapheme().letters()).collect();
            let attested = ENGINE.grammar().attests(&Self::sound(Accent::default(), &ids));
            if attested && looks_english(&letters) && self.passes(&ids, &letters) {
                out.insert(letters);
            }
        }
        out
    }
}

const C: bool = false;
const V: bool = true;

/// At step 6 eighteen units are taught, each one letter: 132,000 strings of the five shapes.
#[test]
fn at_step_six_all_there_are_is_offered() {
    let all = Universe::at(6).all(&[&[C, V, C], &[C, C, V, C], &[C, V, C, C], &[V, C], &[C, C, V, C, C]]);
    for seed in [0, 1] {
        let request = PseudoRequest { count: 1_000, seed, ..PseudoRequest::default() };
        let made = plan(Policy::default()).pseudo_words(&ENGINE, 6, &request);
        assert!(made.short);
        let made: BTreeSet<String> = made.words.into_iter().map(|w| w.word).collect();
        assert_eq!(made, all);
    }
    assert_eq!(all.len(), 531);
}

/// Of consonant, vowel, consonant alone few are left even at step 8, with 24 units: nearly all are
/// words, names, or sound like one in some accent or reading.
#[test]
fn at_step_eight_all_of_the_simplest_shape_are_offered() {
    let universe = Universe::at(8);
    let request = PseudoRequest { count: 1_000, shapes: vec![Shape::Cvc], ..PseudoRequest::default() };
    let made = plan(Policy::default()).pseudo_words(&ENGINE, 8, &request);
    assert!(made.short);
    let made: BTreeSet<String> = made.words.into_iter().map(|w| w.word).collect();
    let all = universe.all(&[&[C, V, C]]);
    assert_eq!(made, all);
    assert!((1..30).contains(&all.len()), "{}", all.len());
}
