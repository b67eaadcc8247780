//! What makes an item easier or harder, as far as the engine knows before anybody was asked, and how far forms
//! lie apart in it.

use std::collections::BTreeSet;

use serde::Serialize;

use crate::phonics::{Engine, unit::Unit};

/// What the engine knows of an item. None of it was found out by asking; together it is no scale of difficulty.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Measure {
    /// Graphemes, in all its words.
    pub graphemes: u16,
    /// Places where two consonants stand side by side: one in `stop`, two in `strap`.
    pub adjacent_consonants: u16,
    /// Split digraphs, as in `cake`.
    pub split_digraphs: u16,
    /// How well known its rarest word is: 1 to 3 for words children know, commonest first, then 4 to 7; 0 where
    /// that does not count, as in made-up words.
    pub rarity: u8,
    /// Lessons since the last of its GPCs was taught; 0 in the lesson itself.
    pub lessons_since: u16,
}

/// The means of a form, or how far means lie apart.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Means {
    /// Graphemes an item.
    pub graphemes: f64,
    /// Places with two consonants side by side.
    pub adjacent_consonants: f64,
    /// Split digraphs.
    pub split_digraphs: f64,
    /// How well known the words are.
    pub rarity: f64,
    /// Lessons since teaching; what is no longer recent counts as just that.
    pub lessons_since: f64,
}

/// What is balanced: graphemes, adjacent consonants, split digraphs, rarity, lessons since teaching.
pub(super) const FEATURES: usize = 5;

/// A step of rarity, and the whole of what counts as recent, weigh as much as so many graphemes when forms are
/// balanced. Structure comes first.
const RARITY: f64 = 0.5;
const RECENT: f64 = 1.0;

impl Measure {
    /// Of a reading. `since` and `rarity` are the caller's to know.
    pub(super) fn of(engine: &Engine, units: &[Unit]) -> Self {
        let items = || units.iter().filter_map(|unit| engine.inventory().get(unit.id()));
        let consonants: Vec<bool> = items().map(|item| item.consonantal).collect();
        let count = |n: usize| u16::try_from(n).unwrap_or(u16::MAX);
        Self {
            graphemes: count(consonants.len()),
            adjacent_consonants: count(consonants.windows(2).filter(|two| two[0] && two[1]).count()),
            split_digraphs: count(items().filter(|item| item.gpc.grapheme().is_split()).count()),
            ..Self::default()
        }
    }

    /// Two words of one sentence together.
    pub(super) fn and(self, other: Self) -> Self {
        Self {
            graphemes: self.graphemes + other.graphemes,
            adjacent_consonants: self.adjacent_consonants + other.adjacent_consonants,
            split_digraphs: self.split_digraphs + other.split_digraphs,
            rarity: self.rarity.max(other.rarity),
            lessons_since: self.lessons_since.min(other.lessons_since),
        }
    }

    /// What must be the same in the items of one place of the forms, where words allow it.
    pub(super) fn structure(self) -> (u16, u16, u16) {
        (self.graphemes, self.adjacent_consonants, self.split_digraphs)
    }

    /// What is balanced, each in the same unit.
    pub(super) fn weighed(self, recent: u16) -> [f64; FEATURES] {
        let since = f64::from(self.lessons_since.min(recent)) / f64::from(recent.max(1));
        [
            f64::from(self.graphemes),
            f64::from(self.adjacent_consonants),
            f64::from(self.split_digraphs),
            f64::from(self.rarity) * RARITY,
            since * RECENT,
        ]
    }
}

/// To two decimals.
fn hundredths(figure: f64) -> f64 {
    (figure * 100.0).round() / 100.0
}

