//! What must be taught for a unit to be readable, under a school's policy and accent.

use super::Engine;
use super::accent::Accent;
use super::fixed::Map;
use super::gpc::Gpc;
use super::inventory::{Correspondence, Inventory};
use super::phoneme::Phoneme;
use super::policy::{Doubled, Policy};
use super::unit::{GpcId, Tag, Unit};

/// Doubled consonants that a school may teach as one idea.
const DOUBLED: [&str; 9] = ["bb:b", "cc:k", "dd:d", "gg:g", "mm:m", "nn:n", "pp:p", "rr:r", "tt:t"];
/// Weak vowel spellings and the taught correspondence whose weak form they are. Several on the
/// right are needed together.
const WEAK: &[(&str, &str)] = &[
    ("a:ə", "a:æ"),
    ("e:ə", "e:e"),
    ("i:ə", "i:ɪ"),
    ("o:ə", "o:ɒ"),
    ("u:ə", "u:ʌ"),
    ("a:ɪ", "a:æ"),
    ("e:ɪ", "e:e"),
    ("u:ʊ", "u:ʌ"),
    ("o:əʊ", "o:ɒ"),
    ("er:ə", "er:ɜː"),
    ("or:ə", "or:ɔː"),
    ("ar:ə", "ar:ɑː"),
    ("ur:ə", "ur:ɜː"),
    ("our:ə", "our:ɔː"),
    ("ure:ə", "ure:ʊə"),
    ("el:ə.l", "e:e l:l"),
    ("al:ə.l", "a:æ l:l"),
    ("il:ə.l", "i:ɪ l:l"),
    ("ol:ə.l", "o:ɒ l:l"),
    ("ul:ə.l", "u:ʌ l:l"),
    ("i:i", "i:ɪ"),
    ("e:i", "e:iː"),
    ("ee:i", "ee:iː"),
    ("ea:i", "ea:iː"),
    ("ie:i", "ie:iː"),
    ("ey:i", "ey:iː"),
    ("y:ɪ", "y:i"),
    ("a_e:ɪ", "a_e:eɪ"),
    ("ay:i", "ay:eɪ"),
    ("u:u", "u:uː"),
    ("u:j.u", "u:j.uː"),
    ("u:j.ʊ", "u:j.uː"),
    ("u:j.ə", "u:j.uː"),
    ("ue:j.u", "ue:j.uː"),
    ("ew:j.u", "ew:j.uː"),
    ("ue:u", "ue:uː"),
    ("ai:ə", "ai:eɪ"),
    ("ou:ə", "ou:aʊ"),
    ("ow:ə", "ow:əʊ"),
    ("io:j.ə", "i:ɪ o:ɒ"),
    ("ia:ɪə", "i:ɪ a:æ"),
    ("io:ɪə", "i:ɪ o:ɒ"),
    ("iu:ɪə", "i:ɪ u:ʌ"),
];
/// Spellings of one sound in one letter that no stress changes.
const ALWAYS: &[(&str, &str)] = &[
    ("l:ə.l", "l:l"),
    ("n:ə.n", "n:n"),
    ("m:ə.m", "m:m"),
    ("ey:iː", "ey:i"),
    ("ey:i", "ey:iː"),
    ("y:iː", "y:i"),
];

/// Answers, for a policy, which correspondences make a unit readable.
#[derive(Debug)]
pub struct Requirements<'a> {
    inventory: &'a Inventory,
    policy: Policy,
    by_sound: Map<(&'a str, Vec<Phoneme>), Vec<GpcId>>,
    listed: Map<GpcId, Vec<(bool, Vec<GpcId>)>>,
    doubled: Vec<GpcId>,
    past: Vec<GpcId>,
}

impl<'a> Requirements<'a> {
    /// Prepares the answers for a policy.
    #[must_use]
    pub fn new(inventory: &'a Inventory, policy: Policy) -> Self {
        let mut by_sound: Map<(&str, Vec<Phoneme>), Vec<GpcId>> = Map::default();
        for (id, item) in inventory.iter() {
            let key = (item.gpc.grapheme().as_str(), sound(inventory, policy, Unit::new(id)));
            by_sound.entry(key).or_default().push(id);
        }
        let find = |list: &[&str]| list.iter().filter_map(|g| inventory.find(g).ok()).collect();
        let mut listed: Map<GpcId, Vec<(bool, Vec<GpcId>)>> = Map::default();
        for (table, needs_weak) in [(WEAK, true), (ALWAYS, false)] {
            for (weak, strong) in table {
                let parts: Vec<GpcId> = strong.split(' ').filter_map(|g| inventory.find(g).ok()).collect();
                if let Ok(id) = inventory.find(weak) {
                    listed.entry(id).or_default().push((needs_weak, parts));
                }
            }
        }
        Self {
            inventory,
            policy,
            by_sound,
            listed,
            doubled: find(&DOUBLED),
            past: find(&["ed:d", "ed:t", "ed:ɪ.d"]),
        }
    }

