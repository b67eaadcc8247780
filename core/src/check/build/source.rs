//! What there is to ask at a place: GPCs, words, made-up words, exception words, sentences. All of it can be read
//! with what was taught, and nothing of it is struck off or screened out.

use std::collections::{BTreeMap, BTreeSet};

use super::{
    BuiltItem, Ground, Recipe,
    deal::Candidate,
    measure::{Measure, graphemes, shape},
};
use crate::{
    check::{Asked, CheckKind},
    phonics::{
        bank::{Audience, BankKind, Plan},
        lexicon::LexWord,
        policy::Policy,
        rng::Rng,
        sentence::Wanted,
        text::tokens,
        unit::{GpcId, Unit},
        version::by_lesson,
    },
    rules::PracticeSection,
    sequence::Gpc,
};

/// Where rarer words are taken too, so many times as many words are wanted as there are places.
const ROOM: usize = 4;
/// Aims of a practice check: shapes from 0, graphemes from here.
const GRAPHEMES: u32 = 1_000;
/// What stands for every grapheme of one letter in a section.
const SINGLE_LETTERS: &str = "single letters";

/// Words to deal, with what is known of each.
pub(super) struct Words {
    pub(super) candidates: Vec<Candidate>,
    pub(super) asked: Vec<Asked>,
}

impl Words {
    fn of(list: impl IntoIterator<Item = (Candidate, Asked)>) -> Self {
        let (candidates, asked) = list.into_iter().unzip();
        Self { candidates, asked }
    }
}

/// What there is at a place.
pub(super) struct Source<'a> {
    ground: &'a Ground<'a>,
    recipe: &'a Recipe,
    plan: Plan,
    at: u16,
    /// The GPCs taught, latest first, as the school's accent has them, with the lesson.
    taught: Vec<(GpcId, u16)>,
}

impl<'a> Source<'a> {
    /// At the end of the lesson counted `at` from 1.
    pub(super) fn new(ground: &'a Ground<'a>, at: u16, recipe: &'a Recipe) -> Self {
        // A word that leans on a weak vowel is none to check by.
        let policy = Policy { schwa_tolerance: false, ..ground.policy };
        let plan = Plan::new(ground.engine, by_lesson(ground.engine, ground.content), policy);
        let mut met = BTreeSet::new();
        let mut taught = Vec::new();
        for (step, lesson) in (1..=at).zip(plan.sequence.steps()) {
            for gpc in &lesson.gpcs {
                let gpc = ground.engine.in_accent(Unit::new(*gpc), policy.accent);
                if met.insert(gpc) {
                    taught.push((gpc, step));
                }
            }
        }
        taught.reverse();
        Self { ground, recipe, plan, at, taught }
    }

    fn rng(&self, purpose: &str) -> Rng {
        Rng::for_purpose(self.recipe.seed.into(), purpose)
    }

    /// The GPCs to ask for, as numbers: half of the places those taught last, then the others in an order of the
    /// seed's.
    pub(super) fn aims(&self, items: usize) -> Vec<u32> {
        let mut aims: Vec<u32> = self.taught.iter().map(|(gpc, _)| number(*gpc)).collect();
        let recent = items.div_ceil(2).min(aims.len());
        self.rng("aims").shuffle(&mut aims[recent..]);
        aims
    }

    /// Those that were taught last.
    pub(super) fn recent(&self, items: usize) -> BTreeSet<u32> {
        self.taught.iter().take(items.div_ceil(2)).map(|(gpc, _)| number(*gpc)).collect()
    }

    fn gpc(&self, aim: u32) -> Option<(&(GpcId, u16), Gpc)> {
        let found = self.taught.iter().find(|(gpc, _)| number(*gpc) == aim)?;
        Some((found, Gpc::from(&self.ground.engine.inventory().get(found.0)?.gpc)))
    }

    /// A GPC by its number.
    pub(super) fn pair(&self, aim: u32) -> Option<Gpc> {
        self.gpc(aim).map(|(_, gpc)| gpc)
    }

