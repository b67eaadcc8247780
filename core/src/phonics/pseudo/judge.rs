//! The one judgement of every made-up word, whoever made it: the screens it passes, in order.

use std::collections::BTreeSet;

use serde::Serialize;

use crate::phonics::Engine;
use crate::phonics::accent::Accent;
use crate::phonics::phoneme::Phoneme;
use crate::phonics::screen::sound_key;
use crate::phonics::suffix::{self, ENDINGS};
use crate::phonics::unit::{GpcId, Unit};
use crate::phonics::word::Word;

use super::spelling::{looks_english, looks_past, vowel_groups};

/// Why a made-up word was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, thiserror::Error)]
#[serde(rename_all = "snake_case")]
pub enum Refusal {
    /// Struck off by the school.
    #[error("was struck off by the school")]
    Struck,
    /// The spelling of a real word or name, or of a real word with an ending (*gived*).
    #[error("is a real word or name, or one with an ending")]
    RealWord,
    /// No spelling of English, or a past tense by its looks (*feemd*, *thrued*).
    #[error("is not spelt as an English word is, or looks like a past tense")]
    Spelling,
    /// Two syllables of which one is a real word (*soakjak*), or looks like a past tense.
    #[error("begins or ends with a real word or a past tense")]
    RealPart,
    /// Sounds like a real word or name in a supported accent.
    #[error("sounds like a real word or name")]
    Homophone,
    /// Would, if a spelling were read another way.
    #[error("sounds like a real word or name when it is read another way")]
    OtherReading,
    /// Holds a blocked string.
    #[error("holds letters that are blocked")]
    BlockedString,
    /// Sounds like an offensive word, or nearly; of two syllables, one does.
    #[error("sounds like an offensive word, or nearly")]
    OffensiveSound,
}

/// Units with their stress digits, as the engine reads a word.
pub(super) type Reading = (Vec<Unit>, Option<String>);

/// The most combinations of other readings tried; words of one syllable have fewer.
const COMBINATIONS: usize = 4_096;

/// The shortest real word looked for at either end of a made-up one.
const SHORTEST_PART: usize = 3;

/// Judges made-up letters by the units they were made of, if any, and by every reading the engine
/// has of them, the likeliest first: those are the answer.
pub(super) fn judge(engine: &Engine, letters: &str, own: Option<&[GpcId]>) -> Result<Vec<Reading>, Refusal> {
    by_letters(engine, letters)?;
    // Readings that part the letters alike mostly stand for the same sounds.
    let mut judged: BTreeSet<Vec<BTreeSet<GpcId>>> = BTreeSet::new();
    let mut sounds_fit = |ids: &[GpcId]| {
        let options = options(engine, ids, letters);
        let all = options.iter().map(|choices| choices.iter().copied().collect()).collect();
        if judged.insert(all) { by_sound(engine, ids, &options) } else { Ok(()) }
    };
    // The dearest comes last: most candidates are refused before the engine reads them.
    own.map_or(Ok(()), &mut sounds_fit)?;
    let readings = Word::parse(letters).and_then(|word| engine.readings(&word));
    let readings = readings.map_err(|_| Refusal::Spelling)?.list;
    let ids = |(units, _): &Reading| -> Vec<GpcId> { units.iter().map(|unit| unit.id()).collect() };
    let likeliest = readings.first().map(ids).ok_or(Refusal::Spelling)?;
    if sound(engine, Accent::default(), &likeliest).iter().filter(|p| p.is_vowel()).count() > 1 {
        by_parts(engine, letters)?;
    }
    readings.iter().try_for_each(|reading| sounds_fit(&ids(reading)))?;
    Ok(readings)
}

fn by_letters(engine: &Engine, letters: &str) -> Result<(), Refusal> {
    if engine.is_struck(letters) {
        return Err(Refusal::Struck);
    }
    if engine.screen().is_real_word(letters) || engine.lexicon().find(letters).is_some() {
        return Err(Refusal::RealWord);
    }
    if ENDINGS.iter().any(|e| suffix::stem(engine.lexicon(), letters, e).is_some()) {
        return Err(Refusal::RealWord);
    }
    if engine.screen().holds_blocked(letters) {
        return Err(Refusal::BlockedString);
    }
    if looks_english(letters) { Ok(()) } else { Err(Refusal::Spelling) }
}

/// Looks at both sides of every seam before a consonant letter. The lexicon knows the words: the
/// longer list of spellings has nearly every syllable as some name or rarity.
fn by_parts(engine: &Engine, letters: &str) -> Result<(), Refusal> {
    let real = |part: &str| part.len() >= SHORTEST_PART && engine.lexicon().find(part).is_some();
    let seams = (1..letters.len()).filter_map(|at| letters.split_at_checked(at));
    let apart = |(head, tail): &(&str, &str)| {
        !tail.starts_with(['a', 'e', 'i', 'o', 'u', 'y']) && vowel_groups(head) > 0 && vowel_groups(tail) > 0
    };
    let unfit = |(head, tail): (&str, &str)| real(head) || real(tail) || looks_past(head);
    if seams.filter(apart).any(unfit) { Err(Refusal::RealPart) } else { Ok(()) }
}