    /// The alternatives: any one of them, all its correspondences taught, makes the unit readable.
    /// Never empty.
    #[must_use]
    pub fn alternatives(&self, unit: Unit) -> Vec<Vec<GpcId>> {
        let Some(item) = self.inventory.get(unit.id()) else {
            return vec![vec![unit.id()]];
        };
        let key = (item.gpc.grapheme().as_str(), sound(self.inventory, self.policy, unit));
        let mut out: Vec<Vec<GpcId>> = match self.by_sound.get(&key) {
            Some(same) => same.iter().map(|id| vec![*id]).collect(),
            None => vec![vec![unit.id()]],
        };
        self.tolerated(unit, item, &mut out);
        out.dedup();
        out
    }

    /// A correspondence and the teachable ones introduced with it as one idea, because the policy
    /// lets any stand for all: doubled consonants, or one spelling's sounds (th of *this* and *thin*).
    #[must_use]
    pub fn together(&self, id: GpcId) -> Vec<GpcId> {
        let mut out = vec![id];
        for (other, item) in self.inventory.teachable() {
            let alternatives = self.alternatives(Unit::new(other));
            let same_spelling =
                self.inventory.get(id).is_some_and(|c| c.gpc.grapheme() == item.gpc.grapheme());
            let doubled = item.gpc.grapheme().is_doubled_consonant();
            if other != id && (same_spelling || doubled) && alternatives.contains(&vec![id]) {
                out.push(other);
            }
        }
        out
    }

    fn tolerated(&self, unit: Unit, item: &Correspondence, out: &mut Vec<Vec<GpcId>>) {
        let policy = self.policy;
        let gpc = item.gpc.to_string();
        let mut add = |text: &str| out.extend(self.inventory.find(text).ok().map(|id| vec![id]));
        match gpc.as_str() {
            "s:z" if policy.suffix_s_as_z && unit.has(Tag::Suffix) => add("s:s"),
            "th:ð" if !policy.th_split => add("th:θ"),
            "th:θ" if !policy.th_split => add("th:ð"),
            "n:ŋ" if !policy.n_before_k_taught => add("n:n"),
            "d:t" if policy.ed_together => add("d:d"),
            _ => {}
        }
        if policy.schwa_tolerance {
            for (needs_weak, parts) in self.listed.get(&unit.id()).into_iter().flatten() {
                if !needs_weak || unit.has(Tag::Weak) {
                    out.push(parts.clone());
                }
            }
        }
        if policy.ed_together && self.past.contains(&unit.id()) {
            out.extend(self.past.iter().map(|id| vec![*id]));
        }
        if self.doubled.contains(&unit.id()) {
            match policy.doubled {
                Doubled::Separately => {}
                Doubled::Together => out.extend(self.doubled.iter().map(|id| vec![*id])),
                Doubled::WithSingle => out.extend(self.single(&item.gpc).map(|id| vec![id])),
            }
        }
    }

    /// The single letter of a doubled consonant, with the same sound.
    fn single(&self, doubled: &Gpc) -> Option<GpcId> {
        let letter = doubled.grapheme().as_str().get(..1)?;
        let text = format!("{letter}:{}", Phoneme::join(doubled.phonemes()));
        self.inventory.find(&text).ok()
    }
}

impl Engine {
    /// The correspondence a unit is in an accent: the same letters for the sound they have there. Its own where the
    /// inventory has none such.
    #[must_use]
    pub fn in_accent(&self, unit: Unit, accent: Accent) -> GpcId {
        let inventory = self.inventory();
        let policy = Policy { accent, ..Policy::default() };
        let heard = inventory.get(unit.id()).and_then(|item| {
            let gpc = Gpc::new(item.gpc.grapheme().clone(), sound(inventory, policy, unit));
            inventory.id(&gpc)
        });
        heard.unwrap_or(unit.id())
    }
}

/// The sound of a unit in the policy's accent, without any r the accent or the next vowel adds.
pub(super) fn sound(inventory: &Inventory, policy: Policy, unit: Unit) -> Vec<Phoneme> {
    let mut sound = policy.accent.realise(inventory, unit);
    let own = inventory.get(unit.id()).map_or(0, |c| c.gpc.phonemes().len());
    sound.truncate(own);
    sound
}