    /// A GPC as an item.
    pub(super) fn gpc_item(&self, aim: u32) -> Option<BuiltItem> {
        let ((id, lesson), gpc) = self.gpc(aim)?;
        let measure = Measure::of(self.ground.engine, &[Unit::new(*id)]);
        Some(BuiltItem {
            prompt: gpc.grapheme.clone(),
            gpc: Some(gpc),
            chosen_for: None,
            asked: Asked::of_gpc(self.ground.engine, self.ground.policy.accent, *id),
            measure: Measure { lessons_since: self.at - lesson, ..measure },
            section: None,
            pseudo: false,
        })
    }

    /// Real words: those children know, and common ones too where they are few.
    pub(super) fn words(&self, wanted: usize) -> Words {
        let kind = match self.recipe.kind {
            CheckKind::Spelling => BankKind::Spell,
            _ => BankKind::Read,
        };
        let of = |audience| self.plan.bank(self.ground.engine, self.at, kind, audience);
        let mut words: Vec<LexWord<'_>> = of(Audience::Child).filter(|word| self.suits(word)).collect();
        if words.len() < ROOM * wanted {
            words = of(Audience::Common).filter(|word| self.suits(word)).collect();
        }
        if kind == BankKind::Spell {
            words = self.without_sound_alikes(words);
        }
        Words::of(words.iter().filter_map(|word| self.candidate(word)))
    }

    /// A word of small letters that nothing speaks against, all of whose readings were taught.
    fn suits(&self, word: &LexWord<'_>) -> bool {
        let shown = word.shown();
        let readings = || word.readings_alone();
        shown.len() > 1
            && shown.bytes().all(|letter| letter.is_ascii_lowercase())
            && self.ground.engine.screen().suits_children(shown)
            && readings().count() == word.readings().len()
            && readings().all(|reading| self.plan.reading.reading(reading.units) <= self.at)
    }

