//! The word that another word is with an ending, as English adds endings.

use std::collections::BTreeSet;

use super::Engine;
use super::data::{self, DataError};
use super::gpc::Gpc;
use super::inventory::Inventory;
use super::lexicon::{LexWord, Lexicon, Reading};
use super::phoneme::Phoneme;
use super::unit::{Tag, Unit};

/// How an ending joins its stem.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Joined {
    /// In any way.
    Any,
    /// After a stem in y, which stays.
    AfterY,
    /// After a stem in y, which turns to i.
    ToY,
    /// After a stem in e, which goes.
    DroppingE,
    /// With the last consonant doubled.
    Doubling,
}

impl Joined {
    /// Whether an ending that joined in this way shows what a label says of its joining.
    pub(super) fn is(self, wanted: Self, ending: &str) -> bool {
        // "... and y stays before -ing": any other joining of -ing after y is none of the rule's.
        let kept = wanted == Self::ToY && ending == "ing" && self == Self::AfterY;
        wanted == Self::Any || self == wanted || kept
    }
}

/// Words that look and sound like others joined and are not: *letter* is not *let* with -er, *unless*
/// not un- before *less*, nor *forget* two words in one.
#[derive(Debug, Clone)]
pub struct LookAlikes(BTreeSet<(&'static str, &'static str)>);

impl LookAlikes {
    /// Reads the embedded list; every word must be in the lexicon.
    ///
    /// # Errors
    /// [`DataError`] naming the line.
    pub fn load(lexicon: &Lexicon) -> Result<Self, DataError> {
        let mut out = BTreeSet::new();
        for (line, text) in data::lines(data::LOOK_ALIKES) {
            let bad = |why: String| DataError::new("look_alikes.tsv", line, why);
            let (kind, words) = text.split_once('\t').ok_or_else(|| bad("no tab".to_owned()))?;
            for word in words.split(' ') {
                lexicon.find(word).ok_or_else(|| bad(format!("{word} is not a word")))?;
                out.insert((kind, word));
            }
        }
        Ok(Self(out))
    }

    /// Whether a word only looks like one of a kind: `-er`, `un-`, `compound`.
    pub(super) fn has(&self, kind: &str, word: &str) -> bool {
        self.0.contains(&(kind, word))
    }
}

/// A word as it is known that English joins an ending to.
pub(super) type Stem<'e> = (LexWord<'e>, Joined);

/// The common words that a word can be with an ending as English adds it, and how it joined. The
/// ending has its own units, or *ied* and *ies* of a y turned to i would have, and before it the
/// word sounds as the stem does: *rates* is not *rat* with -es, nor *dinner* *dine* with -er.
pub(super) fn stems<'e>(
    engine: &'e Engine,
    word: &str,
    ending: &str,
    reading: &Reading<'_>,
) -> impl Iterator<Item = Stem<'e>> {
    let inventory = engine.inventory();
    let own = ending_units(inventory, reading.units, ending) > 0;
    let turned = own || ending_units(inventory, reading.units, &format!("i{ending}")) > 0;
    let tagged = ending != "s" || reading.units.last().is_some_and(|u| u.has(Tag::Suffix));
    let real = tagged && !engine.look_alikes().has(&format!("-{ending}"), word);
    let base = word.strip_suffix(ending).filter(|base| base.len() > 1 && real).unwrap_or("");
    let single = base.get(base.len().saturating_sub(1)..).and_then(|last| {
        let one = base.strip_suffix(last)?;
        one.ends_with(last).then(|| one.to_owned())
    });
    let vowel = ending.starts_with(['e', 'i', 'y']);
    // *careful* with -ly doubles nothing.
    let single = single.filter(|one| ending != "y" || !one.ends_with('l'));
    // No e went from *being* or *dyeing*: what is left of a word that drops one ends in a consonant
    // letter or u.
    // The e of *baked* belongs to its split digraph.
    let split = ending == "ed" && ending_units(inventory, reading.units, "d") > 0;
    let drops = (own || split) && vowel && ending != "es" && !base.ends_with(['a', 'e', 'i', 'o', 'y']);
    let as_is = if base.ends_with('y') { Joined::AfterY } else { Joined::Any };
    let tries = [
        (Some(base.to_owned()).filter(|_| own), as_is),
        (Some(format!("{base}e")).filter(|_| drops), Joined::DroppingE),
        (single.filter(|_| own && vowel), Joined::Doubling),
        (base.strip_suffix('i').filter(|_| turned).map(|base| format!("{base}y")), Joined::ToY),
    ];
    let sounds = sounds(inventory, reading.units);
    tries.into_iter().filter_map(move |(stem, how)| {
        let stem = engine.lexicon().find(&stem?).filter(|w| w.band() <= 20 || w.child_band() > 0)?;
        let begins = |r: Reading<'_>| sounds.starts_with(&self::sounds(inventory, r.units));
        stem.readings().any(begins).then_some((stem, how))
    })
}

/// Whether a stem takes an ending: a common word is the stem with it, and sounds so.
pub(super) fn takes(engine: &Engine, stem: &str, ending: &str) -> bool {
    let mut tries = vec![format!("{stem}{ending}")];
    tries.extend(stem.strip_suffix('e').map(|base| format!("{base}{ending}")));
    tries.extend(stem.strip_suffix('y').map(|base| format!("{base}i{ending}")));
    tries.extend(stem.chars().last().map(|last| format!("{stem}{last}{ending}")));
    let known = tries.iter().filter_map(|word| engine.lexicon().find(word)).filter(|w| w.band() <= 20);
    { known }.any(|word| {
        let mut readings = word.readings();
        readings.any(|r| stems(engine, word.shown(), ending, &r).any(|(found, _)| found.shown() == stem))
    })
}

/// How many of the last units together spell an ending; 0 where none do.
pub(super) fn ending_units(inventory: &Inventory, units: &[Unit], ending: &str) -> usize {
    let mut rest = ending;
    for (before, unit) in units.iter().rev().enumerate() {
        let letters = inventory.gpc(*unit).map_or("", |g| g.grapheme().as_str());
        match rest.strip_suffix(letters).filter(|_| !letters.is_empty()) {
            Some("") => return before + 1,
            Some(more) => rest = more,
            None => return 0,
        }
    }
    0
}

fn sounds(inventory: &Inventory, units: &[Unit]) -> Vec<Phoneme> {
    units.iter().filter_map(|u| inventory.gpc(*u)).flat_map(Gpc::phonemes).copied().collect()
}
