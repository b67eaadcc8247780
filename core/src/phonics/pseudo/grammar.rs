//! What English syllables are made of, counted in the lexicon's one-syllable words.

use std::collections::{BTreeMap, BTreeSet};

use crate::phonics::inventory::Inventory;
use crate::phonics::lexicon::Lexicon;
use crate::phonics::phoneme::Phoneme;
use crate::phonics::unit::{GpcId, Tag, Unit};

/// A transition seen less often is a rarity of spelling and not followed.
const ATTESTED: u32 = 2;

/// Counts over one-syllable words. A transition to `None` ends the word.
#[derive(Debug, Clone, Default)]
pub struct Grammar {
    first: Vec<(GpcId, u32)>,
    next: BTreeMap<GpcId, Vec<(Option<GpcId>, u32)>>,
    previous: BTreeMap<GpcId, Vec<Option<GpcId>>>,
    onsets: BTreeMap<Vec<Phoneme>, u32>,
    codas: BTreeMap<Vec<Phoneme>, u32>,
    rimes: BTreeSet<(Phoneme, Vec<Phoneme>)>,
    readings: BTreeMap<String, Vec<GpcId>>,
    bath: BTreeSet<GpcId>,
}

#[derive(Default)]
struct Counts {
    first: BTreeMap<GpcId, u32>,
    next: BTreeMap<(GpcId, Option<GpcId>), u32>,
    read: BTreeSet<GpcId>,
}

impl Grammar {
    /// Counts the lexicon once.
    #[must_use]
    pub fn new(inventory: &Inventory, lexicon: &Lexicon) -> Self {
        let mut grammar = Self::default();
        let mut counts = Counts::default();
        for word in lexicon.iter() {
            let lower = word.shown().bytes().all(|b| b.is_ascii_lowercase());
            for reading in word.readings() {
                grammar.bath.extend(reading.units.iter().filter(|u| u.has(Tag::Bath)).map(|u| u.id()));
                let items = || reading.units.iter().filter_map(|u| Some((u.id(), inventory.get(u.id())?)));
                if items().filter(|(_, c)| c.gpc.has_vowel()).count() == 1 {
                    counts
                        .read
                        .extend(items().filter(|(_, c)| !c.gpc.phonemes().is_empty()).map(|(id, _)| id));
                }
                if lower {
                    grammar.count(inventory, reading.units, &mut counts);
                }
            }
        }
        grammar.first = counts.first.into_iter().filter(|(_, n)| *n >= ATTESTED).collect();
        for (id, _) in &grammar.first {
            grammar.previous.entry(*id).or_default().push(None);
        }
        for ((from, to), n) in counts.next {
            if n >= ATTESTED {
                grammar.next.entry(from).or_default().push((to, n));
                if let Some(to) = to {
                    grammar.previous.entry(to).or_default().push(Some(from));
                }
            }
        }
        for id in counts.read {
            if let Some(item) = inventory.get(id) {
                let spelling = item.gpc.grapheme().as_str().to_owned();
                grammar.readings.entry(spelling).or_default().push(id);
            }
        }
        grammar
    }

    fn count(&mut self, inventory: &Inventory, units: &[Unit], counts: &mut Counts) {
        let items: Vec<_> = units.iter().filter_map(|u| inventory.get(u.id())).collect();
        let sounds: Vec<Phoneme> = items.iter().flat_map(|c| c.gpc.phonemes()).copied().collect();
        let silent = items.iter().any(|c| c.gpc.phonemes().is_empty());
        let past = match items[..] {
            [.., before, last] if last.gpc.grapheme().as_str() == "d" => {
                before.gpc.grapheme().as_str().ends_with('e') && !before.gpc.has_vowel()
            }
            [.., last] => last.gpc.grapheme().as_str() == "ed",
            [] => false,
        };
        let inflected = past || units.iter().any(|u| u.has(Tag::Suffix));
        let Some((onset, vowel, coda)) = split_syllable(&sounds) else {
            return;
        };
        let spelling = |n: usize| {
            let at = items.len().checked_sub(n)?;
            items.get(at).map(|c| c.gpc.grapheme().as_str())
        };
        let doubled_d =
            spelling(1) == Some("d") && spelling(2).is_some_and(|s| matches!(s, "ll" | "ff" | "ss" | "zz"));
        if silent || inflected || doubled_d {
            return;
        }
        *self.onsets.entry(onset.to_vec()).or_default() += 1;
        *self.codas.entry(coda.to_vec()).or_default() += 1;
        self.rimes.insert((vowel, coda.to_vec()));
        let ids: Vec<GpcId> = units.iter().map(|u| u.id()).collect();
        if let Some(first) = ids.first() {
            *counts.first.entry(*first).or_default() += 1;
        }
        for (n, id) in ids.iter().enumerate() {
            let to = ids.get(n + 1).copied();
            *counts.next.entry((*id, to)).or_default() += 1;
        }
    }

    /// First units with how many words begin so.
    #[must_use]
    pub fn first(&self) -> &[(GpcId, u32)] {
        &self.first
    }

    /// What follows a unit; `None` is the end of the word.
    #[must_use]
    pub fn after(&self, id: GpcId) -> &[(Option<GpcId>, u32)] {
        self.next.get(&id).map_or(&[], Vec::as_slice)
    }

    /// What precedes a unit; `None` is the start of the word.
    #[must_use]
    pub fn before(&self, id: GpcId) -> &[Option<GpcId>] {
        self.previous.get(&id).map_or(&[], Vec::as_slice)
    }

    /// Whether a one-vowel sound has a beginning, an ending and a rime that words have.
    #[must_use]
    pub fn attests(&self, sounds: &[Phoneme]) -> bool {
        let common = |map: &BTreeMap<Vec<Phoneme>, u32>, part: &[Phoneme]| {
            map.get(part).is_some_and(|n| *n >= ATTESTED)
        };
        split_syllable(sounds).is_some_and(|(onset, vowel, coda)| {
            common(&self.onsets, onset)
                && common(&self.codas, coda)
                && self.rimes.contains(&(vowel, coda.to_vec()))
        })
    }

    /// Whether some words have the correspondence in one accent and a short a in another (*path*).
    #[must_use]
    pub fn varies_in_bath(&self, id: GpcId) -> bool {
        self.bath.contains(&id)
    }

    /// Every correspondence by which some word of one syllable reads a spelling.
    #[must_use]
    pub fn readings_of(&self, spelling: &str) -> &[GpcId] {
        self.readings.get(spelling).map_or(&[], Vec::as_slice)
    }
}

/// Beginning, vowel and ending of a sound with exactly one vowel.
pub(super) fn split_syllable(sounds: &[Phoneme]) -> Option<(&[Phoneme], Phoneme, &[Phoneme])> {
    let at = sounds.iter().position(|p| p.is_vowel())?;
    let (onset, rest) = sounds.split_at(at);
    let (vowel, coda) = rest.split_first()?;
    (!coda.iter().any(|p| p.is_vowel())).then_some((onset, *vowel, coda))
}