    /// A word that sounds like another one cannot be spelt without more being said.
    fn without_sound_alikes<'w>(&self, words: Vec<LexWord<'w>>) -> Vec<LexWord<'w>> {
        let (engine, accent) = (self.ground.engine, self.ground.policy.accent);
        let sounds = |word: &LexWord<'_>| -> BTreeSet<String> {
            word.readings().map(|reading| engine.said(reading.units, accent)).collect()
        };
        let mut spellings: BTreeMap<String, usize> = BTreeMap::new();
        for word in engine.lexicon().iter().filter(|word| engine.suits(word, Audience::Common)) {
            for sound in sounds(&word) {
                *spellings.entry(sound).or_default() += 1;
            }
        }
        let alone = |word: &LexWord<'_>| sounds(word).iter().all(|sound| spellings.get(sound) == Some(&1));
        words.into_iter().filter(alone).collect()
    }

    fn candidate(&self, word: &LexWord<'_>) -> Option<(Candidate, Asked)> {
        let reading = word.readings().next()?;
        let asked = Asked::of(self.ground.engine, self.ground.policy.accent, self.recipe.kind, word.shown())?;
        let known = [1, 12, 6, 2][usize::from(word.child_band().min(3))];
        let short = 8u32.saturating_sub(u32::try_from(reading.units.len()).unwrap_or(8)).max(1);
        let measure = Measure { rarity: word.rank(), ..self.measured(reading.units) };
        let holds = self.held(reading.units);
        Some((Candidate { text: word.shown().into(), holds, measure, weight: known * short }, asked))
    }

    /// Measured, with the lessons since the last of its GPCs was taught.
    fn measured(&self, units: &[Unit]) -> Measure {
        let latest = self.plan.reading.reading(units);
        Measure { lessons_since: self.at.saturating_sub(latest), ..Measure::of(self.ground.engine, units) }
    }

    fn held(&self, units: &[Unit]) -> BTreeSet<u32> {
        let accent = self.ground.policy.accent;
        units.iter().map(|unit| number(self.ground.engine.in_accent(*unit, accent))).collect()
    }

    /// The words of the approved set that can be read.
    pub(super) fn pseudo_words(&self) -> Words {
        let can_be_read = self.ground.pseudo.iter().filter(|word| {
            !self.ground.engine.is_struck(&word.word)
                && self.plan.reading.reading(&word.reading.units) <= self.at
        });
        Words::of(can_be_read.map(|word| {
            let (engine, accent) = (self.ground.engine, self.ground.policy.accent);
            let units = &word.reading.units;
            let asked = Asked::of_pseudo(engine, accent, units, word.accept.clone());
            let (holds, measure) = (self.held(units), self.measured(units));
            (Candidate { text: word.word.clone(), holds, measure, weight: 1 }, asked)
        }))
    }

    /// Exception words taught, so many of them: half those taught last.
    pub(super) fn exception_words(&self, wanted: usize) -> Words {
        let mut met = BTreeSet::new();
        let mut words: Vec<(u16, &str)> = (1..=self.at)
            .zip(self.plan.sequence.steps())
            .flat_map(|(step, lesson)| lesson.exception_words.iter().map(move |word| (step, word.as_str())))
            .filter(|(_, word)| !self.ground.engine.is_struck(word) && met.insert(*word))
            .collect();
        words.reverse();
        let recent = wanted.div_ceil(2).min(words.len());
        self.rng("exception words").shuffle(&mut words[recent..]);
        Words::of(words.into_iter().take(wanted).filter_map(|(step, word)| {
            let engine = self.ground.engine;
            let shown = engine.shown(word);
            let asked = Asked::of(engine, self.ground.policy.accent, self.recipe.kind, &shown)?;
            let found = engine.lexicon().find(word);
            let reading = found.as_ref().and_then(|word| word.readings().next());
            let measure = Measure {
                rarity: found.as_ref().map_or(0, LexWord::rank),
                lessons_since: self.at - step,
                ..Measure::of(engine, reading.map_or(&[][..], |reading| reading.units))
            };
            Some((Candidate { text: shown, holds: BTreeSet::new(), measure, weight: 1 }, asked))
        }))
    }

    /// Sentences, so many, those with what was taught last first.
    pub(super) fn sentences(&self, wanted: usize) -> Words {
        let engine = self.ground.engine;
        let recent = usize::from(self.ground.rule.recent_lessons);
        let gpcs: Vec<GpcId> = self.taught.iter().take(recent).map(|(gpc, _)| *gpc).collect();
        let want = Wanted { gpcs: &gpcs, ..Wanted::default() };
        let made = self.plan.sentences(engine, self.at, want, self.recipe.seed.into(), wanted);
        Words::of(made.into_iter().filter_map(|text| {
            let asked = Asked::of(engine, self.ground.policy.accent, self.recipe.kind, &text)?;
            let words = tokens(&text).filter_map(|token| engine.lexicon().find(token));
            let measured = words.filter_map(|word| {
                let reading = word.readings().next()?;
                Some(Measure { rarity: word.rank(), ..self.measured(reading.units) })
            });
            let measure = measured.reduce(Measure::and)?;
            Some((Candidate { text, holds: BTreeSet::new(), measure, weight: 1 }, asked))
        }))
    }

    /// What a section of a practice check asks for: its shapes and what it adds in graphemes, mixed by the seed.
    pub(super) fn section_aims(&self, section: usize, purpose: &str) -> Vec<u32> {
        let Some(section) = self.ground.sections.get(section) else { return Vec::new() };
        let range = |many: usize, from: u32| (0..u32::try_from(many).unwrap_or(0)).map(move |n| from + n);
        let shapes = range(section.shapes.len(), 0);
        let mut aims: Vec<u32> = shapes.chain(range(section.graphemes.len(), GRAPHEMES)).collect();
        self.rng(purpose).shuffle(&mut aims);
        aims
    }

    /// The words that belong in a section: those that fit it, counting what the sections before it have, and fit
    /// none of those.
    pub(super) fn section_words(&self, section: usize, pseudo: bool) -> Words {
        let sections = self.ground.sections;
        let Some(own) = sections.get(section) else { return Words::of([]) };
        let all = if pseudo { self.pseudo_words() } else { self.words(usize::MAX / ROOM) };
        Words::of(all.candidates.into_iter().zip(all.asked).filter_map(|(mut word, asked)| {
            let units = self.units_of(&word.text, pseudo)?;
            let looks = Looks {
                shape: shape(self.ground.engine, &units),
                graphemes: graphemes(self.ground.engine, &units),
            };
            let first = (0..sections.len()).find(|n| looks.fits(&sections[..=*n]))?;
            word.holds = looks.aims(own);
            (first == section).then_some((word, asked))
        }))
    }

    fn units_of(&self, text: &str, pseudo: bool) -> Option<Vec<Unit>> {
        if pseudo {
            return Some(self.ground.pseudo.iter().find(|word| word.word == text)?.reading.units.clone());
        }
        Some(self.ground.engine.lexicon().find(text)?.readings().next()?.units.to_vec())
    }
}

