//! The inventory: every correspondence the engine knows, with where it may occur, and which of
//! them are the units schools usually teach. Read from `core/rules/phonics`.

use super::context::Context;
use super::data::{self, DataError};
use super::fixed::Map;
use super::gpc::{Gpc, GpcError};
use super::unit::{GpcId, Tag, Unit};

/// One correspondence with what the aligner needs to know about it.
#[derive(Debug, Clone)]
pub struct Correspondence {
    /// The pair.
    pub gpc: Gpc,
    /// 1 core, 2 later or less common, 3 rare or irregular, 4 a letter that is not sounded.
    pub tier: u8,
    /// Where in a word it may stand.
    pub context: Context,
    /// An example word, for the units schools usually teach.
    pub keyword: Option<&'static str>,
    /// Sounded, and without a vowel.
    pub consonantal: bool,
}

/// All correspondences, numbered; cheap to look up by pair, number or first letter.
#[derive(Debug, Clone)]
pub struct Inventory {
    items: Vec<Correspondence>,
    by_first_letter: Vec<Vec<GpcId>>,
    index: Map<Gpc, GpcId>,
}

/// A correspondence that cannot be used, and what may have been meant.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum UnknownGpc {
    /// The text is not a correspondence at all.
    #[error("{given}: {reason}")]
    Malformed {
        /// What was given.
        given: String,
        /// Why it cannot be read.
        reason: GpcError,
    },
    /// It reads well, but English does not spell that sound so. Suggestions are nearest first.
    #[error("{given} is not a correspondence of English{}", said(.suggestions))]
    NotEnglish {
        /// What was given.
        given: Gpc,
        /// Up to five known correspondences with the same spelling, then with the same sound.
        suggestions: Vec<Gpc>,
    },
}

fn said(suggestions: &[Gpc]) -> String {
    if suggestions.is_empty() {
        return String::new();
    }
    let list: Vec<String> = suggestions.iter().map(Gpc::to_string).collect();
    format!("; did you mean {}?", list.join(", "))
}

impl Inventory {
    /// Reads the embedded rules.
    ///
    /// # Errors
    /// [`DataError`] naming file and line, when the rules of this build are damaged.
    pub fn load() -> Result<Self, DataError> {
        let mut inventory =
            Self { items: Vec::new(), by_first_letter: vec![Vec::new(); 26], index: Map::default() };
        inventory.read_correspondences()?;
        inventory.read_contexts()?;
        inventory.read_units()?;
        Ok(inventory)
    }

    fn read_correspondences(&mut self) -> Result<(), DataError> {
        const FILE: &str = "correspondences.txt";
        for (line, text) in data::lines(data::CORRESPONDENCES) {
            let bad = |why: String| DataError::new(FILE, line, why);
            let (phonemes, graphemes) = text.split_once(": ").ok_or_else(|| bad("no colon".to_owned()))?;
            for item in graphemes.split_whitespace() {
                let (grapheme, tier) = item.split_once('/').unwrap_or((item, "1"));
                let gpc: Gpc =
                    format!("{grapheme}:{phonemes}").parse().map_err(|e: GpcError| bad(e.to_string()))?;
                let tier = tier.parse().map_err(|_| bad(format!("tier of {item}")))?;
                self.push(gpc, tier).ok_or_else(|| bad(format!("too many at {item}")))?;
            }
        }
        Ok(())
    }

    fn push(&mut self, gpc: Gpc, tier: u8) -> Option<()> {
        let first = *gpc.grapheme().letters().as_bytes().first()?;
        let id = GpcId(u16::try_from(self.items.len()).ok()?);
        if self.items.len() >= Unit::MAX_IDS || self.index.insert(gpc.clone(), id).is_some() {
            return None;
        }
        self.by_first_letter.get_mut(usize::from(first.checked_sub(b'a')?))?.push(id);
        self.items.push(Correspondence {
            consonantal: !gpc.phonemes().is_empty() && !gpc.has_vowel(),
            gpc,
            tier,
            context: Context::default(),
            keyword: None,
        });
        Some(())
    }

    fn read_contexts(&mut self) -> Result<(), DataError> {
        const FILE: &str = "contexts.tsv";
        for (line, text) in data::lines(data::CONTEXTS) {
            let bad = |why: String| DataError::new(FILE, line, why);
            let mut cells = text.split('\t');
            let (Some(gpc), Some(before), Some(after)) = (cells.next(), cells.next(), cells.next()) else {
                return Err(bad("three cells expected".to_owned()));
            };
            let id = self.find(gpc).map_err(|e| bad(e.to_string()))?;
            if let Some(item) = self.items.get_mut(id.index()) {
                item.context = Context::parse(before, after);
            }
        }
        Ok(())
    }

    fn read_units(&mut self) -> Result<(), DataError> {
        const FILE: &str = "units.tsv";
        for (line, text) in data::lines(data::UNITS) {
            let bad = |why: String| DataError::new(FILE, line, why);
            let (gpc, keyword) = text.split_once('\t').ok_or_else(|| bad("two cells expected".to_owned()))?;
            let id = self.find(gpc).map_err(|e| bad(e.to_string()))?;
            if let Some(item) = self.items.get_mut(id.index()) {
                item.keyword = Some(keyword);
            }
        }
        Ok(())
    }

