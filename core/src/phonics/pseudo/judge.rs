//! The screens a made-up word passes, in order.

use serde::Serialize;

use crate::phonics::Engine;
use crate::phonics::accent::Accent;
use crate::phonics::phoneme::Phoneme;
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

/// The most combinations of other readings tried.
const COMBINATIONS: usize = 96;

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
    if sounds_real(engine, ids) {
        return Err(Refusal::Homophone);
    }
    if screen.holds_blocked(letters) {
        return Err(Refusal::BlockedString);
    }
    for (n, other) in readings(engine, grammar, ids).into_iter().enumerate() {
        if n > 0 && sounds_real(engine, &other) {
            return Err(Refusal::OtherReading);
        }
        let offends = Accent::SUPPORTED.iter().any(|a| screen.sounds_offensive(&sound(engine, *a, &other)));
        if offends {
            return Err(Refusal::OffensiveSound);
        }
    }
    Ok(())
}

/// Every way to read the spellings, the intended one first.
pub(super) fn readings(engine: &Engine, grammar: &Grammar, ids: &[GpcId]) -> Vec<Vec<GpcId>> {
    let mut out: Vec<Vec<GpcId>> = vec![Vec::new()];
    for id in ids {
        let spelling = engine.inventory().get(*id).map(|c| c.gpc.grapheme().as_str());
        let others = grammar.readings_of(spelling.unwrap_or(""));
        let mut choices = vec![*id];
        choices.extend(others.iter().copied().filter(|o| o != id));
        out = choices
            .iter()
            .flat_map(|choice| {
                out.iter().map(move |head| {
                    let mut all = head.clone();
                    all.push(*choice);
                    all
                })
            })
            .take(COMBINATIONS)
            .collect();
    }
    out
}

/// The sound of plain units in an accent.
pub(super) fn sound(engine: &Engine, accent: Accent, ids: &[GpcId]) -> Vec<Phoneme> {
    let units: Vec<Unit> = ids.iter().map(|id| Unit::new(*id)).collect();
    accent.pronounce(engine.inventory(), &units)
}

fn sounds_real(engine: &Engine, ids: &[GpcId]) -> bool {
    (0u8..)
        .zip(Accent::SUPPORTED)
        .any(|(n, accent)| engine.screen().sounds_real(n, &sound(engine, accent, ids)))
}