/// What a word looks like.
struct Looks {
    shape: (String, usize),
    graphemes: BTreeSet<String>,
}

impl Looks {
    /// Whether it fits the last of these sections, which adds to those before it.
    fn fits(&self, sections: &[PracticeSection]) -> bool {
        let (shape, vowels) = &self.shape;
        let any_shape = sections.iter().any(|section| section.shapes.is_empty());
        let any_grapheme = sections.iter().any(|section| section.graphemes.is_empty());
        let shapes = || sections.iter().flat_map(|section| &section.shapes);
        let most = sections.iter().map(|section| section.syllables_max.unwrap_or(usize::MAX)).max();
        let fits_shape = any_shape || *vowels != 1 || shapes().any(|known| known == shape);
        let known = |grapheme: &String| {
            { sections.iter() }
                .any(|section| section.graphemes.iter().any(|known| stands_for(known, grapheme)))
        };
        (1..=most.unwrap_or(0)).contains(vowels)
            && fits_shape
            && (any_grapheme || self.graphemes.iter().all(known))
    }

    fn aims(&self, section: &PracticeSection) -> BTreeSet<u32> {
        let shapes = (0..).zip(&section.shapes).filter(|(_, known)| **known == self.shape.0);
        let held = |known: &String| self.graphemes.iter().any(|grapheme| stands_for(known, grapheme));
        let graphemes = (GRAPHEMES..).zip(&section.graphemes).filter(|(_, known)| held(known));
        shapes.chain(graphemes).map(|(n, _)| n).collect()
    }
}

fn stands_for(known: &str, grapheme: &str) -> bool {
    known == grapheme || known == SINGLE_LETTERS && grapheme.len() == 1
}

fn number(gpc: GpcId) -> u32 {
    u32::try_from(gpc.index()).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_section_adds_to_those_before_it() {
        let england = &crate::rules::pack("england").unwrap().statutory_check.sections;
        let looks = |shape: &str, vowels, graphemes: &[&str]| Looks {
            shape: (shape.into(), vowels),
            graphemes: graphemes.iter().map(|one| (*one).to_owned()).collect(),
        };
        let first = |looks: &Looks| (0..2).find(|n| looks.fits(&england[..=*n]));
        assert_eq!(first(&looks("CVC", 1, &["c", "a", "t"])), Some(0));
        assert_eq!(first(&looks("VC", 1, &["i", "t"])), None, "no section has such a shape");
        assert_eq!(first(&looks("CVC", 1, &["c", "a_e", "k"])), Some(1), "what the second adds in graphemes");
        assert_eq!(first(&looks("CCVCC", 1, &["s", "t", "a", "m", "p"])), Some(1), "in shapes");
        assert_eq!(first(&looks("CVCVC", 2, &["r", "o", "b", "i", "n"])), Some(1), "in syllables");
        assert_eq!(first(&looks("CVCVCV", 3, &["b", "a", "n"])), None);
        assert_eq!(first(&looks("CVC", 1, &["kn", "o", "t"])), None, "a grapheme of neither");
        // Where a pack says nothing, any word will do.
        let south = &crate::rules::pack("south-australia").unwrap().statutory_check.sections;
        assert!(looks("VC", 1, &["i", "t"]).fits(south));
        assert!(looks("CVCVCV", 3, &["kn"]).fits(south));
    }
}
