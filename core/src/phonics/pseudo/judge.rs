//! The screens a made-up word passes, in order.

use serde::Serialize;

use crate::phonics::Engine;
use crate::phonics::accent::Accent;
use crate::phonics::phoneme::Phoneme;
use crate::phonics::screen::sound_key;
use crate::phonics::suffix::{self, ENDINGS};
use crate::phonics::unit::{GpcId, Unit};

use super::grammar::Grammar;

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
    /// Sounds like a real word or name in a supported accent.
    #[error("sounds like a real word or name")]
    Homophone,
    /// Would, if a spelling were read another way.
    #[error("sounds like a real word or name when it is read another way")]
    OtherReading,
    /// Holds a blocked string.
    #[error("holds letters that are blocked")]
    BlockedString,
    /// Sounds like an offensive word, or nearly.
    #[error("sounds like an offensive word, or nearly")]
    OffensiveSound,
}

/// The most combinations of other readings tried; words of one syllable have fewer.
const COMBINATIONS: usize = 4_096;

/// Judges a made-up word of `ids` spelt `letters`.
pub(super) fn judge(engine: &Engine, grammar: &Grammar, ids: &[GpcId], letters: &str) -> Result<(), Refusal> {
    let screen = engine.screen();
    if engine.is_struck(letters) {
        return Err(Refusal::Struck);
    }
    if screen.is_real_word(letters) || engine.lexicon().find(letters).is_some() {
        return Err(Refusal::RealWord);
    }
    if ENDINGS.iter().any(|e| suffix::stem(engine.lexicon(), letters, e).is_some()) {
        return Err(Refusal::RealWord);
    }
    if screen.holds_blocked(letters) {
        return Err(Refusal::BlockedString);
    }
    let options = options(engine, grammar, ids, letters);
    for (n, accent) in (0u8..).zip(Accent::SUPPORTED) {
        for (m, key) in sound_keys(engine, accent, &options).iter().enumerate() {
            if screen.sounds_real_key(n, key) {
                return Err(if m == 0 { Refusal::Homophone } else { Refusal::OtherReading });
            }
            if screen.sounds_offensive_key(key) {
                return Err(Refusal::OffensiveSound);
            }
        }
    }
    Ok(())
}

/// The correspondences by which each spelling may be read where it stands, the intended one first.
fn options(engine: &Engine, grammar: &Grammar, ids: &[GpcId], letters: &str) -> Vec<Vec<GpcId>> {
    let mut at = 0;
    let mut out = Vec::with_capacity(ids.len());
    for id in ids {
        let Some(item) = engine.inventory().get(*id) else { continue };
        let length = item.gpc.grapheme().letters().len();
        let stands = |other: &GpcId| {
            let other = engine.inventory().get(*other);
            other.is_some_and(|c| c.context.allows(letters.as_bytes(), at, length))
        };
        let others = grammar.readings_of(item.gpc.grapheme().as_str());
        let mut choices = vec![*id];
        choices.extend(others.iter().copied().filter(|o| o != id && stands(o)));
        out.push(choices);
        at += length;
    }
    out
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