    /// The number of correspondences.
    #[must_use]
    pub fn len(&self) -> usize {
        self.items.len()
    }

    /// Whether there are none (never, once loaded).
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.items.is_empty()
    }

    /// The correspondence with that number.
    #[must_use]
    pub fn get(&self, id: GpcId) -> Option<&Correspondence> {
        self.items.get(id.index())
    }

    /// The pair a unit stands for.
    pub(super) fn gpc(&self, unit: Unit) -> Option<&Gpc> {
        self.get(unit.id()).map(|item| &item.gpc)
    }

    /// The number of a pair, if it is known.
    #[must_use]
    pub fn id(&self, gpc: &Gpc) -> Option<GpcId> {
        self.index.get(gpc).copied()
    }

    /// All correspondences with their numbers.
    pub fn iter(&self) -> impl Iterator<Item = (GpcId, &Correspondence)> {
        (0u16..).map(GpcId).zip(&self.items)
    }

    /// The units schools usually teach, by kind and alphabet (no teaching order).
    pub fn teachable(&self) -> impl Iterator<Item = (GpcId, &Correspondence)> {
        self.iter().filter(|(_, c)| c.keyword.is_some())
    }

    /// Those whose first letter is `letter` (`a`–`z`).
    #[must_use]
    pub fn starting_with(&self, letter: u8) -> &[GpcId] {
        usize::from(letter)
            .checked_sub(usize::from(b'a'))
            .and_then(|i| self.by_first_letter.get(i))
            .map_or(&[], Vec::as_slice)
    }

    /// Resolves the text a client sent.
    ///
    /// # Errors
    /// [`UnknownGpc`] with the reason, or with up to five suggestions.
    pub fn find(&self, text: &str) -> Result<GpcId, UnknownGpc> {
        let gpc: Gpc =
            text.parse().map_err(|reason| UnknownGpc::Malformed { given: text.to_owned(), reason })?;
        self.id(&gpc).ok_or_else(|| UnknownGpc::NotEnglish { suggestions: self.suggest(&gpc), given: gpc })
    }

    /// Up to five known correspondences: same spelling first, then same sound; common ones first.
    #[must_use]
    pub fn suggest(&self, gpc: &Gpc) -> Vec<Gpc> {
        let mut near: Vec<(u8, u8, &Gpc)> = self
            .items
            .iter()
            .filter(|c| c.tier < 4)
            .filter_map(|c| {
                let class = if c.gpc.grapheme() == gpc.grapheme() {
                    0
                } else if c.gpc.phonemes() == gpc.phonemes() {
                    1
                } else {
                    return None;
                };
                let rank = if c.keyword.is_some() { 0 } else { c.tier };
                Some((class, rank, &c.gpc))
            })
            .collect();
        near.sort();
        near.into_iter().take(5).map(|(_, _, g)| g.clone()).collect()
    }

    /// Writes a unit as the lexicon file does: the pair, then `'` and a letter for each tag.
    #[must_use]
    pub fn token(&self, unit: Unit) -> String {
        let mut out = self.get(unit.id()).map(|c| c.gpc.to_string()).unwrap_or_default();
        for (tag, letter) in Tag::ALL {
            if unit.has(tag) {
                out.push('\'');
                out.push(letter);
            }
        }
        out
    }

    /// Reads what [`Inventory::token`] writes.
    ///
    /// # Errors
    /// [`UnknownGpc`] for the pair; unknown tags are taken as part of it and so refused too.
    pub fn parse_token(&self, text: &str) -> Result<Unit, UnknownGpc> {
        let mut parts = text.split('\'');
        let mut unit = Unit::new(self.find(parts.next().unwrap_or(""))?);
        for mark in parts {
            match Tag::ALL.iter().find(|(_, l)| mark.chars().eq([*l])) {
                Some((tag, _)) => unit = unit.with(*tag),
                None => return self.find(text).map(Unit::new),
            }
        }
        Ok(unit)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rules_load_and_hold_the_units_schools_teach() {
        let inventory = Inventory::load().unwrap();
        assert!(inventory.len() > 700);
        let taught = inventory.teachable().count();
        assert!((150..=190).contains(&taught), "{taught}");
    }

    #[test]
    fn unknown_correspondences_are_refused_with_suggestions() {
        let inventory = Inventory::load().unwrap();
        let Err(UnknownGpc::NotEnglish { suggestions, .. }) = inventory.find("oo:æ") else {
            panic!("oo:æ was accepted");
        };
        let said: Vec<String> = suggestions.iter().map(Gpc::to_string).collect();
        assert!(said.contains(&"oo:uː".to_owned()) && said.contains(&"oo:ʊ".to_owned()));
        assert!(matches!(inventory.find("sh"), Err(UnknownGpc::Malformed { .. })));
    }

    #[test]
    fn tokens_read_back() {
        let inventory = Inventory::load().unwrap();
        for text in ["a:ɑː'b", "oo:ʊ'k", "or:ɔː'r", "s:z's", "c:k"] {
            let unit = inventory.parse_token(text).unwrap();
            assert_eq!(inventory.token(unit), text);
        }
        assert!(inventory.parse_token("a:ɑː'q").is_err());
    }
}