/// By how units sound in every accent and every reading of their spellings; of two syllables each
/// also alone, where it must not be an offensive word.
fn by_sound(engine: &Engine, ids: &[GpcId], options: &[Vec<GpcId>]) -> Result<(), Refusal> {
    let screen = engine.screen();
    for (n, accent) in (0u8..).zip(Accent::SUPPORTED) {
        for (m, key) in sound_keys(engine, accent, options).iter().enumerate() {
            if screen.sounds_real_key(n, key) {
                return Err(if m == 0 { Refusal::Homophone } else { Refusal::OtherReading });
            }
            if screen.sounds_offensive_key(key) {
                return Err(Refusal::OffensiveSound);
            }
        }
        let parts = syllables(engine, ids, options);
        if parts
            .iter()
            .any(|part| sound_keys(engine, accent, part).iter().any(|key| screen.part_offends_key(key)))
        {
            return Err(Refusal::OffensiveSound);
        }
    }
    Ok(())
}

/// The two sides of each seam that has a vowel on both and a consonant after it.
fn syllables<'o>(engine: &Engine, ids: &[GpcId], options: &'o [Vec<GpcId>]) -> Vec<&'o [Vec<GpcId>]> {
    let vowel = |id: &GpcId| engine.inventory().get(*id).is_some_and(|c| c.gpc.has_vowel());
    let seams =
        (1..ids.len()).filter_map(|at| Some((ids.split_at_checked(at)?, options.split_at_checked(at)?)));
    let apart = seams.filter(|((head, tail), _)| {
        head.iter().any(vowel) && tail.iter().any(vowel) && tail.first().is_some_and(|id| !vowel(id))
    });
    apart.flat_map(|(_, (head, tail))| [head, tail]).collect()
}

/// The correspondences by which each spelling may be read where it stands, the intended one first.
fn options(engine: &Engine, ids: &[GpcId], letters: &str) -> Vec<Vec<GpcId>> {
    let mut at = 0;
    let mut out = Vec::with_capacity(ids.len());
    for id in ids {
        let Some(item) = engine.inventory().get(*id) else { continue };
        let length = item.gpc.grapheme().letters().len();
        let stands = |other: &GpcId| {
            let other = engine.inventory().get(*other);
            other.is_some_and(|c| c.context.allows(letters.as_bytes(), at, length))
        };
        let others = engine.grammar().readings_of(item.gpc.grapheme().as_str());
        let mut choices = vec![*id];
        choices.extend(others.iter().copied().filter(|o| o != id && stands(o)));
        out.push(choices);
        at += length;
    }
    out
}

/// The most readings by what real words do that are looked at; words of one syllable have fewer.
const BY_WORDS: usize = 256;

/// Readings of a made-up word of one syllable as real words read its letters: correspondences of these spellings of
/// which each begins, follows or ends as it does in words. *eat* is read as in *seat* and as in *sweat*. The cheapest
/// first.
pub(super) fn as_in_words(engine: &Engine, units: &[Unit], letters: &str) -> Vec<Vec<Unit>> {
    let ids: Vec<GpcId> = units.iter().map(|unit| unit.id()).collect();
    let grammar = engine.grammar();
    let mut found: Vec<Vec<GpcId>> = vec![Vec::new()];
    for choices in options(engine, &ids, letters) {
        let begins = |id: &GpcId| grammar.first().iter().any(|(first, _)| first == id);
        let follows = |head: &[GpcId], id: &GpcId| match head.last() {
            Some(last) => grammar.after(*last).iter().any(|(next, _)| *next == Some(*id)),
            None => begins(id),
        };
        let longer = |head: &Vec<GpcId>, id: &GpcId| head.iter().chain([id]).copied().collect::<Vec<_>>();
        let next = found.iter().flat_map(|head| {
            choices.iter().filter(|id| follows(head, id)).map(|id| longer(head, id)).collect::<Vec<_>>()
        });
        found = next.take(BY_WORDS).collect();
    }
    let ends = |ids: &Vec<GpcId>| {
        ids.last().is_some_and(|last| grammar.after(*last).iter().any(|(next, _)| next.is_none()))
    };
    found.retain(ends);
    let cost = |ids: &Vec<GpcId>| ids.iter().map(|id| engine.costs().of(*id)).sum::<f32>();
    found.sort_by(|a, b| cost(a).total_cmp(&cost(b)));
    found.into_iter().map(|ids| ids.into_iter().map(Unit::new).collect()).collect()
}

/// How every choice of options sounds in an accent, as the screens hash it, the intended one first.
fn sound_keys(engine: &Engine, accent: Accent, options: &[Vec<GpcId>]) -> Vec<String> {
    let mut out = vec![String::new()];
    for choices in options {
        let mut pieces: Vec<String> = Vec::new();
        for id in choices {
            let piece = sound_key(&accent.realise(engine.inventory(), Unit::new(*id)));
            if !pieces.contains(&piece) {
                pieces.push(piece);
            }
        }
        let joined = |head: &String, piece: &String| match head.as_str() {
            "" => piece.clone(),
            _ => [head, ".", piece].concat(),
        };
        let next = pieces.iter().flat_map(|p| out.iter().map(move |head| joined(head, p)));
        out = next.take(COMBINATIONS).collect();
    }
    out
}

/// The sound of plain units in an accent.
pub(super) fn sound(engine: &Engine, accent: Accent, ids: &[GpcId]) -> Vec<Phoneme> {
    let units: Vec<Unit> = ids.iter().map(|id| Unit::new(*id)).collect();
    accent.pronounce(engine.inventory(), &units)
}
