//! The screens a made-up word passes, in order.

use std::collections::BTreeSet;

use serde::Serialize;

use crate::phonics::Engine;
use crate::phonics::accent::Accent;
use crate::phonics::phoneme::Phoneme;
use crate::phonics::suffix::{self, ENDINGS};
use crate::phonics::unit::{GpcId, Unit};

use super::grammar::Grammar;

/// Why a made-up word was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Refusal {
    /// Struck off by the school.
    Struck,
    /// The spelling of a real word or name, or of a real word with an ending (*gived*).
    RealWord,
    /// Sounds like a real word or name in a supported accent.
    Homophone,
    /// Would, if a spelling were read another way.
    OtherReading,
    /// Holds a blocked string.
    BlockedString,
    /// Sounds like an offensive word, or nearly.
    OffensiveSound,
}

/// The most combinations of other readings tried; words of one syllable have fewer.
const COMBINATIONS: usize = 4_096;

/// Judges a made-up word of `ids` spelt `letters`.
pub(super) fn judge(
    engine: &Engine,
    grammar: &Grammar,
    strikes: &BTreeSet<String>,
    ids: &[GpcId],
    letters: &str,
) -> Result<(), Refusal> {
    let screen = engine.screen();
    if strikes.contains(letters) {
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
    for (n, other) in readings(engine, grammar, ids, letters).into_iter().enumerate() {
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

/// Every way to read the spellings where they stand, the intended one first.
pub(super) fn readings(engine: &Engine, grammar: &Grammar, ids: &[GpcId], letters: &str) -> Vec<Vec<GpcId>> {
    let mut out: Vec<Vec<GpcId>> = vec![Vec::new()];
    let mut at = 0;
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
        at += length;
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