impl Means {
    /// The means of the items of a form, to two decimals.
    #[must_use]
    pub fn of(items: &[Measure], recent: u16) -> Self {
        let many = f64::from(u32::try_from(items.len().max(1)).unwrap_or(u32::MAX));
        let mean = |of: &dyn Fn(&Measure) -> f64| hundredths(items.iter().map(of).sum::<f64>() / many);
        Self {
            graphemes: mean(&|item| item.graphemes.into()),
            adjacent_consonants: mean(&|item| item.adjacent_consonants.into()),
            split_digraphs: mean(&|item| item.split_digraphs.into()),
            rarity: mean(&|item| item.rarity.into()),
            lessons_since: mean(&|item| item.lessons_since.min(recent).into()),
        }
    }

    /// How far the two forms that lie furthest apart in something lie apart in it.
    #[must_use]
    pub fn apart(forms: &[Self]) -> Self {
        let apart = |of: &dyn Fn(&Self) -> f64| {
            let most = forms.iter().map(of).fold(f64::MIN, f64::max);
            let least = forms.iter().map(of).fold(f64::MAX, f64::min);
            if forms.is_empty() { 0.0 } else { hundredths(most - least) }
        };
        Self {
            graphemes: apart(&|form| form.graphemes),
            adjacent_consonants: apart(&|form| form.adjacent_consonants),
            split_digraphs: apart(&|form| form.split_digraphs),
            rarity: apart(&|form| form.rarity),
            lessons_since: apart(&|form| form.lessons_since),
        }
    }
}

/// Consonants and vowels of a reading in order, as `CCVC`, and how many vowels.
pub(super) fn shape(engine: &Engine, units: &[Unit]) -> (String, usize) {
    let gpcs = units.iter().filter_map(|unit| engine.inventory().get(unit.id())).map(|item| &item.gpc);
    let sounded = gpcs.filter(|gpc| !gpc.phonemes().is_empty());
    let shape: String = sounded.map(|gpc| if gpc.has_vowel() { 'V' } else { 'C' }).collect();
    let vowels = shape.bytes().filter(|letter| *letter == b'V').count();
    (shape, vowels)
}

/// The graphemes of a reading.
pub(super) fn graphemes(engine: &Engine, units: &[Unit]) -> BTreeSet<String> {
    let items = units.iter().filter_map(|unit| engine.inventory().get(unit.id()));
    items.map(|item| item.gpc.grapheme().to_string()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_word_is_measured_by_its_units() {
        let engine = Engine::load().unwrap();
        let of = |word: &str| {
            let found = engine.lexicon().find(word).unwrap();
            let reading = found.readings().next().unwrap();
            (Measure::of(&engine, reading.units).structure(), shape(&engine, reading.units).0)
        };
        // Graphemes, adjacent consonants, split digraphs.
        assert_eq!(of("cat"), ((3, 0, 0), "CVC".into()));
        assert_eq!(of("night"), ((3, 0, 0), "CVC".into()));
        assert_eq!(of("stop"), ((4, 1, 0), "CCVC".into()));
        assert_eq!(of("strap"), ((5, 2, 0), "CCCVC".into()));
        assert_eq!(of("cake"), ((3, 0, 1), "CVC".into()));
        assert_eq!(of("rabbit"), ((5, 0, 0), "CVCVC".into()));
        assert_eq!(of("ask"), ((3, 1, 0), "VCC".into()));
    }

    #[test]
    fn means_lie_apart_by_their_furthest() {
        let item = |graphemes, lessons_since| Measure { graphemes, lessons_since, ..Measure::default() };
        // 3 and 4: 3.5; 3 and 3: 3. Since 2 and 30, of which 20 count: 11; 6 and 8: 7.
        let forms = [Means::of(&[item(3, 2), item(4, 30)], 20), Means::of(&[item(3, 6), item(3, 8)], 20)];
        assert_eq!((forms[0].graphemes, forms[0].lessons_since), (3.5, 11.0));
        let apart = Means::apart(&forms);
        assert_eq!((apart.graphemes, apart.lessons_since, apart.rarity), (0.5, 4.0, 0.0));
        assert_eq!(Means::apart(&[]), Means::default());
    }
}
